"""A number that is the geometry or the band of a lesson never moves: another one is another one."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Line, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity
from tests.unit.learn.test_person import Bench, lesson

REGISTRY = Registry()
SHOWN = ("91.4", "45.2", "12.0")
GLOSS = About(Quantity.GLOSS, channel="60")
BAND = About(Quantity.TRANSMITTANCE, channel="365")
RANGE = About(Quantity.TRANSMITTANCE, channel="315-400")


def taught(form: str, label: str, about: About, *moves: str) -> Finding:
    presses = [Press(f"{form.format(v=v, b=label)}\r\n".encode(), Decimal(v)) for v in SHOWN]
    return learn(presses, replace(about, moves=frozenset(moves)), REGISTRY)


def read(found: Finding, *lines: str) -> list[str | None]:
    assert found.outcome is Outcome.SURE, found.believed
    sent = [f"{line}\r\n".encode() for line in lines]
    here = readings(found.family, found.profile, sent, REGISTRY)
    return [str(one[0].value) if one else None for one in here]


# As each stands at the setting of the lesson, and at another one.
LABELS = (
    (GLOSS, "G60", "G20"), (GLOSS, "A060", "A085"), (GLOSS, "60D", "20D"), (GLOSS, "60", "20"),
    (GLOSS, "M1G60", "M1G20"), (GLOSS, "G60.0", "G20.0"), (GLOSS, "#60", "#85"),
    (BAND, "CH365", "CH940"), (BAND, "F365", "F940"), (BAND, "T365", "T940"),
    (BAND, "T=365", "T=940"), (RANGE, "UV315", "UV280"), (RANGE, "L315 H400", "L380 H780"),
)  # fmt: skip
FORMS = ("{b}  {v:>5}", "{b},{v:>5}", "{b} 001 {v:>5}", "{v:>5} {b}", "{b}\r\n{v:>5}")


@pytest.mark.parametrize(("about", "label", "other"), LABELS)
@pytest.mark.parametrize("form", FORMS)
def test_a_number_that_is_the_geometry_or_the_band_is_held_and_is_not_asked_about(
    form: str, about: About, label: str, other: str
) -> None:
    found = taught(form, label, about)
    lines = [form.format(v="33.0", b=b) for b in (label, other)]
    assert read(found, *lines) == ["33.0", None]
    assert not {text for text in found.still if "60" in text or "3" in text or "4" in text}


@pytest.mark.parametrize(("about", "label", "other"), LABELS)
@pytest.mark.parametrize("form", FORMS)
def test_nobody_can_say_that_it_moves(form: str, about: About, label: str, other: str) -> None:
    words = label.split(" ")
    for word in {*words, words[0].strip("#T=")}:
        refused = taught(form, label, about, word)
        assert (refused.outcome, refused.profile) == (Outcome.NONE, ""), word


def test_that_another_number_in_a_label_is_noise_is_told() -> None:
    found = taught("{b}  {v} GU", "G60", GLOSS)
    assert "another number in 'G60', which is that of the geometry" in " ".join(found.unseen)
    refused = taught("{b}  {v} GU", "G60", GLOSS, "G60")
    assert "G60 was said to move, and its number is that of the geometry" in refused.believed[0]


def test_a_person_who_named_the_geometry_is_not_asked_whether_it_moves() -> None:
    presses = [f"G60 {v:>5} GU\r\n".encode() for v in SHOWN]
    bench = Bench(presses, [*SHOWN, "60"], Line(9600))
    found, _ = lesson(bench, Given(line=Line(9600))).of_port(bench.open, bench.clock, [], 60)
    assert read(found, "G60  33.0 GU", "G20  33.0 GU") == ["33.0", None]
    assert not [question for question in bench.asked if "was the same" in question]


def test_presses_of_both_are_read_by_the_label() -> None:
    rows = (("G60", "91.4"), ("G20", "45.2"), ("G60", "12.0"))
    presses = [Press(f"{b} {v:>5} GU\r\n".encode(), Decimal(v)) for b, v in rows]
    found = learn(presses, replace(GLOSS, channel=None), REGISTRY)
    sent = [b"G20  33.0 GU\r\n", b"G60  33.0 GU\r\n", b"G85  33.0 GU\r\n"]
    here = readings(found.family, found.profile, sent, REGISTRY)
    assert [one[0].channel if one else None for one in here] == ["20", "60", None]


@pytest.mark.parametrize(
    ("label", "later", "name"),
    [("60 %", "58 %", "60 %"), ("60%", "58%", "60%"), ("RH=60", "RH=58", "60")],
)
@pytest.mark.parametrize("form", ["{b};{v} GU", "{v} GU;{b};OK", "60;{v} GU;{b}"])
def test_a_humidity_that_is_as_many_as_the_geometry_is_told_and_may_be_said_to_move(
    form: str, label: str, later: str, name: str
) -> None:
    found = taught(form, label, GLOSS)
    line = form.format(v="33.3", b=later)
    assert read(found, line) == [None]
    assert repr(name) in " ".join(found.unseen)
    if (name, form[:2]) != ("60", "60"):
        assert found.still == (name,)
        assert read(taught(form, label, GLOSS, name), line) == ["33.3"]


@pytest.mark.parametrize(
    ("label", "other"), [("CH365", "CH940"), ("T365", "T254"), ("L365X", "L340X")]
)
@pytest.mark.parametrize("form", ["{b} {v:>5} %", "{v:>5}% {b}", "{b}={v}%"])
def test_labels_of_several_bands_are_never_said_to_be_one(
    form: str, label: str, other: str
) -> None:
    rows = zip(SHOWN, (label, other, label), strict=True)
    presses = [Press(f"{form.format(v=v, b=b)}\r\n".encode(), Decimal(v)) for v, b in rows]
    for about in (BAND, replace(BAND, settled=len(presses))):
        refused = learn(presses, about, REGISTRY)
        assert (refused.outcome, refused.profile) == (Outcome.MORE, "")
        assert f"several bands, by {label!r} and {other!r}" in refused.believed[0]


@pytest.mark.parametrize(
    "lines",
    [
        # A count behind whole numbers, and a constant at the line's end that looks like geometries.
        ("60 16 19", "60 23 20", "60 12 21"),
        ("60;16;GU;B;85", "60;23;GU;B;85", "60;12;GU;B;85"),
        ("60 16 20", "60 23 20", "60 12 20"),
    ],
)
def test_a_number_like_a_geometry_may_end_the_line(lines: tuple[str, ...]) -> None:
    presses = [
        Press(f"{line}\r\n".encode(), Decimal(v))
        for line, v in zip(lines, ("16", "23", "12"), strict=True)
    ]
    found = learn(presses, GLOSS, REGISTRY)
    assert read(found, *lines) == ["16", "23", "12"]
