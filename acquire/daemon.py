"""The daemon: knows every part, puts them together, holds no logic.

Main thread: waits for the end. Threads it owns: the recorder, one session an instrument, the
control server and one a client. They all end before `Daemon` is left. When the store cannot write,
everything stops, loudly: acquiring without recording is the one forbidden state.
"""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from acquire.clock import Clock, SystemClock
from acquire.control import calls, names
from acquire.control.door import Door, door_path, new_token, remove_door, write_door
from acquire.control.entries import followed
from acquire.control.server import ControlServer
from acquire.driverapi import LinkNeeds, Needs
from acquire.driverapi.fit import misfit_needs
from acquire.driverapi.registry import Registry
from acquire.errors import CoatbenchError, DriverError, NotFound, StoreError, told
from acquire.hub import Hub
from acquire.link import Opener, opener_for
from acquire.model import Bench, Instant, InstrumentSpec, LinkAddress, ProbeSpec
from acquire.pipeline.acts import Acts
from acquire.pipeline.desk import Desk
from acquire.pipeline.ids import Ids
from acquire.pipeline.recorder import Recorder
from acquire.pipeline.register import register_lines
from acquire.pipeline.session import Fittings, Session
from acquire.pipeline.watch import HANGS_AFTER_S, Watch
from acquire.report.record.withdrawn import suspected_lines
from acquire.schema import read
from acquire.settings import load_bench
from acquire.signals import ended_by_signals
from acquire.store import StoreWriter
from acquire.store.shelf import Shelf
from acquire.store.writer import LOCK_WAITS
from acquire.supervise import Scope, ThreadsLeft

SESSIONS_END_WITHIN_S = 10.0
RECORDER_ENDS_WITHIN_S = 30.0

MakeOpener = Callable[[LinkAddress, Needs], Opener]


