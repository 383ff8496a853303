"""What the tape costs: the path with its rows, and the same path without them.

Two benches with a checked meter and an open run stand side by side on one disk and take presses in
turns, so that both meet the same load of the machine. From a line's bytes to the reading framed,
judged, tagged, committed and published it all happens on one thread: hand-overs between threads
belong to both and would only hide the difference in what the machine has else to do. The delay that
a person waits, with these and the line, is measured as that of `tests.benchmarks.latency`, in one
daemon whose presses are taped in turns.
Sustained: the same in chunks of many lines. The tape cannot be switched off; on the bench without
one this benchmark puts a function that makes no row of it in the place of the desk's, so that none
is made, stored, sealed or published there, and all else is the same.

What the tape adds is less than two presses differ by chance, so many are pressed, and the figure is
the median of the differences between the two benches at the same press (or stretch, or chunk); with
the tape it is shown as that, added to the median without. After a stretch of presses the writer
rests, as the recorder lets it when nobody waits, so that both write into a journal of the same
size; nobody waits for that, so it is no delay, but it is counted as processor time.
"""

from __future__ import annotations

import statistics
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import ExitStack, closing
from pathlib import Path

from acquire.clock import SystemClock
from acquire.driverapi.guard import Guard
from acquire.driverapi.registry import Registry
from acquire.hub import Hub
from acquire.link import memory_pair
from acquire.model import Batch, Connected, LinkAddress
from acquire.pipeline import desk
from acquire.pipeline.acts import Acts
from acquire.pipeline.asking import Answer
from acquire.pipeline.calling import Caller
from acquire.pipeline.desk import Desk
from acquire.pipeline.ids import Ids
from acquire.pipeline.opening import open_desk
from acquire.pipeline.outbox import Outbox
from acquire.pipeline.talk import Talk
from acquire.settings import parse_plan
from acquire.store import Row, StoreWriter
from acquire.store.rows import ReadingRow
from acquire.store.shelf import Shelf
from acquire.store.writer import REST_AFTER_COMMITS
from tests.benchmarks.latency import pressed
from tests.benchmarks.lines import press_line
from tests.benchmarks.result import Result
from tests.benchmarks.throughput import LINES_A_CHUNK
from tests.benchmarks.wide_bench import bench_of, wide_trial

STRETCHES = 80
"""Of so many presses each, after which the writer rests."""
CHUNKS = 300
WAITED = 2000
WARM_UP = 50
MOST = 1.05
CHECK = ("93.2", "93.2", "0.0", "0.0")


TapeRows = Callable[[Ids, int, Batch], list[Row]]


def no_tape(ids: Ids, connection_id: int, batch: Batch) -> list[Row]:
    """In the place of `tape_rows`."""
    return []


class Side:
    """One bench, from the bytes of its meter to what a watcher of the hub has."""

    def __init__(self, path: Path, writer: StoreWriter, tape_rows: TapeRows) -> None:
        self._tape_rows = tape_rows
        bench = bench_of(path, LinkAddress(port="memory"))
        (spec,) = bench.instruments
        self._clock = SystemClock()
        self._desk = Desk(bench, Shelf(writer), Ids(writer.next_ids()))
        self._acts = Acts(self._desk)
        self._writer = writer
        self._hub = Hub()
        self._watcher = self._hub.watch(limit=10_000)
        self._count = 0
        now = self._clock.now()
        self._store(open_desk(self._desk, now))
        link, _ = memory_pair("memory")
        self._store(self._desk.take_in(Batch("shore", 1, connected=Connected(now, "memory", ""))))
        driver = Registry().family(spec.driver).driver(spec.profile, "benchmark")
        guard = Guard("line", now, spec.kind)
        self._talk = Talk(Batch("shore", 1), link, driver, guard, Caller(self._clock))
        self._outbox = Outbox("shore", self._sink, self._clock, threading.Event())
        self._talk.opening(now, self._outbox)

    def get_going(self) -> None:
        """Check the meter, open the run."""
        self._act(lambda at: self._acts.checks.begin("shore", at))
        deadline = time.monotonic() + 20
        for value in CHECK:
            # Right after connection a reading passes for an echo of an old one.
            while self._readings(self.press(value)[1])[0].role != "check":
                assert time.monotonic() < deadline, "no reading was taken into the check"
                time.sleep(0.1)
        plan = parse_plan(wide_trial(), "benchmark")
        self._act(lambda at: self._acts.runs.begin(plan, None, "bare", "shore", at))
        self._watcher.pull(0.0)

    def press(self, *values: str) -> tuple[float, list[Row]]:
        """Seconds until presses, in one chunk, are stored and published; and their rows."""
        lines = b"".join(press_line(self._count + i + 1, v) for i, v in enumerate(values))
        self._count += len(values)
        desk.tape_rows = self._tape_rows
        begun = time.perf_counter()
        self._talk.hear(lines, self._clock.now(), self._outbox)
        rows, _ = self._watcher.pull(0.0)
        return time.perf_counter() - begun, rows

    def counted(self, *values: str) -> float:
        """Seconds for presses that all count."""
        spent, rows = self.press(*values)
        assert [row.role for row in self._readings(rows)] == ["run"] * len(values)
        return spent

    def rest(self) -> None:
        """What the recorder does when nothing waits."""
        self._writer.rest()

    def _sink(self, batch: Batch, timeout_s: float) -> bool:
        self._store(self._desk.take_in(batch))
        return True

    def _store(self, rows: list[Row]) -> None:
        self._writer.append(rows)
        self._hub.publish(rows)

    def _act(self, act: object) -> None:
        assert callable(act)
        answer: Answer = act(self._clock.now())
        self._store(answer.rows)

    @staticmethod
    def _readings(rows: list[Row]) -> list[ReadingRow]:
        return [row for row in rows if isinstance(row, ReadingRow)]


