"""A geometry is never decided from a number that only looks like one."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

SHOWN = ("91.4", "45.2", "12.0")
REGISTRY = Registry()


def taught(forms: Sequence[str] | str, channel: str | None = None) -> Finding:
    lines = [forms] * 3 if isinstance(forms, str) else forms
    made = [
        Press(f"{line.format(value)}\r\n".encode("latin-1"), Decimal(value))
        for line, value in zip(lines, SHOWN, strict=True)
    ]
    return learn(made, About(Quantity.GLOSS, channel=channel), REGISTRY)


@pytest.mark.parametrize(
    ("form", "likely"),
    [
        (("2026-11-20 14:01:10 {0}", "2026-11-20 14:02:33 {0}", "2026-11-20 14:02:51 {0}"), ""),
        (("20:01:10 {0} GU", "20:02:33 {0} GU", "20:02:51 {0} GU"), ""),
        ("BAT 85 V {0}", "85"),
        ("TEMP 20 V {0}", "20"),
        ("R,60,{0},GU", "60"),
        ("{0} GU 60 %", "60"),
        ("20 85 {0}", ""),
        ("#GL60={0} GU;OK", "60"),
        ("M60A {0}", "60"),
        ("GL60 20 {0}", ""),
        (("BAT 85 V {0}", "BAT 85 V {0}", "BAT 60 V {0}"), ""),
    ],
)
def test_a_number_that_may_be_anything_is_proposed_and_not_decided(
    form: Sequence[str] | str, likely: str
) -> None:
    found = taught(form)
    assert (found.outcome, found.missing) == (Outcome.UNSAID, "geometry")
    assert found.likely == likely


@pytest.mark.parametrize(
    "form",
    [
        "60\xb0 {0} GU",
        "60\xc2\xb0 {0} GU",
        "60deg {0}",
        "GEO60 {0}",
        "60 deg {0}",
        "{0} GU 60 degrees",
        "GEO=60 {0}",
        "BAT 85 ANGLE: 60 V {0}",
    ],
)
def test_a_word_or_a_sign_beside_it_decides(form: str) -> None:
    found = taught(form)
    assert found.outcome is Outcome.SURE, found.believed
    assert "[geometry]\ndefault = 60\n" in found.profile
    assert any("as every line says" in words for words in found.believed)


def test_what_a_person_says_is_taken() -> None:
    found = taught("TEMP 20 V {0}", "60")
    assert "[geometry]\ndefault = 60\n" in found.profile
    assert any("as you said" in words for words in found.believed)


def test_one_that_changes_right_before_the_number_is_one_of_each_press() -> None:
    found = taught(("60 {0}", "20 {0}", "60 {0}"))
    assert found.outcome is Outcome.SURE
    assert "(?P<geometry>20|60)" in found.profile


@pytest.mark.parametrize("form", ["20 {} 60 {} 85 {}", "20 {} 60 {} 85 {} GU", "20,{},60,{},85,{}"])
@pytest.mark.parametrize("shown_at", range(3))
def test_of_a_line_with_spaces_the_other_geometries_are_learned_too(
    form: str, shown_at: int
) -> None:
    rows = [("73.1", "91.4", "85.7"), ("36.2", "45.2", "62.6"), ("9.6", "12.0", "46.0")]
    lines = [f"{form.format(*row)}\r\n".encode() for row in rows]
    made = [Press(b, Decimal(row[shown_at])) for b, row in zip(lines, rows, strict=True)]
    found = learn(made, About(Quantity.GLOSS), REGISTRY)
    assert found.outcome is Outcome.SURE
    (here,) = readings(found.family, found.profile, [lines[0]], REGISTRY)
    read = [(reading.channel, str(reading.value)) for reading in here]
    assert read == list(zip(("20", "60", "85"), rows[0], strict=True))
    glued = lines[0].replace(b"20 ", b"20").replace(b"20,", b"20")
    assert readings(found.family, found.profile, [glued], REGISTRY) == [[]]


ROWS = (("91.4", "92.1", "95.0"), ("45.2", "47.7", "50.3"), ("12.0", "20.3", "41.1"))


@pytest.mark.parametrize(
    ("form", "unit"),
    [
        ("20: {} 60: {} 85: {} GU", True),
        ("20,{},60,{},85,{},GU", True),
        ("20,{}GU,60,{}GU,85,{}GU", True),
        ("GU 20: {} 60: {} 85: {}", False),
    ],
)
@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_unit_behind_any_of_several_geometries_is_theirs(
    form: str, place: int, *, unit: bool
) -> None:
    sent = [Press(f"{form.format(*row)}\r\n".encode(), Decimal(row[place])) for row in ROWS]
    found = learn(sent, About(Quantity.GLOSS), Registry())
    assert found.outcome is Outcome.SURE
    told = " ".join(found.believed)
    assert "no unit that is known stands in the bytes" not in told
    assert ("the unit stands in the line: GU" in told) == unit
    # They are geometries, which nobody takes for a temperature.
    assert not any("temperature" in words for words in found.unseen)


def test_spaces_that_fill_up_each_of_several_values_may_be_fewer() -> None:
    form = "20 {:>5} 60 {:>5} 85 {:>5}\r\n"
    sent = [Press(form.format(*row).encode(), Decimal(row[0])) for row in ROWS]
    found = learn(sent, About(Quantity.GLOSS), Registry())
    other = form.format("3.3", "104.4", "9.9").encode()
    (here,) = readings(found.family, found.profile, [other], Registry())
    assert [str(reading.value) for reading in here] == ["3.3", "104.4", "9.9"]
    # One that lost a digit has not its length.
    (here,) = readings(found.family, found.profile, [other.replace(b"104", b"10")], Registry())
    assert here == []


PAIRS = [("91.4", "45.1"), ("45.2", "45.3"), ("12.0", "45.0")]


@pytest.mark.parametrize(
    "form",
    [
        "60 {} GU 20 {}",
        "60 {} 20 {}",
        "60,{},20,{},GU",
        "20 {1} 60 {0} GU",
        "60 {} GU 20 {} %",
        "60 {} GU 20 {} GU 85 3.7 V",
        "60 {} 20 {} 85 3.7",
        "60 {}\r\n20 {}",
    ],
)
def test_a_value_that_nobody_was_shown_is_no_other_geometry_unasked(form: str) -> None:
    lines = [f"{form.format(*row)}\r\n".encode() for row in PAIRS]
    made = [Press(b, Decimal(row[0])) for b, row in zip(lines, PAIRS, strict=True)]
    found = learn(made, About(Quantity.GLOSS), REGISTRY)
    assert (found.outcome, found.missing, found.likely) == (Outcome.UNSAID, "geometry", "60")
    found = learn(made, About(Quantity.GLOSS, channel="60"), REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    (here,) = readings(found.family, found.profile, [lines[1]], REGISTRY)
    assert [(reading.channel, str(reading.value)) for reading in here] == [("60", "45.2")]
    assert any("20 45.1" in words for words in found.believed)


@pytest.mark.parametrize(
    "form",
    [
        "60 {} GU 20 {} GU",
        "60,{},GU,20,{},GU",
        "60\xb0 {} 20\xb0 {}",
        "60 {} GU\r\n20 {} GU",
        "60\xb0 {}\r\n20\xb0 {}",
    ],
)
def test_two_geometries_are_learned_where_a_unit_or_a_sign_beside_each_says_so(form: str) -> None:
    lines = [f"{form.format(*row)}\r\n".encode("latin-1") for row in PAIRS]
    made = [Press(b, Decimal(row[0])) for b, row in zip(lines, PAIRS, strict=True)]
    found = learn(made, About(Quantity.GLOSS), REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    (here,) = readings(found.family, found.profile, [lines[1]], REGISTRY)
    read = [(reading.channel, str(reading.value)) for reading in here]
    assert read == [("60", "45.2"), ("20", "45.3")]


WHOLES = (("19", "73", "89"), ("5", "61", "92"), ("100", "7", "70"))
TWO_DIGITS = (("19", "73", "89"), ("15", "61", "92"), ("33", "10", "70"))


def taught_of_several(
    form: str, rows: Sequence[Sequence[str]], which: int, channel: str | None
) -> Finding:
    sent = [f"{form.format(*row, n=count)}\r\n".encode() for count, row in enumerate(rows, 1)]
    made = [Press(data, Decimal(row[which])) for data, row in zip(sent, rows, strict=True)]
    return learn(made, About(Quantity.GLOSS, channel=channel), REGISTRY)


@pytest.mark.parametrize("is_said", [True, False])
@pytest.mark.parametrize("which", [0, 1])
@pytest.mark.parametrize("rows", [WHOLES, TWO_DIGITS])
@pytest.mark.parametrize(
    "form",
    [
        "20/{}GU  60/{}GU  85/{}GU",
        "20/{:>3}GU  60/{:>3}GU  85/{:>3}GU",
        "20={}GU 60={}GU",
        "20deg;{};GU;60deg;{};GU;85deg;{};GU",
        "20deg {} 60deg {}",
        "GEO20:{},GEO60:{}",
    ],
)
def test_a_unit_or_a_word_that_touches_says_which_whole_numbers_are_values(
    form: str, rows: Sequence[Sequence[str]], which: int, is_said: bool
) -> None:
    found = taught_of_several(form, rows, which, ("20", "60")[which] if is_said else None)
    assert found.outcome is Outcome.SURE, found.believed
    for row in (("7", "108", "44"), ("104", "6", "120")):
        line = f"{form.format(*row, n=9)}\r\n".encode()
        (here,) = readings(found.family, found.profile, [line], REGISTRY)
        wanted = list(zip(("20", "60", "85"), row, strict=True))[: form.count("{")]
        assert [(one.channel, str(one.value)) for one in here] == wanted


@pytest.mark.parametrize("rows", [WHOLES, TWO_DIGITS])
def test_one_that_is_left_out_may_have_fewer_digits_or_more(rows: Sequence[Sequence[str]]) -> None:
    form = "G20 {}GU G60 {}GU G85 {}GU"
    found = taught_of_several(form, rows, 0, "20")
    assert found.outcome is Outcome.SURE, found.believed
    line = f"{form.format('44', '108', '6')}\r\n".encode()
    (here,) = readings(found.family, found.profile, [line], REGISTRY)
    assert [(one.channel, str(one.value)) for one in here] == [("20", "44")]


@pytest.mark.parametrize("unit", ["N", "X"])
def test_a_letter_that_touches_digits_may_be_anything_and_they_are_held(unit: str) -> None:
    form = f"{{n}}{unit};{{}};GU"
    rows = (("19",), ("33",), ("7",))
    sent = [f"{form.format(*r, n=n)}\r\n".encode() for r, n in zip(rows, (10, 10, 11), strict=True)]
    made = [Press(data, Decimal(row[0])) for data, row in zip(sent, rows, strict=True)]
    assert learn(made, About(Quantity.GLOSS, channel="20"), REGISTRY).missing == "setting"
    found = learn(made, About(Quantity.GLOSS, channel="20", settled=3), REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    line = f"{form.format('44', n=12)}\r\n".encode()
    assert readings(found.family, found.profile, [line], REGISTRY) == [[]]


MIXED = (
    ("20 97.3 60 66.4 85 83.3 GU", "66.4"),
    ("20 17.3 60 120 85 93.3 GU", "120"),
    ("20 104 60 45.1 85 61.0 GU", "45.1"),
)


def test_geometries_of_which_large_numbers_have_no_decimals_are_read() -> None:
    made = [Press(f"{line}\r\n".encode(), Decimal(shown)) for line, shown in MIXED]
    found = learn(made, About(Quantity.GLOSS), Registry())
    assert found.outcome is Outcome.SURE, found.believed
    data = [
        b"20 131 60 99.9 85 7.1 GU\r\n",
        b"20 131 60 99.95 85 7.1 GU\r\n",
        b"20 131 60 85 7.1 GU\r\n",
    ]
    given = readings(found.family, found.profile, data, Registry())
    assert [[(r.channel, str(r.value)) for r in here] for here in given] == [
        [("20", "131"), ("60", "99.9"), ("85", "7.1")], [], [],
    ]  # fmt: skip


def test_a_number_beside_that_has_no_decimals_at_some_presses_keeps_nobody() -> None:
    texts = [("12.41 N T 23.5", "12.41"), ("3.05 N T 24", "3.05"), ("7.66 N T 24.5", "7.66")]
    made = [Press(f"{line}\r\n".encode(), Decimal(shown)) for line, shown in texts]
    found = learn(made, About(Quantity.FORCE), Registry())
    assert found.outcome is Outcome.SURE, found.believed
    data = [b"5.10 N T 22\r\n", b"5.10 N T 22.5\r\n", b"5.1 N T 22.5\r\n", b"5.10 N U 22\r\n"]
    given = readings(found.family, found.profile, data, Registry())
    assert [[str(r.value) for r in here] for here in given] == [["5.10"], ["5.10"], [], []]
