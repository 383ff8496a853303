"""Captures played through a whole session and desk into a store, as a daemon would record them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from acquire.driverapi.registry import Registry
from acquire.link.tape import RECEIVED, SENT, Passed, Tape, TapeClock, TapeLink
from acquire.model import Batch, Bench, Instant, InstrumentSpec, LinkAddress, Quantity
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


def tape_of(one: Shelved) -> tuple[Tape, set[int]]:
    """A capture as a tape, and the places of the commands that a person asked for."""
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
            passed.append(Passed(RECEIVED, received, at, step.received))
        sent += len(step.sent)
        received += len(step.received)
    return Tape(OPENED, one.capture.name, tuple(passed)), takes


class AskedLink(TapeLink):
    """Plays a tape and has a reading asked for where one was asked for on it."""

    def __init__(self, tape: Tape, clock: TapeClock, takes: set[int]) -> None:
        super().__init__(tape, clock)
        self._places = iter(range(len(tape.passed) + 1))
        self._takes = takes
        self.ask: Callable[[], object] = lambda: None

    def read(self, timeout_s: float) -> bytes:
        if self._cancelled:
            return super().read(timeout_s)
        data = super().read(timeout_s)
        if next(self._places) in self._takes:
            self.ask()
        return data


class AskedOpener:
    """Opens it."""

    address = "the tape of a capture"

    def __init__(self, link: AskedLink) -> None:
        self.link = link

    def open(self) -> AskedLink:
        return self.link


def spec_of(layout: str) -> InstrumentSpec:
    """An instrument with the profile that ships for a layout."""
    text = load_text(config_dir() / "profiles" / f"{layout}.toml")
    family = layout.split("-", maxsplit=1)[0]
    driver = "line" if family in ("gloss", "force", "transmission") else family
    kind = Quantity.GLOSS
    if "force" in layout or "weighing" in layout:
        kind = Quantity.FORCE
    elif "gloss" not in layout:
        kind = Quantity.TRANSMITTANCE
    profile = parse_toml(text, layout)
    address = LinkAddress(port="/dev/meter")
    return InstrumentSpec(
        "meter", kind, "SH-0417", driver, layout, profile, text, address, policy()
    )


def record(folder: Path, one: Shelved) -> Path:
    """Play a capture into a store beside a bench file; the bench file."""
    text = BOATYARD.read_text(encoding="utf-8")
    bench_file = folder / "bench.toml"
    bench_file.write_text(text.replace("boatyard.sqlite", "bench.sqlite"), encoding="utf-8")
    spec = spec_of(one.profile)
    bench = Bench("boatyard", folder / "bench.sqlite", "127.0.0.1", 0, (spec,), pieces())
    tape, takes = tape_of(one)
    clock = TapeClock(OPENED)
    writer = StoreWriter(bench.store)
    desk = Desk(bench, Shelf(writer), Ids(writer.next_ids()))
    writer.append(open_desk(desk, clock.now()))

    def sink(batch: Batch, timeout_s: float) -> bool:
        writer.append(desk.take_in(batch))
        if batch.disconnected:
            session.stop()
        return True

    opener = AskedOpener(AskedLink(tape, clock, takes))
    family = Registry().family(spec.driver)
    session = Session(
        "meter",
        lambda: Fittings(opener, lambda: family.driver(spec.profile, spec.profile_name)),
        sink,
        clock,
    )
    opener.link.ask = lambda: session.can_take and session.take()
    session.run()
    writer.close()
    return bench_file
