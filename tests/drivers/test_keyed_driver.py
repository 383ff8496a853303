"""What becomes of an entry: a reading, a first one that waits, or no reading and why."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from acquire.driverapi import Driver
from acquire.driverapi.conformance import START
from acquire.model import Fact, Flag, Instant, Noise, Notice, NoticeKind, Reading
from drivers.keyed import FAMILY
from tests.captures import profile

GLOSS = profile("keyed-gloss")
ONE = profile("keyed-gloss-20")
FORCE = profile("keyed-force")
BANDS = profile("keyed-bands")


def after(seconds: float) -> Instant:
    ns = round(seconds * 1e9)
    return Instant(START.utc_ns + ns, START.mono_ns + ns)


def driver(table: dict[str, Any]) -> Driver:
    made = FAMILY.driver(table, "profile")
    assert made.opening(START) == b""
    return made


def said(table: dict[str, Any], *lines: str) -> list[Fact]:
    """The facts of lines typed a second apart."""
    made = driver(table)
    return [
        fact
        for second, line in enumerate(lines)
        for fact in made.feed(line.encode() + b"\n", after(second))
    ]


def once(table: dict[str, Any]) -> dict[str, Any]:
    return {**table, "entry": {**table["entry"], "twice": False}}


def reason(table: dict[str, Any], line: str) -> str:
    (fact,) = said(table, line)
    assert isinstance(fact, Noise), fact
    return fact.reason


def values(facts: list[Fact]) -> list[tuple[str, Decimal | None]]:
    return [(fact.channel, fact.value) for fact in facts if isinstance(fact, Reading)]


# -- one entry ---------------------------------------------------------------------------------


def test_an_entry_of_a_profile_with_one_channel_is_its_value() -> None:
    (fact,) = said(once(ONE), "91.4")
    assert isinstance(fact, Reading)
    assert (fact.value, fact.text, fact.unit, fact.channel) == (
        Decimal("91.4"), "91.4", "gloss_unit", "20",
    )  # fmt: skip
    assert (fact.raw, fact.start, fact.end, fact.press) == (b"91.4", 0, 4, None)


def test_a_comma_is_a_decimal_sign_where_the_profile_says_so() -> None:
    assert values(said(FORCE, "2,36")) == [("", Decimal("2.36"))]


def test_values_in_the_order_of_the_profile_are_those_of_its_channels() -> None:
    assert values(said(once(BANDS), "0.1 88.7  91.0")) == [
        ("315-400", Decimal("0.1")),
        ("380-780", Decimal("88.7")),
        ("940", Decimal("91.0")),
    ]


def test_a_token_for_above_the_range_is_a_reading_without_a_value() -> None:
    (fact,) = said(FORCE, "----")
    assert isinstance(fact, Reading)
    assert (fact.value, fact.flags) == (None, frozenset((Flag.OVER_RANGE,)))


@pytest.mark.parametrize("end", ["-1", "-1.0", "200", "+200.0", ".5"])
def test_the_ends_of_the_range_and_every_way_to_write_a_number_are_inside(end: str) -> None:
    assert len(values(said(once(ONE), end))) == 1


@pytest.mark.parametrize(
    ("table", "line", "told"),
    [
        (ONE, "914", "got 914, wanted -1 to 200 (gloss unit)"),
        (ONE, "-1.1", "got -1.1, wanted -1 to 200 (gloss unit)"),
        (ONE, "91.45", "got 91.45, wanted a multiple of 0.1, the step of the display"),
        (ONE, "91,4", "got '91,4', wanted a decimal point, as the profile has it"),
        (ONE, "9l.4", "got '9l.4', wanted a number, or OL for out of range"),
        (ONE, "1e1", "got '1e1', wanted a number, or OL for out of range"),
        (ONE, "NaN", "got 'NaN', wanted a number, or OL for out of range"),
        (ONE, "1_0", "got '1_0', wanted a number, or OL for out of range"),
        (ONE, "ol", "got 'ol', wanted a number, or OL for out of range"),
        (ONE, "60 91.4", "got '60 91.4', wanted one value"),
        (ONE, "adjusted now", "got 'adjusted now', wanted one value"),
        (FORCE, "2.36", "got '2.36', wanted a decimal comma, as the profile has it"),
        (FORCE, "2,37", "got 2,37, wanted a multiple of 0,02, the step of the display"),
        (FORCE, "50,02", "got 50,02, wanted 0 to 50 (newton)"),
        (
            BANDS,
            "0.1 88.7",
            "got 2 values in '0.1 88.7', wanted 3: those of 315-400, 380-780, 940, in this order",
        ),
        (
            GLOSS,
            "91.4",
            "got '91.4', wanted each value behind its geometry (20, 60, 85), such as '20 -1'",
        ),
        (GLOSS, "45 91.4", "got the geometry '45', wanted one of 20, 60, 85"),
        (GLOSS, "60 91.4 60 91.5", "got the geometry '60' again, wanted it once"),
    ],
)
def test_what_is_not_accepted_says_what_was_got_and_what_was_wanted(
    table: dict[str, Any], line: str, told: str
) -> None:
    assert reason(once(table), line) == told
    assert values(said(once(table), line, line)) == []


def test_bytes_beyond_ascii_and_controls_are_noise_and_no_digits() -> None:
    assert reason(once(ONE), "９１") == "got the byte 0xef, wanted plain ASCII characters"
    assert "control character" in reason(once(ONE), "9\t1")


def test_the_words_are_notices_whatever_their_case() -> None:
    facts = said(ONE, "adjusted", "OFF")
    assert [fact.kind for fact in facts if isinstance(fact, Notice)] == [
        NoticeKind.ADJUSTED,
        NoticeKind.POWER_UP,
    ]
    assert all(isinstance(fact, Notice) and fact.text == "" for fact in facts)


# -- twice ---------------------------------------------------------------------------------------


def test_a_first_entry_is_no_reading_and_says_that_it_waits() -> None:
    (fact,) = said(ONE, "91.4")
    assert isinstance(fact, Notice)
    assert (fact.kind, fact.text, fact.raw) == (NoticeKind.TYPED_ONCE, "91.4", b"91.4")


def test_the_same_again_is_one_reading_with_the_bytes_of_the_second() -> None:
    first, second = said(ONE, "91.4", "91.40")
    assert isinstance(first, Notice)
    assert isinstance(second, Reading)
    assert (second.text, second.raw, second.start) == ("91.40", b"91.40", 5)


def test_a_third_entry_is_a_first_one_again() -> None:
    facts = said(ONE, "91.4", "91.4", "91.4")
    assert isinstance(facts[-1], Notice)
    assert len(values(facts)) == 1


def test_an_entry_unlike_its_first_counts_for_nothing_and_neither_does_the_first() -> None:
    facts = said(ONE, "91.4", "94.1", "91.4")
    assert values(facts) == []
    refused = facts[1]
    assert isinstance(refused, Noise)
    assert refused.reason.startswith("got 94.1, wanted 91.4 as typed before it: neither counts")
    assert isinstance(facts[2], Notice), "the first was forgotten with the second"


def test_the_same_value_of_another_channel_is_unlike() -> None:
    assert isinstance(said(GLOSS, "20 91.4", "60 91.4")[1], Noise)


def test_an_entry_that_is_refused_takes_the_first_one_with_it() -> None:
    facts = said(ONE, "91.4", "914", "91.4")
    refused = facts[1]
    assert isinstance(refused, Noise)
    assert refused.reason.endswith("; 91.4 before it counts for nothing")
    assert values(facts) == []


def test_a_range_flag_and_a_value_are_unlike() -> None:
    assert isinstance(said(ONE, "OL", "91.4")[1], Noise)
    assert values(said(ONE, "OL", "OL")) == [("20", None)]


@pytest.mark.parametrize(("seconds", "counts"), [(59.999, 1), (60.0, 0)])
def test_the_second_counts_within_its_time_alone(seconds: float, counts: int) -> None:
    made = driver(ONE)
    made.feed(b"91.4\n", START)
    assert len(values(made.feed(b"91.4\n", after(seconds)))) == counts


def test_a_first_entry_lapses_at_its_moment_whether_or_not_anybody_asks() -> None:
    asked, left = driver(ONE), driver(ONE)
    for one in (asked, left):
        one.feed(b"91.4\n", START)
    again = asked.due(after(1)).again
    assert again == after(60)
    asked.due(after(61))
    by_asking = asked.feed(b"", after(62))
    assert left.feed(b"", after(90)) == by_asking
    (lapsed,) = by_asking
    assert isinstance(lapsed, Notice)
    assert (lapsed.kind, lapsed.at, lapsed.raw) == (NoticeKind.LAPSED, after(60), b"")
    assert lapsed.text == "91.4 was typed once and not again within 60 s: it counts for nothing"
    assert asked.due(after(63)).again is None


def test_a_first_entry_that_waits_at_the_end_is_told_of() -> None:
    made = driver(ONE)
    made.feed(b"91.4\n", START)
    (lapsed,) = made.lost(after(5))
    assert isinstance(lapsed, Notice)
    assert "before the end of the connection" in lapsed.text


def test_a_broken_line_is_noise_in_time_and_so_is_its_tail() -> None:
    made = driver(once(ONE))
    made.feed(b"9", START)
    facts = made.feed(b"1.4\n52.6\n", after(3))
    assert [type(fact) for fact in facts] == [Noise, Noise, Reading]
    assert values(facts) == [("20", Decimal("52.6"))]


def test_it_sends_nothing_and_takes_nothing() -> None:
    made = driver(ONE)
    assert made.take(START) == b""
    assert made.due(START) == (b"", None)
