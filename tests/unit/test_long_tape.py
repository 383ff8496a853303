"""What a gauge streamed all day is followed back in the room that a short tape takes."""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable
from pathlib import Path

import pytest

from acquire.driverapi.registry import Registry
from acquire.link.tape import RECEIVED, Passed, Tape
from acquire.model import Instant
from acquire.report.proof import prove
from acquire.store import StoreReader
from tests.unit.tape_bench import OPENED, TapeBench

HELLO = b"#SN PG-0032\r\n"
SHORT_S, LONG_S = 30, 180
ROOM_BYTES = 1_500_000
"""What may differ: caches that fill. A sample kept as a fact would take 20 MB more."""


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
    """The most that it had at a time, once everything is imported."""
    work()
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
