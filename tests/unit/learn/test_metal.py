"""Three geometries on bare metal: more is sent than is shown, and how far it goes is asked."""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.learn import About, Line, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity
from tests.unit.learn.test_cli import shown, tape
from tests.unit.learn.test_person import Bench, lesson

REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS)
SHOWN = ("398.1", "301.2", "45.0")
BESIDE = (("512.3", "121.0"), ("444.0", "110.2"), ("40.1", "71.3"))
FORMS = ("20 {a} 60 {v} 85 {b} GU\r\n", "20 {a} GU\r\n60 {v} GU\r\n85 {b} GU\r\n")


def sent(form: str = FORMS[0]) -> list[bytes]:
    rows = zip(SHOWN, BESIDE, strict=True)
    return [form.format(v=v, a=a, b=b).encode() for v, (a, b) in rows]


def presses(form: str = FORMS[0]) -> list[Press]:
    return [Press(data, Decimal(v)) for data, v in zip(sent(form), SHOWN, strict=True)]


@pytest.mark.parametrize("form", [*FORMS, FORMS[0].replace("GU", "GU;")])
def test_what_other_geometries_sent_is_read_though_it_is_more_than_was_shown(form: str) -> None:
    found = learn(presses(form), GLOSS, REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    here = readings(found.family, found.profile, sent(form), REGISTRY)
    assert [one.value for one in here[0]] == [Decimal(v) for v in ("512.3", "398.1", "121.0")]
    assert found.tell_above == Decimal("512.4")
    assert any("a number above 512.3: such presses are noise" in words for words in found.unseen)


def test_values_with_a_decimal_comma_end_no_earlier() -> None:
    commas = [replace(one, data=one.data.replace(b".", b",")) for one in presses()]
    assert learn(commas, GLOSS, REGISTRY).tell_above == Decimal("512.4")


def test_a_display_that_showed_more_than_coatings_have_is_asked_how_far_it_goes() -> None:
    metal = [Press(f"{v} GU\r\n".encode(), Decimal(v)) for v in SHOWN]
    assert learn(metal, replace(GLOSS, channel="20"), REGISTRY).tell_above == Decimal("398.2")
    coated = [Press(f"{v} GU\r\n".encode(), Decimal(v)) for v in ("98.1", "30.2", "4.0")]
    assert learn(coated, replace(GLOSS, channel="20"), REGISTRY).tell_above is None


@pytest.mark.parametrize(
    "written",
    [
        lambda v: struct.pack(">f", float(v)),
        lambda v: int(v * 10).to_bytes(2, "big"),
        lambda v: int(v * 10).to_bytes(4, "little"),
        lambda v: bytes.fromhex(f"{int(v * 10):06d}"),
        lambda v: bytes(map(int, f"{int(v * 10):05d}")),
    ],
)
def test_so_is_one_whose_numbers_are_sent_in_frames(written: Callable[[Decimal], bytes]) -> None:
    def framed(*values: str) -> list[Press]:
        return [Press(b"\xa5\x5a" + written(Decimal(v)) + b"\x03", Decimal(v)) for v in values]

    about = replace(GLOSS, channel="20")
    made, larger, more = framed(*SHOWN, "77.7"), framed("1201.0"), framed("1398.1")
    found = learn(made, about, REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    assert found.tell_above == Decimal("398.2")
    assert any("a number above 398.1: such presses are noise" in words for words in found.unseen)
    far = learn([*made, *larger], replace(about, most=Decimal(2000)), REGISTRY)
    assert far.tell_above is None
    for one, values in ((found, []), (far, [Decimal("1398.1")])):
        (here,) = readings(one.family, one.profile, [more[0].data], REGISTRY)
        assert [reading.value for reading in here] == values


def test_a_largest_number_below_one_that_was_sent_is_refused_by_its_name() -> None:
    found = learn(presses(), replace(GLOSS, most=Decimal(400)), REGISTRY)
    assert (found.outcome, found.profile) == (Outcome.NONE, "")
    assert found.against is not None
    assert "--most 400" in found.against.said
    assert found.against.sent == "512.3 was sent for a geometry"


def test_the_command_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = str(tape(tmp_path / "t", sent()))
    assert run(["learn", "--tape", path, *shown(*SHOWN), "--most", "400"]) != 0
    said = " ".join(capsys.readouterr().err.split())
    assert "400 is the largest number of its display" in said
    assert "512.3 was sent for a geometry" in said


def test_who_is_asked_how_far_it_goes_names_no_less_than_was_sent() -> None:
    bench = Bench(sent(), [*SHOWN, "400", "2000"], Line(9600))
    found, about = lesson(bench, Given(line=Line(9600))).of_port(bench.open, bench.clock, [], 60)
    assert (found.outcome, about.most) == (Outcome.SURE, Decimal(2000))
    assert "Numbers from 512.4 on would be noise" in bench.asked[3]
    assert "got 400, and 512.3 came of a press" in bench.told


def test_a_further_press_that_sends_more_than_was_answered_asks_again() -> None:
    data = [line.replace(b" GU", b" GU,0%d" % n) for n, line in enumerate(sent(), 7)]
    data.append(b"20 1210.5 60 640.0 85 130.0 GU,10\r\n")
    answers = [*SHOWN, "700", "y", "640.0", "2000"]
    bench = Bench(data, answers, Line(9600))
    found, about = lesson(bench, Given(line=Line(9600))).of_port(bench.open, bench.clock, [], 60)
    assert (found.outcome, about.most) == (Outcome.SURE, Decimal(2000))
    (words,) = [text for text in bench.told if text.startswith("that cannot be: 700")]
    assert "1210.5 was sent for a geometry" in words
