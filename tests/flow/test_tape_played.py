"""A tape is played when all that it gave is stored, however slow the session's thread was."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from acquire.link.tape import SENT, Ended, Tape
from acquire.model import Fact, Instant
from acquire.report.replay.taped import taped
from acquire.store import StoreReader
from acquire.testkit.held_bench import NothingCame
from acquire.testkit.taped_driver import TapedDriver
from tests.flow.test_tape_bench import READ, bench_of, read, shown
from tests.unit.tape_bench import record

SLOW_S = 0.2
SILENT_S = 20.0
"""Longer than any driver waits for a name; over Modbus every result is asked for once more."""


def unanswered(tape: Tape) -> Tape:
    """The same of a device that says no more after its last reading, until its line is closed."""
    last = max(made.end for made in tape.made if made.what == "reading")
    passed = list(tape.passed)
    while passed[-1].direction == SENT or passed[-1].offset >= last:
        passed.pop()
    at, later_ns = passed[-1].at, round(SILENT_S * 1e9)
    closed = Instant(at.utc_ns + later_ns, at.mono_ns + later_ns)
    made = tuple(made for made in tape.made if made.end <= last)
    return tape._replace(passed=tuple(passed), made=made, ended=Ended(closed, "closed"))


@pytest.mark.parametrize("layout", [one for one in sorted(READ) if "modbus" not in one])
def test_play_returns_no_sooner_than_the_last_reading_is_stored(
    layout: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with StoreReader(record(tmp_path, READ[layout]).with_name("bench.sqlite")) as reader:
        tape = unanswered(taped(reader, 1))
    looked, feed = threading.Event(), TapedDriver.feed

    def slow_feed(self: TapedDriver, data: bytes, at: Instant) -> list[Fact]:
        # Whoever does not wait for this thread looks at the readings meanwhile.
        if self._playing.next is None:
            looked.wait(SLOW_S)
        return feed(self, data, at)

    monkeypatch.setattr(TapedDriver, "feed", slow_feed)
    with bench_of(tmp_path, tape) as bench:
        bench.play()
        found = read(bench)
        looked.set()
        assert found == shown(tape) != []


@pytest.mark.parametrize("layout", ["gloss-press", "frame-gloss"])
def test_what_a_driver_failed_on_is_stored_when_play_returns(
    layout: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with StoreReader(record(tmp_path, READ[layout]).with_name("bench.sqlite")) as reader:
        tape = taped(reader, 1)

    def failing(self: TapedDriver, data: bytes, at: Instant) -> list[Fact]:
        raise ValueError("a fault of its own")

    with bench_of(tmp_path, tape) as bench:
        monkeypatch.setattr(TapedDriver, "feed", failing)
        with pytest.raises(NothingCame, match="its play gave none"):
            bench.play()
        with StoreReader(bench.store) as reader:
            told = [row["message"] for row in reader.rows("SELECT message FROM incident")]
        assert any("a fault of its own" in one for one in told)