class Daemon:
    """A running bench; made by `running_daemon`. `wait` ends on `stop` or when recording failed."""

    def __init__(
        self,
        bench: Bench,
        writer: StoreWriter,
        scope: Scope,
        clock: Clock,
        registry: Registry,
        make_opener: MakeOpener,
    ) -> None:
        self.bench = bench
        self.hub = Hub()
        self._scope = scope
        self._clock = clock
        self._ending = threading.Event()
        self.failure: CoatbenchError | None = None
        self.attended: Callable[[], None] = _unattended
        desk = Desk(bench, Shelf(writer), Ids(writer.next_ids()))
        self._acts = Acts(desk)
        self.recorder = Recorder(desk, writer, clock, self.hub.publish, self._recording_stopped)
        registry.load_ours({spec.driver for spec in bench.connected})
        self.sessions = {
            spec.id: self._session(spec, registry, make_opener) for spec in bench.connected
        }
        drivers = {spec.id: spec.driver for spec in bench.connected}
        self._watch = Watch(self.sessions, drivers, self.recorder.put)
        self.server = ControlServer(
            bench.control_host, bench.control_port, new_token(), self.answer, self.hub, scope.start
        )

    def _session(
        self, spec: InstrumentSpec | ProbeSpec, registry: Registry, make_opener: MakeOpener
    ) -> Session:
        source = f"profile {spec.profile_name}"

        def fit() -> Fittings:
            family = registry.family(spec.driver)
            needs = family.needs(spec.profile, source)
            if wrong := misfit_needs(needs):
                raise DriverError(
                    f"the driver {spec.driver} gave needs that no link has",
                    got=wrong,
                    next_step="report it to whoever wrote the driver",
                )
            opener = make_opener(spec.address, needs)
            gather_s = needs.gather_s if isinstance(needs, LinkNeeds) else 0.0
            return Fittings(
                opener, lambda: family.driver(spec.profile, source), gather_s, spec.kind
            )

        return Session(spec.id, fit, self.recorder.put, self._clock, spec.driver)

    def start(self) -> None:
        """Start the sessions and the door."""
        for name, session in self.sessions.items():
            self._scope.start(f"session-{name}", session.run)
        self._scope.start("control", self.server.run)

    def troubles(self, wait_s: float = HANGS_AFTER_S) -> list[str]:
        """Instruments without a driver to work with, and why; waits until that is known.

        A missing or unfit driver is named and contained: the other instruments go on.
        """
        begun = self._clock.now()
        found: list[str] = []
        for name, session in self.sessions.items():
            left_s = wait_s - self._clock.now().seconds_since(begun)
            if not session.is_fitted.wait(max(0.0, left_s)):
                found.append(f"{name}: {self._watch.hanging(name)}")
            elif session.unfit:
                found.append(f"{name}: {session.unfit}")
        return found

    def answer(self, name: str, arguments: Mapping[str, object]) -> dict[str, object]:
        """The reply to a call of the control socket."""
        if name == names.STOP:
            self._ending.set()
            return {"stopping": True}
        if name == names.TAKE:
            instrument = read(calls.OfInstrument, arguments, "take").instrument
            return {"asked": self._session_of(instrument).take()}
        if name == names.TYPE:
            entry = read(calls.Entry, arguments, "type")
            session = self._session_of(entry.instrument)
            return followed(
                self.hub,
                self._clock,
                lambda: self.recorder.ask(lambda _: self._acts.connection(entry.instrument)),
                lambda: session.type_in(entry.text),
            )
        reply = self.recorder.ask(calls.act_of(self._acts, name, arguments))
        if name == names.STATUS:
            # Whoever watches as well knows by it which rows this status follows on.
            reply["place"] = self.hub.place
            # Whether a meter can be asked, and who else reads there, its session knows.
            instruments: list[dict[str, object]] = reply["instruments"]  # type: ignore[assignment]
            probes: list[dict[str, object]] = reply["probes"]  # type: ignore[assignment]
            for own in instruments:
                own["can_take"] = self.sessions[str(own["id"])].can_take
            for own in (*instruments, *probes):
                own["shared"] = self.sessions[str(own["id"])].shared
        return reply

    def _session_of(self, instrument: str) -> Session:
        if instrument not in self.sessions:
            raise NotFound(
                f"the bench has no working instrument {instrument!r}",
                wanted=", ".join(self.sessions),
                next_step="coatbench status",
            )
        return self.sessions[instrument]

    def stop(self) -> None:
        """Ask the daemon to end; any thread, also a signal handler."""
        self._ending.set()

    @property
    def is_ending(self) -> bool:
        """Whether it was asked to end, or cannot go on; any thread."""
        return self._ending.is_set()

    def wait(self) -> None:
        """Block until the daemon is to end, and look about once a second."""
        # A bounded wait, so that a signal's handler runs on every platform.
        while not self._ending.wait(1.0):
            self.look(self._clock.now())

    def look(self, now: Instant) -> None:
        """Tell of drivers that have not come back from a call, and whoever attends what is new."""
        self._watch.look(now)
        self.attended()

    def shut(self) -> None:
        """Stop the sessions and close the door; the recorder goes on with what is left."""
        for session in self.sessions.values():
            session.stop()
        self.server.close()

    def _recording_stopped(self, error: CoatbenchError) -> None:
        self.failure = error
        for session in self.sessions.values():
            session.stop()
        self._ending.set()

    def left_over(self, names: tuple[str, ...]) -> None:
        """Sessions did not end: their drivers hang. Everything received is stored all the same."""
        hanging = (self._watch.hanging(name) for name in self.sessions)
        if self.failure is None:
            self.failure = DriverError(
                "the daemon has ended without waiting any longer for what does not come back",
                got="; ".join(filter(None, hanging)) or f"threads {', '.join(names)}",
                wanted="drivers that come back from their calls",
                next_step="report it to whoever wrote the driver; what was received is stored",
            )

    def crashed(self, name: str, error: BaseException) -> None:
        """A thread ended by a fault of the program: name it and end."""
        if self.failure is None:
            self.failure = StoreError(
                f"a part of the program failed ({name})",
                got=told(error),
                next_step="start coatbench serve again and report the fault",
            )
        self._ending.set()


def _unattended() -> None:
    """What is done once a second where nobody attends."""


