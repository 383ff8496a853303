"""Two numbers with a point or a comma between them are not one whose digits may be any."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
WHOLE = ("77", "41", "12")
TENTHS = ("77.1", "41.0", "12.5")


def line(form: str, count: int, shown: str, beside: str = "") -> bytes:
    return f"{form.format(n=count, v=shown, b=beside)}\r\n".encode("latin-1")


def taught(
    form: str, shown: Sequence[str] = WHOLE, channel: str | None = "20",
    beside: Sequence[str] = ("", "", ""), counts: Sequence[int] = (1, 2, 3),
) -> Finding:  # fmt: skip
    made = [
        Press(line(form, n, v if "," not in form else v.replace(".", ","), b), Decimal(v))
        for n, v, b in zip(counts, shown, beside, strict=True)
    ]
    # Where presses are of several geometries nobody says that all were of one.
    settled = 0 if channel is None else 9
    return learn(made, About(Quantity.GLOSS, channel=channel, settled=settled), REGISTRY)


def read(found: Finding, data: bytes) -> list[tuple[str, str]]:
    (here,) = readings(found.family, found.profile, [data], REGISTRY)
    return [(reading.channel, str(reading.value)) for reading in here]


@pytest.mark.parametrize("channel", ["20", None])
@pytest.mark.parametrize("form", ["{n:04d},20deg {v} GU", "{n:04d},20\xb0{v}GU"])
def test_a_geometry_behind_a_count_and_a_comma_is_no_decimals(
    form: str, channel: str | None
) -> None:
    found = taught(form, channel=channel)
    assert found.outcome is Outcome.SURE, found.believed
    assert read(found, line(form, 4, "33")) == [("20", "33")]
    for other in ("60", "80", "85"):
        assert read(found, line(form.replace("20", other), 5, "94")) == []


@pytest.mark.parametrize(
    ("form", "shown"),
    [("{n:04d},20\xb0 {v}", TENTHS), ("{n}.20\xb0 {v}", TENTHS), ("{n}.20\xb0 {v}", WHOLE)],
)
def test_nor_where_the_number_has_decimals_itself(form: str, shown: Sequence[str]) -> None:
    found = taught(form, shown, channel=None)
    assert found.outcome is Outcome.SURE, found.believed
    later = "94" if shown is WHOLE else "94,1" if "," in form else "94.1"
    assert read(found, line(form, 4, later)) == [("20", later.replace(",", "."))]
    assert read(found, line(form.replace("20", "60"), 5, later)) == []


@pytest.mark.parametrize("counts", [(1, 2, 3), (1, 2, 4), (9, 2, 5)])
@pytest.mark.parametrize(("status", "other"), [("00", "10"), ("05", "95"), ("10", "70")])
def test_a_status_that_stood_still_behind_a_number_and_a_comma_is_held(
    status: str, other: str, counts: Sequence[int]
) -> None:
    form = "{n:04d},{b};{v};GU"
    found = taught(form, beside=(status,) * 3, counts=counts)
    assert found.outcome is Outcome.SURE, found.believed
    assert read(found, line(form, 6, "33", status)) == [("20", "33")]
    assert read(found, line(form, 7, "94", other)) == []


@pytest.mark.parametrize("form", ["{n:04d},{b} {v} GU", "{n:04d}.{b} {v} GU"])
@pytest.mark.parametrize("seen", [("10", "10", "11"), ("1", "1", "2")])
def test_of_a_status_behind_a_count_only_what_was_seen_is_read(
    form: str, seen: Sequence[str]
) -> None:
    shown = ("77.1", "41.0", "12.5") if "." in form else WHOLE
    found = taught(form, shown, beside=seen)
    assert found.outcome is Outcome.SURE, found.believed
    later = "33.4" if "." in form else "33"
    assert read(found, line(form, 4, later, seen[2])) == [("20", later)]
    for other in ("12", "71", "3"):
        assert read(found, line(form, 5, later, other)) == []


def test_nor_do_decimals_of_the_other_sign_free_a_status() -> None:
    form = "{n:04d}.{b} {v}, GU"
    found = taught(form, TENTHS, beside=("10", "10", "11"))
    assert read(found, line(form, 4, "33,4", "11")) == [("20", "33.4")]
    assert read(found, line(form, 5, "33,4", "12")) == []


@pytest.mark.parametrize("beside", [("20", "20", "20"), ("10", "10", "11")])
@pytest.mark.parametrize("sign", [",", "."])
def test_so_it_is_in_a_line_beside_that_of_the_number(beside: Sequence[str], sign: str) -> None:
    form = f"{{n:04d}}{sign}{{b}}\r\n{{v}} GU"
    found = taught(form, beside=beside)
    assert found.outcome is Outcome.SURE, found.believed
    assert read(found, line(form, 4, "33", beside[2])) == [("20", "33")]
    assert read(found, line(form, 5, "94", "60")) == []


@pytest.mark.parametrize("counts", [(1, 2, 3), (1, 2, 4)])
def test_geometries_that_change_behind_a_count_are_each_of_their_own(
    counts: Sequence[int],
) -> None:
    form = "{n:04d},{b} {v} GU"
    found = taught(form, channel=None, beside=("20", "60", "85"), counts=counts)
    assert found.outcome is Outcome.SURE, found.believed
    assert read(found, line(form, 5, "94", "60")) == [("60", "94")]
    assert read(found, line(form, 6, "94", "12")) == []


def pairs(form: str) -> list[Press]:
    shown = ((77, 94), (41, 66), (12, 35))
    return [
        Press(f"{form.format(n, v, other)}\r\n".encode("latin-1"), Decimal(v))
        for n, (v, other) in enumerate(shown, 1)
    ]


@pytest.mark.parametrize("said", [None, "20"])
@pytest.mark.parametrize(
    "form",
    [
        "{:04d},20\xb0 {} GU 60\xb0 {} GU",
        "{:04d},20deg {} GU 60deg {} GU",
        "{:04d},20/{}GU  60/{}GU",
    ],
)
def test_behind_a_count_and_a_comma_each_of_two_geometries_has_its_value(
    form: str, said: str | None
) -> None:
    found = learn(pairs(form), About(Quantity.GLOSS, channel=said), REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    later = f"{form.format(4, 33, 50)}\r\n".encode("latin-1")
    assert read(found, later) == [("20", "33"), ("60", "50")]


def test_the_geometry_before_a_later_value_is_not_that_of_the_number() -> None:
    def sent(value: int, other: int) -> bytes:
        return f"{value} GU 60deg {other} GU\r\n".encode()

    made = [Press(sent(v, o), Decimal(v)) for v, o in ((77, 94), (41, 66), (12, 35))]
    found = learn(made, About(Quantity.GLOSS), REGISTRY)
    assert (found.outcome, found.missing) == (Outcome.UNSAID, "geometry")
    found = learn(made, About(Quantity.GLOSS, channel="20", settled=9), REGISTRY)
    assert read(found, sent(33, 50)) == [("20", "33")]


@pytest.mark.parametrize(
    "form",
    [
        "20,{n:04d} {v} GU",
        "20.{n:04d} {v} GU",
        "20,{n:04d},10 {v} GU",
        "{v} GU 20,{n:04d}",
        "20,{n} {v} GU",
        "20,{n:04d}\r\n{v} GU",
    ],
)
def test_a_geometry_before_a_count_is_held_as_well(form: str) -> None:
    found = taught(form)
    assert found.outcome is Outcome.SURE, found.believed
    assert read(found, line(form, 4, "33")) == [("20", "33")]
    assert read(found, line(form.replace("20", "60"), 5, "94")) == []


@pytest.mark.parametrize("status", ["20", "10"])
def test_and_where_the_count_went_on_between_presses(status: str) -> None:
    form = f"{status},{{n:04d}} {{v}} GU"
    found = taught(form, counts=(1, 3, 7))
    assert found.outcome is Outcome.SURE, found.believed
    assert read(found, line(form, 8, "33")) == [("20", "33")]
    assert read(found, line(form.replace(status, "60"), 9, "94")) == []


@pytest.mark.parametrize("form", ["312,{n} {v} GU", "312.{n} {v} GU", "{v} GU 1.{n}"])
def test_three_numbers_that_may_be_one_or_two_are_asked_about(form: str) -> None:
    found = taught(form)
    assert found.outcome is Outcome.MORE
    assert "may be one that moves or two" in found.believed[0]
    shown = ("77", "41", "12", "55")
    made = [Press(line(form, n, v), Decimal(v)) for n, v in enumerate(shown, 1)]
    assert (
        learn(made, About(Quantity.GLOSS, channel="20", settled=9), REGISTRY).outcome
        is Outcome.SURE
    )


@pytest.mark.parametrize("form", ["T=21.{n} {v} GU", "{v} GU 21.{n}C", "{v} GU 3.{n}V"])
@pytest.mark.parametrize("presses", [3, 4])
def test_a_label_or_a_unit_says_that_it_is_one_that_moves(form: str, presses: int) -> None:
    shown = ("77", "41", "12", "55")[:presses]
    made = [Press(line(form, n, v), Decimal(v)) for n, v in enumerate(shown, 1)]
    found = learn(made, About(Quantity.GLOSS, channel="20", settled=9), REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    later = line(form.replace("21.", "24.").replace("3.", "4."), 7, "33")
    assert read(found, later) == [("20", "33")]


@pytest.mark.parametrize("sign", [",", "."])
def test_a_status_is_held_before_a_count_that_four_presses_prove(sign: str) -> None:
    form = f"{{b}}{sign}{{n}} {{v}} GU"
    shown = ("77", "41", "12", "55")
    made = [Press(line(form, n, v, "10"), Decimal(v)) for n, v in enumerate(shown, 1)]
    found = learn(made, About(Quantity.GLOSS, channel="20", settled=9), REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    assert read(found, line(form, 5, "33", "10")) == [("20", "33")]
    assert read(found, line(form, 6, "94", "70")) == []


def test_no_temperature_is_near_a_geometry_but_the_least() -> None:
    form = "{b} {v} GU"
    found = taught(form, TENTHS, channel="60", beside=("60.11", "60.11", "60.20"))
    assert read(found, line(form, 1, "33.4", "60.20")) == [("60", "33.4")]
    assert read(found, line(form, 1, "94.4", "85.11")) == []
    assert read(found, line(form, 1, "94.4", "60.70")) == []


def test_a_temperature_with_decimals_may_still_be_any() -> None:
    form = "{b} {v} GU"
    found = taught(form, TENTHS, beside=("21.32", "22.51", "22.47"))
    assert read(found, line(form, 1, "33.4", "24.18")) == [("20", "33.4")]


@pytest.mark.parametrize("form", ["{b};{v};GU", "{v} GU {b}", "S {b} {v}", "{b}\r\n{v} GU"])
@pytest.mark.parametrize("sign", [",", "."])
@pytest.mark.parametrize("shown", [WHOLE, TENTHS])
@pytest.mark.parametrize(
    ("seen", "others"),
    [
        (("1,05", "1,11", "1,05"), ("2,05", "1,12", "9,11")),
        (("1,5", "1,1", "1,1"), ("2,1", "1,2", "9,5")),
        (("10,053", "10,053", "10,111"), ("11,053", "10,112")),
    ],
)
def test_a_first_number_that_stood_still_before_one_of_few_values_is_held_and_told(
    form: str, sign: str, shown: Sequence[str], seen: Sequence[str], others: Sequence[str]
) -> None:
    beside = [text.replace(",", sign) for text in seen]
    found = taught(form, shown, beside=beside)
    if found.outcome is not Outcome.SURE:
        assert found.outcome is Outcome.MORE, found.believed
        return
    later = "33" if shown is WHOLE else "33.4"
    assert read(found, line(form, 4, later, beside[0])) == [("20", later)]
    for other in others:
        assert read(found, line(form, 4, later, other.replace(",", sign))) == []
    whole = beside[0].partition(sign)[0]
    assert any(f"same at every press: {whole!r}" in one for one in found.unseen)


TEMPERATURES = ("21.4", "21.5", "21.4")


@pytest.mark.parametrize("form", ["{b};{v};GU", "{v} GU {b}", "{v} GU\r\n{b}"])
def test_such_a_number_may_be_any_where_a_person_says_that_it_moves(form: str) -> None:
    made = [
        Press(line(form, 0, v, b), Decimal(v)) for v, b in zip(TENTHS, TEMPERATURES, strict=True)
    ]
    found = learn(made, About(Quantity.GLOSS, channel="20", settled=9), REGISTRY)
    assert found.still == ("21",)
    assert read(found, line(form, 0, "33.4", "22.1")) == []
    about = About(Quantity.GLOSS, channel="20", settled=9, moves=frozenset(found.still))
    for more in ([], [Press(line(form, 0, "55.5", "22.0"), Decimal("55.5"))]):
        found = learn([*made, *more], about, REGISTRY)
        assert found.outcome is Outcome.SURE, found.believed
        assert read(found, line(form, 0, "33.4", "24.7")) == [("20", "33.4")]
        assert read(found, line(form, 0, "33.4", "24.75")) == []


@pytest.mark.parametrize("form", ["{b} C;{v};GU", "{b} degC {v} GU", "{b}\xb0C;{v};GU", "{b}V {v}"])
def test_a_unit_behind_it_says_that_it_is_one_number(form: str) -> None:
    found = taught(form, TENTHS, beside=TEMPERATURES)
    assert found.outcome is Outcome.SURE, found.believed
    assert read(found, line(form, 0, "33.4", "24.7")) == [("20", "33.4")]


def test_a_letter_apart_from_two_decimals_is_no_unit_of_a_temperature() -> None:
    found = taught("{b} C;{v};GU", TENTHS, beside=("1.05", "1.11", "1.05"))
    assert read(found, line("{b} C;{v};GU", 0, "33.4", "1.11")) == [("20", "33.4")]
    assert read(found, line("{b} C;{v};GU", 0, "33.4", "2.11")) == []


def test_a_press_at_which_it_moved_on_says_so_as_well() -> None:
    shown, beside = (*TENTHS, "55.5"), ("3.98", "3.99", "3.98", "4.01")
    made = [
        Press(line("{b};{v};GU", 0, v, b), Decimal(v)) for v, b in zip(shown, beside, strict=True)
    ]
    found = learn(made, About(Quantity.GLOSS, channel="20", settled=9), REGISTRY)
    assert read(found, line("{b};{v};GU", 0, "33.4", "4.17")) == [("20", "33.4")]


LEAPS = ("1,86", "6,99", "1,86", "1,99", "6,86", "6,99")


@pytest.mark.parametrize("form", ["{b};{v};GU", "{v} GU {b}"])
@pytest.mark.parametrize("sign", [",", "."])
def test_of_one_that_leaps_and_says_again_what_it_said_more_presses_tell(
    form: str, sign: str
) -> None:
    shown = ("77", "41", "12", "55", "31", "64")
    texts = [text.replace(",", sign) for text in LEAPS]
    made = [Press(line(form, 0, v, b), Decimal(v)) for v, b in zip(shown, texts, strict=True)]
    about = About(Quantity.GLOSS, channel="20", settled=9)
    found = learn(made[:4], about, REGISTRY)
    assert found.outcome is Outcome.MORE
    assert "may be one that moves or two of few values" in found.believed[0]
    found = learn(made, about, REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    assert read(found, line(form, 0, "33", texts[3])) == [("20", "33")]
    for other in ("3,86", "1,77"):
        assert read(found, line(form, 0, "33", other.replace(",", sign))) == []


def test_and_where_it_says_other_things_then_it_is_one_number() -> None:
    shown = ("77.1", "41.0", "12.5", "55.5", "31.2")
    texts = ("1.86", "6.99", "3.86", "2.13", "9.41")
    form = "{b};{v};GU"
    made = [Press(line(form, 0, v, b), Decimal(v)) for v, b in zip(shown, texts, strict=True)]
    about = About(Quantity.GLOSS, channel="20", settled=9)
    assert learn(made[:3], about, REGISTRY).outcome is Outcome.MORE
    found = learn(made, about, REGISTRY)
    assert read(found, line(form, 0, "33.4", "7.77")) == [("20", "33.4")]


def test_a_last_digit_that_stood_still_is_held_whatever_moves_before_it() -> None:
    shown, beside = (*TENTHS, "55.5"), ("31.10", "31.20", "31.30", "31.40")
    form = "{v},{b}"
    made = [Press(line(form, 0, v, b), Decimal(v)) for v, b in zip(shown, beside, strict=True)]
    about = About(Quantity.GLOSS, channel="20", unit="gloss_unit", moves=frozenset(["31"]))
    found = learn(made, about, REGISTRY)
    assert read(found, line(form, 0, "33.4", "32.70")) == [("20", "33.4")]
    assert read(found, line(form, 0, "33.4", "31.57")) == []
