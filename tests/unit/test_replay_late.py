"""A computer that was busy asked its meter late; its tape plays the same all the same.

The transaction of a request on Modbus TCP follows from the moment it was sent, so that a play which
asks at another moment does not know the answers for its own.
"""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from acquire.driverapi import Due
from acquire.link.tape import SENT, Missing
from acquire.model import Fact, Instant
from acquire.report.replay.replaying import cast, played
from acquire.report.replay.takingback import TakingBack
from tests.unit.answering import late_tape
from tests.unit.tape_bench import OPENED


@pytest.mark.parametrize(
    ("every", "late_s"),
    [(7, 0.02), (7, 0.06), (10, 0.06), (101, 0.06), (7, 0.3), (37, 0.3), (37, 2.5), (101, 2.5)],
)
def test_a_session_that_came_late_to_ask_plays_the_same(
    tmp_path: Path, every: int, late_s: float
) -> None:
    tape = late_tape(tmp_path, every, late_s)
    done = played(tape, cast(tape.whose))
    comparison = done.comparison()
    assert (comparison.differences, done.strayed, done.failed) == ([], 0, "")
    assert comparison.counts["reading"].same == comparison.counts["reading"].then > 0


def test_what_was_sent_while_bytes_went_unrecorded_is_still_taken_as_sent(tmp_path: Path) -> None:
    tape = late_tape(tmp_path, 0, 0.0)
    passed = list(tape.passed)
    place = next(i for i in range(40, len(passed)) if passed[i].direction == SENT)
    gone = passed.pop(place)
    gap = Missing(gone.at.utc_ns - 1, gone.at.utc_ns + 1, 0)
    done = played(tape._replace(passed=tuple(passed), missing=(gap,)), cast(tape.whose))
    # The play asked at the very moment, for nothing was late.
    assert done.comparison().differences == []


class _Counting:
    """Sends how often it was asked."""

    def __init__(self) -> None:
        self.asked = 0

    def opening(self, at: Instant) -> bytes:
        return b""

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        return []

    def due(self, now: Instant) -> Due:
        self.asked += 1
        return Due(b"%d" % self.asked, None)

    def take(self, at: Instant) -> bytes:
        return b""

    def lost(self, at: Instant) -> list[Fact]:
        return []


def test_a_call_that_is_taken_back_was_never_made_however_many_went_before() -> None:
    driver = TakingBack(_Counting())
    for asked in range(1, 1500):
        assert driver.due(OPENED).send == b"%d" % asked
        if asked % 7 == 0:
            assert driver.take_back()
            assert driver.due(OPENED).send == b"%d" % asked


def test_a_driver_that_cannot_be_copied_is_played_without_taking_back() -> None:
    inner = _Counting()
    vars(inner)["lock"] = threading.Lock()
    driver = TakingBack(inner)
    driver.due(OPENED)
    assert not driver.take_back()
    assert driver.due(OPENED).send == b"2"
