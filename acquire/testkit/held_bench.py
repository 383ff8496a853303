"""A running bench in a test's hand: its devices, its daemon, a caller, and the time.

The daemon runs in the test's own process on a clock that stands still until the test moves it, or
until the bench waits for a device: then it goes on by small steps, because devices that are asked
in a rhythm are asked by that clock. For one thread, but for what the daemon does on its own.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from acquire.clock import ManualClock
from acquire.control.client import Client
from acquire.control.shapes import row_item
from acquire.daemon import Daemon, MakeOpener, running_daemon
from acquire.driverapi.registry import Registry
from acquire.errors import CoatbenchError, NotFound
from acquire.link import opener_for
from acquire.settings import load_bench
from acquire.store import StoreReader

PATIENCE_S = 30.0
"""How long, by the computer's clock, a device may take for what it was made to do."""
LONGEST_STEP_S = 1e9
STEP_S = 0.05
LOOK_S = 0.02
STILL_S = 0.1
"""So long the clock stands still while a reading is waited for."""

Row = dict[str, Any]


class NothingCame(AssertionError):
    """What a test waited for did not come about; with the last words of the bench."""


class HeldBench:
    """``with HeldBench(bench_file, clock) as bench``; made by the fixture `coatbench`.

    `client` is a caller of the daemon's control socket, as the command line is one; `daemon` the
    daemon itself, `store` its file.
    """

    def __init__(
        self,
        bench_file: Path,
        clock: ManualClock,
        make_opener: MakeOpener = opener_for,
        registry: Registry | None = None,
    ) -> None:
        self.clock = clock
        self._leaving = ExitStack()
        spec = load_bench(bench_file)
        self.bench_file, self.store, self.spec = bench_file, spec.store, spec
        with ExitStack() as undo:
            self.daemon: Daemon = undo.enter_context(
                running_daemon(spec, clock=clock, registry=registry, make_opener=make_opener)
            )
            self.client = undo.enter_context(Client.of_store(spec.store))
            self._rows = undo.enter_context(self.daemon.hub.watch())
            self._leaving = undo.pop_all()
        self._seen: list[Row] = []

    # -- time ------------------------------------------------------------------------------------

    def advance(self, seconds: float) -> dict[str, Any]:
        """Let time go by at once, and let everybody look at the clock; the status then."""
        if not 0 <= seconds <= LONGEST_STEP_S:
            raise ValueError(f"got {seconds!r} seconds, wanted 0 to {LONGEST_STEP_S:g}")
        self._step(seconds)
        return self.client.call("status")

    def _step(self, seconds: float) -> None:
        self.clock.advance(seconds)
        self._passed()
        for session in self.daemon.sessions.values():
            session.wake()

    def _passed(self) -> None:
        """Time went by; nobody has been told yet."""

    # -- looking ---------------------------------------------------------------------------------

    def status(self, instrument: str) -> dict[str, Any]:
        """How an instrument stands, as ``coatbench status`` tells it."""
        found: dict[str, dict[str, Any]] = {
            one["id"]: one for one in self.client.call("status")["instruments"]
        }
        if instrument not in found:
            raise NotFound(f"the bench has no {instrument}", wanted=", ".join(found))
        return found[instrument]

    def readings(self, where: str = "1") -> list[Row]:
        """The rows of the store's view `readings`, in order; `where` is a condition in SQL."""
        with StoreReader(self.store) as reader:
            found = reader.rows(f"SELECT * FROM readings WHERE {where} ORDER BY reading_id")  # noqa: S608 - a test's own words
            return [dict(row) for row in found]

    def notices(self, instrument: str) -> list[Row]:
        """What an instrument told of itself beside its readings, in order: `kind`, `text`."""
        with StoreReader(self.store) as reader:
            found = reader.rows(
                "SELECT * FROM notice WHERE instrument = ? ORDER BY id", (instrument,)
            )
            return [dict(row) for row in found]

    def await_row(self, table: str, **fields: object) -> Row:
        """The next stored row of a table in which these fields are so.

        A row is given once: the next call gives a later one. Raises `NothingCame`.
        """

        def fits(row: Row) -> bool:
            return row.get("table") == table and all(row.get(k) == v for k, v in fields.items())

        wanted = f"a row of {table}" + "".join(f", {k} {v}" for k, v in fields.items())
        return self._awaited(fits, wanted)

    def await_connected(self) -> None:
        """Until every instrument is found. Raises `NothingCame`."""
        self._until(
            lambda: all(i["connected"] for i in self.client.call("status")["instruments"]),
            "every instrument connected",
        )

    def _awaited(self, fits: Callable[[Row], bool], wanted: str) -> Row:
        found: list[Row] = []

        def look() -> bool:
            for place, row in enumerate(self._seen):
                if fits(row):
                    found.append(row)
                    del self._seen[: place + 1]
                    return True
            return False

        self._until(look, wanted)
        return found[0]

    def _until(self, so: Callable[[], bool], wanted: str) -> None:
        begun = looked = time.monotonic()
        while True:
            rows, missed = self._rows.pull(LOOK_S)
            assert not missed, "more rows at once than a test can look at"
            self._seen += map(row_item, rows)
            if so():
                return
            now = time.monotonic()
            waited_s, gone_s, looked = now - begun, now - looked, now
            if self.daemon.failure is not None:
                raise self.daemon.failure
            if waited_s > PATIENCE_S:
                raise NothingCame(
                    f"got nothing within {PATIENCE_S:g} s, wanted {wanted}. {self._last()}"
                )
            if waited_s > STILL_S:
                # Never faster than the computer: a program still at work would be given up.
                self._step(min(STEP_S, gone_s))

    def _last(self) -> str:
        words = []
        for one in self.client.call("status")["instruments"]:
            told = [row["text"] for row in self.notices(one["id"])][-1:]
            words += [f"{one['id']}: {', last told: '.join([one['message'], *told])}"]
        return "The bench says: " + "; ".join(words)

    # -- the end ---------------------------------------------------------------------------------

    def close(self) -> None:
        """End everything. Raises what the daemon failed with."""
        self._leaving.close()
        if self.daemon.failure is not None:
            raise self.daemon.failure

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        tb: TracebackType | None,
    ) -> None:
        try:
            self.close()
        except CoatbenchError:
            # A test that fails already says why itself.
            if kind is None:
                raise
