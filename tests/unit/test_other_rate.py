"""A gauge that streams at another rate than its profile says is told once, and nothing counts."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from acquire.cli.status import status_lines
from acquire.control.shapes import row_item
from acquire.link.tape import RECEIVED, Passed, Tape
from acquire.live.bulletin import Bulletin
from acquire.live.story import Story
from acquire.model import RATE_HOLDS, Flag, Instant, NoticeKind
from acquire.pipeline.status import status
from acquire.report.record.loading import load_trial
from acquire.report.replay.replaying import cast, played
from acquire.report.replay.taped import taped
from acquire.store import StoreReader
from acquire.store.rows import NoticeRow, Row
from tests.flow.test_friction_stream import TRIAL
from tests.streamed import StreamYard, drawn_pull
from tests.unit.tape_bench import OPENED, TapeBench

TOLD = "about 1000 samples a second come where its profile says 250 (rate_hz)"
PULL = drawn_pull(1.2, 0.8)
LOOSE = "other rate"


class RateYard(StreamYard):
    """Its gauge sends a thousand samples a second, whatever the profile says."""

    says_hz = 250

    def open(self) -> None:
        self.told: list[NoticeRow] = []
        super().open()

    def plug_in(self) -> None:
        self.profile["stream"] = {**self.profile["stream"], "rate_hz": self.says_hz}
        super().plug_in()

    def store(self, rows: Sequence[Row]) -> list[Row]:
        told = [row for row in rows if isinstance(row, NoticeRow)]
        self.told += [row for row in told if row.kind == NoticeKind.OTHER_RATE]
        return super().store(rows)

    def status(self) -> str:
        return "\n".join(status_lines(status(self.desk, self.clock.now())))


class RightYard(RateYard):
    """The same with the right profile."""

    says_hz = 1000


def test_it_is_told_once_by_serve_by_the_screens_and_stands_in_the_status(tmp_path: Path) -> None:
    yard = RateYard(tmp_path)
    yard.stream(2.0)
    assert "  rate " not in yard.status()
    assert "coatbench check puller" in yard.status()
    yard.stream(60.0)
    (row,) = yard.told
    assert TOLD in row.text
    assert TOLD in "".join(Bulletin().fold(row_item(row)))
    happening = Story().fold(row_item(row))
    assert happening is not None
    assert happening.who == "puller"
    assert happening.text.startswith(TOLD)
    assert "Next: mend rate_hz in [stream] of its profile" in happening.text
    assert f"  rate   {TOLD}" in yard.status()
    assert "coatbench check puller" not in yard.status()


def test_it_stands_in_the_status_until_the_rate_holds_or_the_gauge_is_connected_anew(
    tmp_path: Path,
) -> None:
    yard = RateYard(tmp_path)
    yard.stream(10.0)
    yard.unplug("puller")
    assert "  rate " not in yard.status()
    yard.plug_in()
    assert "  rate " not in yard.status()
    yard.stream(10.0)
    assert "  rate " in yard.status()
    (row, _) = yard.told
    yard.tell("puller", NoticeKind.OTHER_RATE, RATE_HOLDS)
    assert "  rate " not in yard.status()
    said = "".join(Bulletin().fold(row_item(yard.told[-1])))
    assert RATE_HOLDS in said
    assert TOLD not in said
    assert row.text != RATE_HOLDS


@pytest.mark.parametrize("kind", [RateYard, RightYard])
def test_no_pull_of_it_counts_in_a_check(kind: type[RateYard], tmp_path: Path) -> None:
    yard = kind(tmp_path)
    yard.stream(6.0)
    yard.act(lambda at: yard.acts.checks.begin("puller", at))
    for _ in range(3):
        yard.pull(PULL)
    readings = yard.readings()
    assert len(readings) == 3
    is_off = kind is RateYard
    checking = yard.desk.standings["puller"].checking
    assert (checking is not None and not checking.has_readings) == is_off
    for one in readings:
        assert (one["flags"], one["loose_reason"]) == ((LOOSE, LOOSE) if is_off else ("", None))


@pytest.mark.parametrize("kind", [RateYard, RightYard])
def test_no_pull_of_it_counts_in_a_run_even_an_unchecked_one(
    kind: type[RateYard], tmp_path: Path
) -> None:
    yard = kind(tmp_path)
    yard.stream(6.0)
    yard.begin_slick("bare", TRIAL)
    for _ in range(3):
        yard.pull(PULL)
    is_off = kind is RateYard
    assert [row["role"] for row in yard.readings()] == (["loose"] if is_off else ["run"]) * 3
    assert ("loose: its samples come at another rate" in yard.status()) == is_off
    yard.finish()
    yard.close()
    record = load_trial(yard.bench.store, "sliding")
    assert sum(one.counts for one in record.readings) == (0 if is_off else 3)


HELLO = b"#SN PG-0032\r\n"


def sent_at(rate_hz: int, seconds: int) -> Tape:
    """A stream with a pull of two seconds in every ten, which tells its name as the pull ends."""
    passed, at, offset = list[Passed](), OPENED, 0
    for part in range(seconds * 10):
        at = Instant(at.utc_ns + 100_000_000, at.mono_ns + 100_000_000)
        line = b"+01.250 N\r\n" if 40 <= part % 100 < 60 else b"+00.001 N\r\n"
        data = (HELLO if part % 100 in (0, 41, 65) else b"") + line * (rate_hz // 10)
        passed.append(Passed(RECEIVED, offset, at, data))
        offset += len(data)
    return Tape(OPENED, "stream", tuple(passed))


@pytest.mark.parametrize("rate_hz", [1000, 4000, 250])
def test_its_tape_plays_the_same(rate_hz: int, tmp_path: Path) -> None:
    bench = TapeBench(tmp_path, "force-stream")
    bench.record(sent_at(rate_hz, 30), set())
    bench.close()
    with StoreReader(bench.store) as reader:
        flags = [row[0] for row in reader.rows("SELECT flags FROM reading ORDER BY id")]
        told = reader.rows("SELECT id FROM notice WHERE kind = 'other rate'")
        tape = taped(reader, 1)
    is_off = rate_hz != 1000
    assert len(flags) == 3
    assert {Flag.OTHER_RATE in flag for flag in flags} == {is_off}
    assert len(told) == is_off
    comparison = played(tape, cast(tape.whose)).comparison()
    assert comparison.is_same, comparison.differences
    assert comparison.counts["notice"].same >= is_off
