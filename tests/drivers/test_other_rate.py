"""A stream is held against the moments it came at: another rate than declared is told, late bytes
are not. The gauges are made up here: so many samples a second by their own clock, read as a session
reads them, each chunk with the moment of the computer.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from decimal import Decimal
from itertools import chain, repeat
from typing import Any

import pytest

from acquire.driverapi.guard import Guard
from acquire.driverkit.arrivals import WINDOW_S, WINDOWS
from acquire.model import RATE_HOLDS, Fact, Flag, Instant, Notice, NoticeKind, Reading, Samples
from drivers.line import FAMILY
from tests.captures import profile

AT = Instant(10**18, 10**12)
LINE_BYTES = 11
PTY_BYTES = 4096
"""What a terminal keeps for its reader (N_TTY_BUF_SIZE of Linux)."""
EVERY_S = 0.05
"""A stream is left alone for so long (DEVELOPERS.md: twenty stretches a second)."""
PULL_EVERY_S, PULL_S = 8.0, 2.0
KNOWN_WITHIN_S = WINDOW_S * (WINDOWS + 1) + 1


STEADY = repeat(EVERY_S)
ALL = repeat(10**9)
"""Samples that one read takes."""


def declared(rate_hz: float) -> dict[str, Any]:
    """The shipped profile with another rate; it asks for no name, so that nothing waits for one."""
    table = profile("force-stream")
    table["stream"] = {**table["stream"], "rate_hz": Decimal(str(rate_hz))}
    del table["identify"]
    return table


def is_pulled(at_s: float) -> bool:
    return at_s % PULL_EVERY_S >= PULL_EVERY_S - PULL_S - 0.5 and at_s % PULL_EVERY_S < 7.5


class Gauge:
    """Sends by its own clock into a buffer, from which a reader takes what is there."""

    def __init__(
        self, rate_hz: float, buffer_bytes: int, sends: Callable[[float], bool], lost: float
    ) -> None:
        self._rate_hz = rate_hz
        self._most = buffer_bytes // LINE_BYTES
        self._sends = sends
        self._lost, self._draw = lost, random.Random(3)
        self._made = 0
        self._waiting: list[bytes] = []

    def go_on(self, until_s: float) -> None:
        while (at_s := self._made / self._rate_hz) <= until_s:
            self._made += 1
            is_lost = self._draw.random() < self._lost or len(self._waiting) >= self._most
            if self._sends(at_s) and not is_lost:
                force = b"+01.250 N\r\n" if is_pulled(at_s) else b"+00.001 N\r\n"
                self._waiting.append(force)

    def read(self, most: int) -> bytes:
        taken, self._waiting = self._waiting[:most], self._waiting[most:]
        return b"".join(taken)


def heard(
    declared_hz: float,
    true_hz: float,
    seconds: float,
    waits: Iterator[float] = STEADY,
    *,
    buffer_bytes: int = 10**9,
    sends: Callable[[float], bool] = lambda _: True,
    lost: float = 0.0,
    takes: Iterator[int] = ALL,
    in_bytes: bool = False,
) -> list[Fact]:
    """What the driver makes of a gauge that is read after each of these times."""
    driver = FAMILY.driver(declared(declared_hz), "test")
    guard, facts, at_s = Guard("line", AT), list[Fact](), 0.0
    gauge = Gauge(true_hz, buffer_bytes, sends, lost)
    driver.opening(AT)
    while at_s < seconds:
        at_s += next(waits)
        gauge.go_on(at_s)
        ns = round(at_s * 1e9)
        at = Instant(AT.utc_ns + ns, AT.mono_ns + ns)
        data = gauge.read(next(takes))
        for chunk in (data[i : i + 1] for i in range(len(data))) if in_bytes else [data]:
            facts += guard.facts(driver.feed(chunk, at), chunk, at)
    return facts


def told(facts: list[Fact]) -> list[str]:
    return [f.text for f in facts if isinstance(f, Notice) and f.kind is NoticeKind.OTHER_RATE]


def pulls(facts: list[Fact]) -> list[list[str]]:
    return [sorted(fact.flags) for fact in facts if isinstance(fact, Reading)]


def stops(seed: int, longest_s: float) -> Iterator[float]:
    """A computer that stands still now and then, and reads all that waits at once afterwards."""
    draw = random.Random(seed)
    while True:
        yield from repeat(EVERY_S, draw.randrange(1, 80))
        yield draw.uniform(0.2, longest_s)


def busy(seed: int, late_s: float) -> Iterator[float]:
    """A computer that comes late every time."""
    draw = random.Random(seed)
    while True:
        yield EVERY_S + draw.expovariate(1 / late_s)


@pytest.mark.parametrize(("rate_hz", "about"), [(1000, "1000"), (62.5, "62")])
def test_a_gauge_four_times_faster_or_slower_than_declared_is_told_once(
    rate_hz: float, about: str
) -> None:
    facts = heard(250, rate_hz, 40)
    (text,) = told(facts)
    assert text.startswith(
        f"about {about} samples a second come where its profile says 250 (rate_hz)"
    )
    assert "Next: mend rate_hz in [stream] of its profile" in text
    notice = next(fact for fact in facts if isinstance(fact, Notice))
    assert notice.at.seconds_since(AT) <= KNOWN_WITHIN_S
    # What is slower may also be what is left of it.
    assert ("samples are lost on their way" in text) == (rate_hz < 250)


@pytest.mark.parametrize("rate_hz", [1000, 62.5])
def test_no_pull_of_such_a_gauge_is_a_good_one(rate_hz: float) -> None:
    found = pulls(heard(250, rate_hz, 40))
    assert len(found) >= 3
    assert set(map(tuple, found)) == {(Flag.OTHER_RATE,)}


@pytest.mark.parametrize("rate_hz", [1000, 100, 10, 3, 0.5])
def test_of_any_rate_four_times_as_fast_and_as_slow_are_told(rate_hz: float) -> None:
    for times in (4.0, 0.25):
        assert len(told(heard(rate_hz, rate_hz * times, max(10.0, 60 / rate_hz)))) == 1


@pytest.mark.parametrize("off", [1.05, 1.01, 1.0, 0.99, 0.95])
@pytest.mark.parametrize("rate_hz", [1000, 10])
def test_a_gauge_whose_clock_is_off_by_up_to_five_percent_is_a_good_one(
    off: float, rate_hz: float
) -> None:
    facts = heard(rate_hz, rate_hz * off, 60, busy(1, 0.03))
    assert told(facts) == []
    assert set(map(tuple, pulls(facts))) == {()}


@pytest.mark.parametrize("seed", range(4))
def test_a_computer_that_stood_still_and_reads_a_flood_makes_no_doubt(seed: int) -> None:
    assert told(heard(1000, 1000, 80, stops(seed, 20.0))) == []


@pytest.mark.parametrize("pace", [60, 100, 600])
def test_a_flood_that_is_taken_in_slowly_and_as_evenly_as_by_a_clock_makes_no_doubt(
    pace: int,
) -> None:
    waits = chain(repeat(EVERY_S, 200), [60.0], repeat(EVERY_S))
    takes = chain(repeat(10**9, 200), repeat(pace))
    facts = heard(1000, 1000, 140 if pace < 200 else 85, waits, takes=takes)
    assert told(facts) == []
    # For four seconds on end more came than any gauge of this rate sends.
    counts = [len(fact.counts) // 4 for fact in facts if isinstance(fact, Samples)]
    assert all(sum(counts[i : i + 20]) > 1100 for i in range(200, 280, 20))


def test_a_gauge_that_is_four_times_too_fast_is_told_behind_a_stop_as_soon_as_it_is_no_flood() -> (
    None
):
    waits = chain([5.0, EVERY_S, 10.0], repeat(EVERY_S))
    facts = heard(250, 1000, 40, waits)
    (notice,) = (f for f in facts if isinstance(f, Notice) and f.kind is NoticeKind.OTHER_RATE)
    assert notice.at.seconds_since(AT) < 25


@pytest.mark.parametrize("seed", range(4))
def test_holes_that_a_full_buffer_leaves_while_a_computer_stands_make_no_doubt(seed: int) -> None:
    facts = heard(1000, 1000, 80, stops(seed, 5.0), buffer_bytes=PTY_BYTES)
    assert sum(len(fact.counts) // 4 for fact in facts if isinstance(fact, Samples)) < 70_000
    assert told(facts) == []


@pytest.mark.parametrize("seed", range(4))
def test_a_computer_that_is_late_at_every_read_makes_no_doubt(seed: int) -> None:
    for rate_hz, seconds in ((1000, 80), (10, 80), (1, 1000)):
        assert told(heard(rate_hz, rate_hz, seconds, busy(seed, 0.2))) == []


@pytest.mark.parametrize("paces", [(8, 40, 20, 44, 12, 30), (40, 10, 25, 6, 42, 18)])
def test_a_computer_that_keeps_up_unevenly_for_a_while_makes_no_doubt(
    paces: tuple[int, ...],
) -> None:
    slowly = (pace for _ in range(3) for pace in paces for _ in range(30))
    facts = heard(1000, 1000, 60, takes=chain(repeat(10**9, 200), slowly, ALL))
    assert told(facts) == []
    # No more than nine of ten came in each of twenty seconds.
    counts = [len(fact.counts) // 4 for fact in facts if isinstance(fact, Samples)]
    assert all(sum(counts[i : i + 20]) < 900 for i in range(200, 600, 20))


def test_samples_that_are_lost_all_the_time_are_told_and_their_pulls_are_none_that_count() -> None:
    facts = heard(1000, 1000, 40, lost=0.3)
    (text,) = told(facts)
    assert "if it is right, samples are lost on their way" in text
    assert set(map(tuple, pulls(facts))) == {(Flag.OTHER_RATE,)}


@pytest.mark.parametrize("times", [1.0, 4.0, 0.25])
def test_one_short_pull_says_nothing_of_the_rate(times: float) -> None:
    assert told(heard(1000, 1000 * times, 30, sends=lambda at_s: 5 <= at_s < 8)) == []


def sends_while_pulled(at_s: float) -> bool:
    return at_s % PULL_EVERY_S >= 4


def test_the_silences_of_a_gauge_that_sends_only_while_it_is_pulled_make_it_no_slow_one() -> None:
    facts = heard(1000, 1000, 120, busy(2, 0.03), sends=sends_while_pulled)
    assert told(facts) == []
    assert pulls(facts) == [[]] * 15


def test_a_flow_that_ends_before_it_was_ever_slower_was_no_flood() -> None:
    # Each four seconds may have been made in the twelve of silence before.
    facts = heard(1000, 2000, 120, sends=lambda at_s: at_s % 16 >= 12)
    assert len(told(facts)) == 1


@pytest.mark.parametrize("times", [4.0, 0.25])
def test_a_gauge_that_sends_only_while_it_is_pulled_is_measured_by_its_pulls(times: float) -> None:
    facts = heard(1000, 1000 * times, 120, busy(2, 0.03), sends=sends_while_pulled)
    assert len(told(facts)) == 1
    found = pulls(facts)
    assert found[2:] == [[Flag.OTHER_RATE]] * len(found[2:])


def test_a_rate_that_holds_again_is_told_and_a_pull_that_began_before_is_none() -> None:
    driver = FAMILY.driver(declared(100), "test")
    driver.opening(AT)
    facts = list[Fact]()
    for tenth in range(600):
        ns = tenth * 100_000_000
        at = Instant(AT.utc_ns + ns, AT.mono_ns + ns)
        rate_hz = 100 if tenth >= 150 else 60
        # One pull is longer than the doubt, and one comes after it.
        force = b"+01.250 N\r\n" if 30 <= tenth < 300 or 400 <= tenth < 450 else b"+00.001 N\r\n"
        facts += driver.feed(force * (rate_hz // 10), at)
    slow, holds = told(facts)
    assert slow.startswith("about 60 samples")
    assert holds == RATE_HOLDS
    assert pulls(facts) == [[Flag.OTHER_RATE], []]
    kinds = [type(fact) for fact in facts if not isinstance(fact, Samples)]
    assert kinds == [Notice, Notice, Reading, Reading]


def test_what_comes_byte_by_byte_at_the_same_moments_gives_the_same() -> None:
    whole, by_byte = (heard(250, 1000, 12, in_bytes=in_bytes) for in_bytes in (False, True))
    assert told(whole)
    for kind in (Notice, Reading):
        assert [f for f in whole if isinstance(f, kind)] == [
            f for f in by_byte if isinstance(f, kind)
        ]
