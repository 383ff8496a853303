"""The clock that a test moves by hand."""

from __future__ import annotations

from datetime import UTC, datetime

from acquire.clock import ManualClock


def test_it_stands_still_until_it_is_moved_and_jumps_on_one_clock_alone() -> None:
    clock = ManualClock(datetime(2026, 5, 4, 8, 0, tzinfo=UTC))
    before = clock.now()
    assert clock.now() == before
    after = clock.advance(2.5)
    assert after.seconds_since(before) == 2.5
    assert after.utc_ns - before.utc_ns == 2_500_000_000
    jumped = clock.jump(-60)
    assert jumped.seconds_since(after) == 0
    assert jumped.utc_ns - after.utc_ns == -60_000_000_000