def _waited(folder: Path) -> tuple[list[float], list[float]]:
    """Seconds from the button to durable and published, of presses with the tape and without."""
    kinds = (desk.tape_rows, no_tape)

    def which(number: int) -> int:
        # In turns, and each as often before the other as behind it.
        return (number + number // 2) % 2

    def choose(number: int) -> None:
        desk.tape_rows = kinds[which(number)]

    try:
        spent = pressed(folder / "waited.sqlite", WAITED, before=choose)
    finally:
        desk.tape_rows = kinds[0]
    found: tuple[list[float], list[float]] = ([], [])
    for number, seconds in enumerate(spent):
        found[which(number)].append(seconds)
    return found


def measure_tape(folder: Path) -> list[Result]:
    """Delay and throughput with the tape and without it."""
    waited, bare = _beside(*(spent[WARM_UP:] for spent in _waited(folder)))
    delays: tuple[list[float], list[float]] = ([], [])
    work: tuple[list[float], list[float]] = ([], [])
    bulk: tuple[list[float], list[float]] = ([], [])
    with ExitStack() as undo:
        undo.callback(setattr, desk, "tape_rows", desk.tape_rows)
        sides: list[Side] = []
        for name, tape_rows in (("taped", desk.tape_rows), ("untaped", no_tape)):
            path = folder / f"{name}.sqlite"
            writer = undo.enter_context(closing(StoreWriter(path)))
            sides.append(Side(path, writer, tape_rows))
            sides[-1].get_going()
        for stretch in range(STRETCHES):
            busy = [0.0, 0.0]
            for number in range(REST_AFTER_COMMITS):
                # Whoever comes second may find the disk busier: in turns.
                for place in (0, 1) if number % 2 else (1, 0):
                    begun = time.thread_time()
                    delays[place].append(sides[place].counted(_value(number)))
                    busy[place] += time.thread_time() - begun
            for place in (0, 1) if stretch % 2 else (1, 0):
                begun = time.thread_time()
                sides[place].rest()
                work[place].append(busy[place] + time.thread_time() - begun)
        for number in range(CHUNKS):
            values = [_value(number + i) for i in range(LINES_A_CHUNK)]
            for place in (0, 1) if number % 2 else (1, 0):
                bulk[place].append(sides[place].counted(*values))
    taped, untaped = _beside(*(spent[WARM_UP:] for spent in delays))
    more, less = _beside(*(spent[1:] for spent in work))
    slow, fast = _beside(*(spent[WARM_UP:] for spent in bulk))
    return [
        Result(
            "button to durable and published, tape on and off, p50", "ms",
            1000 * waited, 1000 * bare, MOST, True, True,
        ),
        Result(
            "bytes to published, tape on and off, p50", "ms",
            1000 * taped, 1000 * untaped, MOST, True, True,
        ),
        Result(
            "the same: processor", "ms",
            1000 * more / REST_AFTER_COMMITS, 1000 * less / REST_AFTER_COMMITS, MOST, True, True,
        ),
        Result(
            "sustained readings, tape on and off", "1/s",
            LINES_A_CHUNK / slow, LINES_A_CHUNK / fast, 1 / MOST, False, True,
        ),
    ]  # fmt: skip


def _beside(taped: Sequence[float], untaped: Sequence[float]) -> tuple[float, float]:
    """The median without the tape, and before it that with what the tape adds at the median."""
    without = statistics.median(untaped)
    added = statistics.median(t - u for t, u in zip(taped, untaped, strict=True))
    return without + added, without


def _value(number: int) -> str:
    return f"{80 + number % 100 / 10:.1f}"
