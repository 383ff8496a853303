"""Captures played through a whole session and desk into a store, as a daemon would record them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from acquire.clock import Clock
from acquire.driverapi.driver import Driver
from acquire.driverapi.registry import Registry
from acquire.link.base import Link
from acquire.link.tape import RECEIVED, SENT, Passed, Tape, TapeClock, TapeLink, TapeOpener
from acquire.model import (
    Batch,
    Bench,
    Instant,
    InstrumentSpec,
    LinkAddress,
    ProbeSpec,
    Quantity,
)
from acquire.pipeline.desk import Desk
from acquire.pipeline.ids import Ids
from acquire.pipeline.opening import open_desk
from acquire.pipeline.session import Fittings, Session
from acquire.schema import load_text, parse_toml
from acquire.settings import config_dir
from acquire.store import StoreWriter
from acquire.store.shelf import Shelf
from tests.captures import Shelved
from tests.yard import pieces, policy

OPENED = Instant(1_790_000_000_000_000_000, 1_000_000_000_000)
BOATYARD = Path(__file__).parents[2] / "config" / "boatyard" / "bench.toml"


def tape_of(one: Shelved, answered_after_ns: int = 0) -> tuple[Tape, set[int]]:
    """A capture as a tape, and the places of the commands that a person asked for.

    What is received in a step comes so long after what is sent in it.
    """
    at, passed, takes = OPENED, list[Passed](), set[int]()
    sent = received = 0
    for step in one.capture.steps:
        ns = round(step.after_s * 1e9)
        at = Instant(at.utc_ns + ns, at.mono_ns + ns)
        if step.takes:
            takes.add(len(passed))
        if step.sent:
            passed.append(Passed(SENT, sent, at, step.sent))
        if step.received:
            then = Instant(at.utc_ns + answered_after_ns, at.mono_ns + answered_after_ns)
            passed.append(Passed(RECEIVED, received, then, step.received))
        sent += len(step.sent)
        received += len(step.received)
    return Tape(OPENED, one.capture.name, tuple(passed)), takes


def heard_of(tape: Tape, driver: Callable[[], Driver]) -> list[Batch]:
    """All that a whole session makes of a tape that it plays to its end."""
    opener = TapeOpener(tape)
    batches: list[Batch] = []

    def sink(batch: Batch, timeout_s: float) -> bool:
        batches.append(batch)
        if batch.disconnected:
            session.stop()
        return True

    session = Session("meter", lambda: Fittings(opener, driver), sink, opener.clock)
    session.run()
    return batches


class AskedLink(TapeLink):
    """Plays a tape as a line would: whoever listens is left alone for no longer than it said.

    Where a reading was asked for on the tape, it has one asked for.
    """

    def __init__(self, tape: Tape, clock: TapeClock, takes: set[int]) -> None:
        super().__init__(tape, clock)
        self._all = tape.passed
        self._place = 0
        self._takes = takes
        self.ask: Callable[[], object] = lambda: None

    def read(self, timeout_s: float) -> bytes:
        if self._cancelled:
            return super().read(timeout_s)
        if self._place < len(self._all):
            until_ns = self._clock.at.mono_ns + round(timeout_s * 1e9)
            if until_ns < self._all[self._place].at.mono_ns:
                step_ns = until_ns - self._clock.at.mono_ns
                self._clock.at = Instant(self._clock.at.utc_ns + step_ns, until_ns)
                return b""
        data = super().read(timeout_s)
        self._place += 1
        if self._place - 1 in self._takes:
            self.ask()
        return data


class LinkOpener:
    """Opens a link that is there."""

    address = "the tape of a capture"

    def __init__(self, link: Link) -> None:
        self.link = link

    def open(self) -> Link:
        return self.link


def spec_of(layout: str) -> InstrumentSpec | ProbeSpec:
    """An instrument with the profile that ships for a layout."""
    text = load_text(config_dir() / "profiles" / f"{layout}.toml")
    family = layout.split("-", maxsplit=1)[0]
    of_lines = ("gloss", "force", "transmission", "counter", "climate")
    driver = "line" if family in of_lines else family
    kind = Quantity.GLOSS
    if "force" in layout or "weighing" in layout:
        kind = Quantity.FORCE
    elif "gloss" not in layout:
        kind = Quantity.TRANSMITTANCE
    profile = parse_toml(text, layout)
    address = LinkAddress(port="/dev/meter")
    if "counter-" in f"{layout}-" or "climate" in layout:
        kind = Quantity.CLIMATE if "climate" in layout else Quantity.STROKES
        return ProbeSpec("meter", kind, "SH-0417", driver, layout, profile, text, address)
    return InstrumentSpec(
        "meter", kind, "SH-0417", driver, layout, profile, text, address, policy()
    )


class TapeBench:
    """A store that sessions record into, one tape after another, from a daemon's start on."""

    def __init__(self, folder: Path, layout: str, started: Instant = OPENED) -> None:
        text = BOATYARD.read_text(encoding="utf-8")
        self.file = folder / "bench.toml"
        self.file.write_text(text.replace("boatyard.sqlite", "bench.sqlite"), encoding="utf-8")
        self.store = folder / "bench.sqlite"
        self._spec = spec_of(layout)
        self._writer = StoreWriter(self.store)
        bench = Bench("boatyard", self.store, "127.0.0.1", 0, (), pieces())
        if isinstance(self._spec, ProbeSpec):
            bench = replace(bench, probes=(self._spec,))
        else:
            bench = replace(bench, instruments=(self._spec,))
        self._desk = Desk(bench, Shelf(self._writer), Ids(self._writer.next_ids()))
        self._writer.append(open_desk(self._desk, started))

    def record(self, tape: Tape, takes: set[int], killed_after: int | None = None) -> None:
        """Let a session hear a tape; what it sends itself goes nowhere and is recorded.

        `killed_after` so many batches nothing more reaches the store, not even an end.
        """
        clock = TapeClock(tape.opened)
        link = AskedLink(tape, clock, takes)
        session = self._session(link, clock, killed_after)
        link.ask = lambda: session.can_take and session.take()
        session.run()

    def hear(self, link: Link, clock: Clock) -> None:
        """Let a session hear a device until its link is lost."""
        self._session(link, clock).run()

    def _session(self, link: Link, clock: Clock, killed_after: int | None = None) -> Session:
        stored = 0

        def sink(batch: Batch, timeout_s: float) -> bool:
            nonlocal stored
            if stored == killed_after:
                session.stop()
                return True
            stored += 1
            self._writer.append(self._desk.take_in(batch))
            if batch.disconnected:
                session.stop()
            return True

        spec = self._spec
        opener = LinkOpener(link)
        family = Registry().family(spec.driver)

        def fit() -> Fittings:
            make = lambda: family.driver(spec.profile, spec.profile_name)  # noqa: E731
            return Fittings(opener, make, quantity=spec.kind)

        session = Session("meter", fit, sink, clock)
        return session

    def close(self) -> None:
        self._writer.close()


def record(folder: Path, one: Shelved) -> Path:
    """Play a capture into a store beside a bench file; the bench file."""
    bench = TapeBench(folder, one.profile)
    bench.record(*tape_of(one))
    bench.close()
    return bench.file