Attend = Callable[[Daemon], Callable[[], None]]
"""Called before any session begins; gives what is called about once a second from then on, on the
thread of `Daemon.wait`, which it must not hold up.
"""


@contextmanager
def running_daemon(
    bench: Bench,
    *,
    clock: Clock | None = None,
    registry: Registry | None = None,
    make_opener: MakeOpener = opener_for,
    ends_within_s: float = SESSIONS_END_WITHIN_S,
    attend: Attend = lambda _: _unattended,
) -> Iterator[Daemon]:
    """A daemon with its door open; on leaving, everything it started has ended.

    But for a driver that does not come back within `ends_within_s`: it is named in `failure`.
    Raises what keeps the daemon from starting: `StoreError`, `ControlError`, `SettingsError`.
    """
    writer = StoreWriter(bench.store)
    door = door_path(bench.store)
    daemon: Daemon | None = None

    def crashed(name: str, error: BaseException) -> None:
        if daemon is not None:
            daemon.crashed(name, error)

    with contextlib.ExitStack() as undo:
        undo.callback(writer.close)
        with _recording(crashed, undo) as recording:
            serving = Scope(crashed, ends_within_s)
            daemon = Daemon(
                bench, writer, serving, clock or SystemClock(), registry or Registry(), make_opener
            )
            # Also where the bench file is refused below, before anybody was let in.
            undo.callback(daemon.server.close)
            daemon.recorder.open()
            recording.start("recorder", daemon.recorder.run)
            try:
                # The recorder outlives whoever may hand it something.
                with serving:
                    try:
                        # Before any row comes, or it would not be known whose a connection is.
                        daemon.attended = attend(daemon)
                        daemon.start()
                        write_door(
                            door,
                            Door(
                                daemon.server.host,
                                daemon.server.port,
                                daemon.server.token,
                                os.getpid(),
                            ),
                        )
                        yield daemon
                    finally:
                        remove_door(door)
                        daemon.shut()
            except ThreadsLeft as left:
                daemon.left_over(left.names)
            finally:
                writer.hurry()
                daemon.recorder.stop()


@contextmanager
def _recording(
    crashed: Callable[[str, BaseException], object], undo: contextlib.ExitStack
) -> Iterator[Scope]:
    """The scope of the recorder, which has as long as the store may keep it waiting.

    Should it not end, the store is left open to it, for a file that is closed under a thread that
    writes takes the program down; the end of the program closes it.
    """
    try:
        with Scope(crashed, LOCK_WAITS.usual_s + RECORDER_ENDS_WITHIN_S) as recording:
            yield recording
    except ThreadsLeft as left:
        undo.pop_all()
        raise StoreError(
            "the recorder has not ended",
            got=f"still writing after {LOCK_WAITS.usual_s + RECORDER_ENDS_WITHIN_S:g} s",
            next_step="look whether another program holds the store or the disk does not answer",
        ) from left


def serve(
    bench_file: Path,
    *,
    ready: Callable[[str], None],
    attend: Attend = lambda _: _unattended,
    make_opener: MakeOpener = opener_for,
) -> int:
    """Run the daemon of a bench file until it is stopped; the exit status for the shell.

    `ready` gets lines for the person: where the door is, and what is amiss. Raises
    `CoatbenchError` for whatever keeps the daemon from starting or made it stop.
    """
    bench = load_bench(bench_file)
    running = running_daemon(bench, make_opener=make_opener, attend=attend)
    with running as daemon, ended_by_signals(daemon.stop):
        troubles = daemon.troubles()
        working = len(bench.connected) - len(troubles)
        count = f"{working} of {len(bench.connected)} instruments have a working driver"
        door = f"{daemon.server.host}:{daemon.server.port}"
        ready(f"serving {bench.name}: {count}, store {bench.store}, control {door}")
        for trouble in troubles:
            ready(trouble)
        for text in register_lines(bench, SystemClock().now().utc().date()):
            ready(text)
        for text in suspected_lines(bench.store):
            ready(f"WITHDRAWN: {text}")
        ready("which are connected is told below. Next, in another terminal: coatbench status")
        daemon.wait()
    if daemon.failure is not None:
        raise daemon.failure
    return 0
