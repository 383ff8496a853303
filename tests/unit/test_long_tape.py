"""What a gauge streamed all day is proved, played, shown and cut in the room of a short tape."""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable
from pathlib import Path

import pytest

from acquire.cli.tape import show_lines
from acquire.driverapi.registry import Registry
from acquire.link.tape import RECEIVED, Passed, Tape
from acquire.link.tape_cut import cut
from acquire.link.tape_file import read_tape, write_tape
from acquire.model import Instant
from acquire.report.proof.proof import prove
from acquire.report.record.loading import load_trial
from acquire.report.record.traces import traces_of
from acquire.report.replay.replaying import cast, played
from acquire.report.replay.taped import listed, taped
from acquire.store import StoreReader
from tests.flow.test_friction_stream import TRIAL
from tests.streamed import StreamYard, drawn_pull
from tests.unit.tape_bench import OPENED, TapeBench

HELLO = b"#SN PG-0032\r\n"
SHORT_S, LONG_S = 10, 40
ROOM_BYTES = 200_000
"""What may differ: caches that fill. The bytes that came in between alone are 330,000."""


def pulls(seconds: int) -> Tape:
    """A stream of a thousand samples a second, with a pull of two seconds in every ten."""
    passed, at, offset = list[Passed](), OPENED, 0
    for part in range(seconds * 10):
        at = Instant(at.utc_ns + 100_000_000, at.mono_ns + 100_000_000)
        is_pulled = 40 <= part % 100 < 60
        lines = b"+01.2%02d N\r\n" % (part % 97) if is_pulled else b"+00.001 N\r\n"
        data = (HELLO if part % 100 in (0, 41, 65) else b"") + lines * 100
        passed.append(Passed(RECEIVED, offset, at, data))
        offset += len(data)
    return Tape(OPENED, "stream", tuple(passed))


def recorded(folder: Path, seconds: int) -> Path:
    folder.mkdir()
    bench = TapeBench(folder, "force-stream")
    bench.record(pulls(seconds), set())
    bench.close()
    return bench.store


@pytest.fixture(scope="module")
def stores(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Path]:
    folder = tmp_path_factory.mktemp("long")
    return {seconds: recorded(folder / str(seconds), seconds) for seconds in (SHORT_S, LONG_S)}


def most_bytes(work: Callable[[], object]) -> int:
    """The most that it had at a time. Done once before, so that everything is imported."""
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def test_a_reading_of_a_long_stream_is_proved_in_the_room_of_one_of_a_short_stream(
    stores: dict[int, Path],
) -> None:
    peaks = {}
    for seconds, store in stores.items():
        with StoreReader(store) as reader:
            last = reader.one("SELECT max(id) FROM reading")
        assert last == seconds // 10
        assert prove(store, last, Registry()).holds
        peaks[seconds] = most_bytes(lambda store=store, last=last: prove(store, last, Registry()))
    assert peaks[LONG_S] < peaks[SHORT_S] + ROOM_BYTES, peaks


def replayed(tape: Tape) -> None:
    done = played(tape, cast(tape.whose))
    comparison = done.comparison()
    assert comparison.is_same, comparison.differences
    assert comparison.counts["samples"].same > 1000 * (SHORT_S - 4)


def of_store(work: Callable[[Tape], object]) -> Callable[[Path], None]:
    def done(store: Path) -> None:
        with StoreReader(store) as reader:
            work(taped(reader, 1))

    return done


def listing(store: Path) -> None:
    with StoreReader(store) as reader:
        assert len(listed(reader)) == 1


def shown(tape: Tape) -> None:
    for line in show_lines(tape, 0.0, None, as_hex=False):
        assert line


def in_file(store: Path) -> None:
    """Cut, written, and read again."""
    file = store.with_suffix(".tape")
    with StoreReader(store) as reader:
        write_tape(file, cut(taped(reader, 1), 3.0, 1e6))
    replayed(read_tape(file))


@pytest.mark.parametrize("work", [of_store(replayed), of_store(shown), in_file, listing])
def test_a_long_tape_takes_no_more_room_than_a_short_one(
    stores: dict[int, Path], work: Callable[[Path], object]
) -> None:
    work(stores[SHORT_S])
    peaks = {
        seconds: most_bytes(lambda store=store: work(store)) for seconds, store in stores.items()
    }
    assert peaks[LONG_S] < peaks[SHORT_S] + ROOM_BYTES, peaks


def test_a_pull_of_a_run_is_proved_in_the_same_room_however_long_its_gauge_streamed_on(
    tmp_path: Path,
) -> None:
    peaks = []
    for seconds in (SHORT_S, LONG_S):
        folder = tmp_path / str(seconds)
        folder.mkdir()
        yard = StreamYard(folder)
        yard.begin_slick("bare", TRIAL)
        yard.pull(drawn_pull(2.0, 1.5, slip_n=0.05))
        yard.finish()
        yard.stream(float(seconds))
        yard.close()
        store = yard.bench.store
        proof = prove(store, 1, Registry())
        assert proof.holds
        assert any("its pull: samples" in line for line in proof.lines)
        with StoreReader(store) as reader:
            plan = load_trial(store, "sliding").plan
            # Of the trial this is what might grow with the rows of the stream.
            traces_of(reader, "sliding", plan)
            peaks.append(most_bytes(lambda r=reader, p=plan: traces_of(r, "sliding", p)))
    assert peaks[1] < 1.2 * peaks[0], peaks
