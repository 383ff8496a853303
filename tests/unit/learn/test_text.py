"""Meters that send text: the number, what stands about it, and what is refused."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, evident_kind, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

SHOWN = ("91.4", "45.2", "12.0")
GLOSS = About(Quantity.GLOSS, channel="60", settled=9)


def taught(form: str, shown: tuple[str, ...] = SHOWN, about: About = GLOSS) -> Finding:
    made = [
        Press(
            form.format(value, n=count, comma=value.replace(".", ",")).encode("latin-1"),
            Decimal(value),
        )
        for count, value in enumerate(shown, 1)
    ]
    return learn(made, about, Registry())


def reads(found: Finding, line: bytes) -> list[str]:
    assert found.outcome is Outcome.SURE, found.believed
    (here,) = readings("line", found.profile, [line], Registry())
    return [f"{reading.channel} {reading.value} {reading.unit}" for reading in here]


@pytest.mark.parametrize(
    ("form", "other", "wanted"),
    [
        ("{0}\r\n", b"-0.5\r\n", "60 -0.5 gloss_unit"),
        ("{0} GU\r", b"104.0 GU\r", "60 104.0 gloss_unit"),
        ("{comma:>8}GU\n", b"    -0,5GU\n", "60 -0.5 gloss_unit"),
        ("\x02{0:>6};ok\x03", b"\x02 100.1;ok\x03", "60 100.1 gloss_unit"),
        ("{n:04d}|+{0}|12:3{n}:0{n}\r\n", b"0044|-7.5|23:59:59\r\n", "60 -7.5 gloss_unit"),
        ("2026-11-25 {0}\r\n", b"2027-01-02 33.3\r\n", "60 33.3 gloss_unit"),
        ("XK-04 G={0} T=21.{n}\xb0\r\n", b"XK-04 G=99.9 T=19.0\xb0\r\n", "60 99.9 gloss_unit"),
    ],
)  # fmt: skip
def test_the_number_is_read_in_other_lines_too(form: str, other: bytes, wanted: str) -> None:
    assert reads(taught(form), other) == [wanted]


@pytest.mark.parametrize(
    ("form", "other"),
    [
        ("{0} GU OK\r\n", b"91.4 GU ER\r\n"),
        ("{0} GU\r\n", b"91.4 %\r\n"),
        ("20 {0} GU\r\n", b"60 91.4 GU\r\n"),
        ("{0} GU\r\n", b"9.14E1 GU\r\n"),
        ("{0} GU\r\n", b"91.45 GU\r\n"),
        ("{0} GU\r\n", b"--.- GU\r\n"),
    ],
)
def test_a_line_that_says_something_else_is_no_reading(form: str, other: bytes) -> None:
    assert reads(taught(form), other) == []


@pytest.mark.parametrize("field", ["7", "104", "C4", "FFFF", "EE"])
def test_a_column_of_two_digits_takes_no_code_of_letters_or_of_another_width(field: str) -> None:
    made = [
        Press(f"{other},{value} GU\r\n".encode(), Decimal(value))
        for other, value in zip((15, 83, 40), SHOWN, strict=True)
    ]
    found = learn(made, GLOSS, Registry())
    assert reads(found, f"{field},33.3 GU\r\n".encode()) == []
    assert reads(found, b"91,33.3 GU\r\n") == ["60 33.3 gloss_unit"]


@pytest.mark.parametrize(
    ("form", "pattern", "is_open"),
    [
        ("{n:04d},{0},GU\r\n", r"(?P<count>\d{4}),", False),
        ("#{n:03d} {0} GU\r\n", r"\#?#(?P<count>\d{3})", False),
        ("{n} {0}\r\n", r"(?P<count>\d{1,9})", True),
        ("A{n} {0}\r\n", r"A(?P<count>\d{1,9})", True),
        ("00{n}0 {0}\r\n", r"(?P<count>\d{3})0", False),
    ],
)
def test_a_number_that_goes_up_by_one_is_the_count(form: str, pattern: str, is_open: bool) -> None:
    found = taught(form)
    learned = tomllib.loads(found.profile)["message"][0]["pattern"]
    assert learned.startswith(pattern.removeprefix(r"\#?"))
    assert found.is_state_open == is_open
    assert not taught(form, (*SHOWN, "7.0")).is_state_open


def test_a_count_that_stands_twice_has_to_be_the_same() -> None:
    found = taught("{n};{n};{0}\r\n")
    assert [reads(found, line) for line in (b"9;9;33.3\r\n", b"9;8;33.3\r\n")] == [
        ["60 33.3 gloss_unit"], [],
    ]  # fmt: skip


def test_a_status_digit_behind_a_count_is_held() -> None:
    found = taught("00{n}0 {0}\r\n")
    assert [reads(found, f"{word} 33.3\r\n".encode()) for word in ("0040", "0041", "0049")] == [
        ["60 33.3 gloss_unit"], [], [],
    ]  # fmt: skip


def test_three_geometries_in_a_line_are_three_values() -> None:
    found = taught("20,1{n}.{n},60,{0},85,7{n}.5\r\n")
    assert reads(found, b"20,10.0,60,20.0,85,30.0\r\n") == [
        "20 10.0 gloss_unit",
        "60 20.0 gloss_unit",
        "85 30.0 gloss_unit",
    ]


@pytest.mark.parametrize("form", ["{0},{0}\r\n", "L{0} M{0}\r\n"])
def test_of_a_number_that_stands_twice_both_have_to_say_the_same(form: str) -> None:
    found = taught(form)
    other = form.format("@")
    good, bad = (other.replace("@", "33.3"), other.replace("@", "33.3", 1).replace("@", "0.3"))
    assert reads(found, good.encode()) == ["60 33.3 gloss_unit"]
    assert reads(found, bad.encode()) == []
    assert any("stands in the line twice" in words for words in found.believed)


def test_three_numbers_that_are_always_equal_are_not_decided_between() -> None:
    found = taught("{0},{0},{0}\r\n")
    assert found.outcome is Outcome.MORE
    assert len(found.left) == 3


def test_a_power_of_ten_behind_a_whole_number_is_refused_in_words() -> None:
    """Devices that keep to IEEE 488.2 (8.7.4) put a point before it."""
    made = [Press(f"{int(10 * Decimal(v))}E-01\r\n".encode(), Decimal(v)) for v in SHOWN]
    found = learn(made, GLOSS, Registry())
    assert found.outcome is Outcome.NONE
    assert any("a power of ten" in words for words in found.believed)


def test_words_that_differ_every_time_are_asked_about_and_nothing_is_learned() -> None:
    words = ["QX", "ZV", "WK"]
    made = [Press(f"{w} {v}\r\n".encode(), Decimal(v)) for w, v in zip(words, SHOWN, strict=True)]
    found = learn(made, GLOSS, Registry())
    assert found.outcome is Outcome.MORE
    assert not found.profile


@pytest.mark.parametrize(
    ("form", "kind"),
    [
        ("{0} GU\r\n", Quantity.GLOSS),
        ("{0} kgf\r\n", Quantity.FORCE),
        ("{0}%\r\n", Quantity.TRANSMITTANCE),
        ("{0}\r\n", None),
        ("{0} XY\r\n", None),
    ],
)
def test_a_unit_says_what_is_measured(form: str, kind: Quantity | None) -> None:
    made = [Press(form.format(value).encode(), Decimal(value)) for value in SHOWN]
    assert evident_kind(made) is kind


def test_a_meter_that_sends_every_line_twice_is_read_once() -> None:
    found = taught("{0} GU\r\n{0} GU\r\n")
    assert found.outcome is Outcome.SURE
    assert "repeat_window_s" in found.profile


def test_a_line_for_each_geometry_gives_a_reading_for_each() -> None:
    found = taught("{n:03d},20,1{n}.0,GU\r\n{n:03d},60,{0},GU\r\n{n:03d},85,7{n}.5,GU\r\n")
    assert reads(found, b"044,20,1.0,GU\r\n044,60,2.0,GU\r\n044,85,3.0,GU\r\n") == [
        "20 1.0 gloss_unit",
        "60 2.0 gloss_unit",
        "85 3.0 gloss_unit",
    ]


def test_presses_at_several_geometries_are_each_of_their_own() -> None:
    made = [
        Press(f"{angle} {value}\r\n".encode(), Decimal(value))
        for angle, value in zip((20, 60, 20), SHOWN, strict=True)
    ]
    found = learn(made, replace(GLOSS, channel=None, settled=0), Registry())
    assert reads(found, b"60 33.3\r\n") == ["60 33.3 gloss_unit"]
    assert reads(found, b"85 33.3\r\n") == []


def test_a_letter_further_on_in_the_line_is_no_unit() -> None:
    about = About(Quantity.FORCE)
    assert taught("{0};OK;N\r\n", about=about).missing == "unit"
    assert taught("{0};N;OK\r\n", about=about).outcome is Outcome.SURE


@pytest.mark.parametrize(
    ("sent", "shown"),
    [("1,234.5", "1234.5"), ("1.234,5", "1234.5"), ("12,345", "12345"), ("-1'234.5", "-1234.5")],
)
def test_signs_between_thousands_are_learned_or_named_and_no_number_is_doubted(
    sent: str, shown: str
) -> None:
    about = About(Quantity.FORCE, unit="newton")
    numbers = ((sent, shown), ("45.2", "45.2"), ("-312.8", "-312.8"))
    made = [Press(f"F={text:>10} N\r\n".encode(), Decimal(value)) for text, value in numbers]
    found = learn(made, about, Registry())
    if sent == "1.234,5":
        # The others have a point before their decimals: one sign would mean two things.
        assert (found.outcome, found.is_nowhere) == (Outcome.NONE, False)
        assert sent in found.believed[0]
        assert "a thousand or more" in found.next_step
    else:
        assert found.outcome is Outcome.SURE
        given = readings(found.family, found.profile, [one.data for one in made], Registry())
        assert [[read.value for read in one] for one in given] == [[one.shown] for one in made]
    below = [Press(f"F={v:>10} N\r\n".encode(), Decimal(v)) for v in ("45.2", "-312.8", "7.5")]
    kept = learn(below, about, Registry())
    assert kept.outcome is Outcome.SURE
    profile, taught = kept.profile, made[0].data
    assert readings(kept.family, profile, [taught], Registry()) == [[]]
