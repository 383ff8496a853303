"""The session of one instrument: its own thread, from opening the link to handing over batches.

It asks the driver family what the link needs, opens it by the device's identity, lets the driver
say what to send and what the bytes mean, stamps every chunk as it comes, and hands everything to
the recorder. A link that is lost or cannot be opened is opened again after growing pauses. A driver
that fails is named, its bytes are kept, and a fresh one takes its place on the next connection;
other instruments go on.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import NamedTuple

from acquire.clock import Clock
from acquire.driverapi import Driver
from acquire.driverapi.guard import Guard
from acquire.errors import LinkLost, LinkUnavailable, Refused
from acquire.link import Link, Opener
from acquire.link.typed import Typed, TypedLink
from acquire.model import (
    Batch,
    Connected,
    Disconnected,
    Fact,
    Incident,
    IncidentKind,
    Instant,
    Quantity,
    opened_words,
)
from acquire.model.batch import CLOSED_BY_DAEMON
from acquire.pipeline.calling import Caller, DriverFailed, Inside
from acquire.pipeline.outbox import Outbox, Sink
from acquire.pipeline.sharing import Sharing, SystemUsers, Users
from acquire.pipeline.talk import Talk

FIRST_PAUSE_S = 0.2
LONGEST_PAUSE_S = 5.0
"""A connection that lasted longer than this is followed by the first pause again."""
LONGEST_BARREN_PAUSE_S = 60.0
"""Of a port that can be opened again and again and is lost at once, without a byte."""
SHORTEST_WAIT_S = 0.001
LONGEST_WAIT_S = 3600.0
SHOWN_BYTES = 80
ROOM_BYTES = 1024
"""A quarter of what a terminal keeps for its reader (4,096 bytes: N_TTY_BUF_SIZE of Linux)."""


class Fittings(NamedTuple):
    """What an instrument's driver and bench file give its session to work with."""

    opener: Opener
    make_driver: Callable[[], Driver]
    gather_s: float = 0.0
    quantity: Quantity | None = None


class SessionState(NamedTuple):
    """A snapshot: whether the instrument is connected, since when, and the last message."""

    connected: bool
    since: Instant
    message: str


class Session:
    """Body of one instrument's thread. `run` is for that thread, the rest for any.

    `fit` loads the driver and says how to open its link: a stranger's code, so it is called on
    this thread, and what it raises is told as `unfit`. `driver_name` names the driver in messages;
    `sink` takes each batch within a number of seconds or says False. `nudge` is what it waits at
    between two tries to open the link; `users` tells who else has a port open.
    """

    def __init__(
        self,
        instrument: str,
        fit: Callable[[], Fittings],
        sink: Sink,
        clock: Clock,
        driver_name: str = "",
        nudge: threading.Event | None = None,
        users: Users | None = None,
    ) -> None:
        self._instrument = instrument
        self._fit = fit
        self._driver_name = driver_name or f"of {instrument}"
        self._clock = clock
        self._stopping = threading.Event()
        self._nudge = threading.Event() if nudge is None else nudge
        self._take_asked = threading.Event()
        self._call = Caller(clock)
        self._outbox = Outbox(instrument, sink, clock, self._stopping)
        self._link: Link | None = None
        self._can_take = False
        self._connection = 0
        self._gather_s = 0.0
        self._quantity: Quantity | None = None
        self._last_trouble = ""
        self._is_barren = False
        self._sharing = Sharing(SystemUsers() if users is None else users)
        self.state = SessionState(False, clock.now(), "not connected yet")
        self.is_fitted = threading.Event()
        """Set once it is known whether there is a driver to work with."""
        self.unfit = ""
        """Why there is none."""

    # -- any thread ------------------------------------------------------------------------------

    def take(self) -> bool:
        """Ask the device for a reading; False if it is not connected.

        Raises `Refused` if it only gives a reading at the press of its button, or has no driver.
        """
        if self.unfit:
            raise _cannot(self._instrument, "no reading can be asked of", self.unfit)
        link = self._link
        if link is None:
            return False
        if not self._can_take:
            raise Refused(
                f"{self._instrument} cannot be asked for a reading",
                reason="no take",
                got="a device, or a profile, that knows no command for it",
                next_step=f"type what {self._instrument} shows"
                if isinstance(link, TypedLink)
                else f"press the button of {self._instrument}",
            )
        self._take_asked.set()
        link.cancel()
        return True

    def type_in(self, text: str) -> Typed:
        """Take what a person typed as an entry of the instrument; where in its stream it stands.

        Raises `Refused` if the instrument has a port, no driver or no connection, or if the text
        can be no entry. What the driver makes of it comes as rows like everything else.
        """
        if self.unfit:
            raise _cannot(self._instrument, "nothing can be typed for", self.unfit)
        link = self._link
        if link is not None and not isinstance(link, TypedLink):
            raise Refused(
                f"nothing can be typed for {self._instrument}",
                reason="has a port",
                got=f"an instrument that is connected as {link.where}",
                wanted="one without a port (link = { typed = true } in bench.toml)",
                next_step=f"press the button of {self._instrument}",
            )
        try:
            if link is not None:
                return link.type_in(text)
        except LinkLost:  # between the look at it and the entry
            pass
        raise Refused(
            f"nothing was typed in for {self._instrument}",
            reason="not connected",
            got=self.state.message,
            wanted=f"{self._instrument} connected",
            next_step="coatbench status",
        )

    @property
    def can_take(self) -> bool:
        """Whether the device that is connected can be asked for a reading."""
        return self._can_take

    @property
    def shared(self) -> str:
        """Who else has the port open that is connected, and what to do; empty where nobody has."""
        return self._sharing.words if self._link is not None else ""

    def stop(self) -> None:
        """Let the thread end."""
        self._stopping.set()
        self.wake()

    def wake(self) -> None:
        """Cut the present wait short: try the link again, or ask the driver what is due."""
        self._nudge.set()
        link = self._link
        if link is not None:
            link.cancel()

    @property
    def inside(self) -> Inside | None:
        """The call that the driver has not come back from."""
        return self._call.inside

    # -- the session's thread ----------------------------------------------------------------------

    def run(self) -> None:
        """Until stopped: open, serve, open again. Ends at once where there is no fit driver."""
        try:
            fittings = self._call("needs", self._fit)
        except DriverFailed as failed:
            self.unfit = str(failed)
            self._trouble(IncidentKind.DRIVER_FAILED, self.unfit)
            return
        finally:
            self.is_fitted.set()
        opener, make_driver, self._gather_s, self._quantity = fittings
        pause_s = FIRST_PAUSE_S
        while not self._stopping.is_set():
            longest_s = LONGEST_PAUSE_S
            try:
                link = opener.open()
            except LinkUnavailable as error:
                self._trouble(IncidentKind.LINK_UNAVAILABLE, str(error))
            else:
                opened = self._clock.now()
                self._connect(link, opened, make_driver)
                longest_s = LONGEST_BARREN_PAUSE_S if self._is_barren else LONGEST_PAUSE_S
                if self._clock.now().seconds_since(opened) > LONGEST_PAUSE_S:
                    pause_s = FIRST_PAUSE_S
            if self._stopping.is_set():
                return
            # One that was barren and is no more is not waited for as if it still were.
            pause_s = min(pause_s, longest_s)
            self._nudge.wait(pause_s)
            self._nudge.clear()
            pause_s *= 2

    def _connect(self, link: Link, at: Instant, make_driver: Callable[[], Driver]) -> None:
        """One connection's life, from its first row to its last."""
        try:
            driver = self._call("driver", lambda: self._fresh_driver(make_driver, at))
        except DriverFailed as failed:
            link.close()
            self._trouble(IncidentKind.DRIVER_FAILED, self._blame(failed))
            return
        self._nudge.clear()
        self._connection += 1
        self._link = link
        self.state = SessionState(True, at, opened_words(link.where))
        connected = Connected(at, link.where, link.adapter)
        self._outbox.insist(Batch(self._instrument, self._connection, connected=connected))
        self._tell_shared(self._sharing.look(link.where))
        bare = Batch(self._instrument, self._connection)
        talk = Talk(bare, link, driver, Guard(self._driver_name, at, self._quantity), self._call)
        kind: IncidentKind | None = None
        facts: list[Fact] = []
        message = CLOSED_BY_DAEMON
        try:
            self._serve(talk, link, at)
        except LinkLost as error:
            kind = IncidentKind.LINK_LOST
            message = self._sharing.broken(error, link.where)
        except DriverFailed as failed:
            kind, message = IncidentKind.DRIVER_FAILED, self._blame(failed)
        finally:
            self._link = None
            self._can_take = False
            self._take_asked.clear()
            link.close()
        now = self._clock.now()
        if kind is not IncidentKind.DRIVER_FAILED:
            try:
                facts = talk.lost(now)
            except DriverFailed as failed:
                kind, message = IncidentKind.DRIVER_FAILED, self._blame(failed)
        if kind is IncidentKind.DRIVER_FAILED:
            facts = talk.failed(now)
        self.state = SessionState(False, now, message)
        # One that is lost again and again as soon as it is open is told of once.
        self._is_barren = (
            kind is IncidentKind.LINK_LOST
            and not talk.has_heard
            and now.seconds_since(at) <= LONGEST_PAUSE_S
        )
        is_told = self._is_barren and message == self._last_trouble
        self._last_trouble = message if self._is_barren else ""
        incidents = () if kind is None or is_told else (self._incident(kind, now, message),)
        self._outbox.insist(talk.last(facts, incidents, Disconnected(now, message)))

    def _fresh_driver(self, make: Callable[[], Driver], at: Instant) -> Driver:
        """A driver. Whether it can take a reading is asked of another one, which is let go."""
        self._can_take = bool(make().take(at))
        return make()

    def _serve(self, talk: Talk, link: Link, opened: Instant) -> None:
        """Speak and listen until the link is lost, the driver fails or the session is stopped."""
        outbox = self._outbox
        talk.opening(opened, outbox)
        left_alone_s = self._gather_s
        while not self._stopping.is_set():
            now = self._clock.now()
            again = talk.due(now, outbox)
            if self._take_asked.is_set():
                self._take_asked.clear()
                talk.take(now, outbox)
                # It may have to wait for its turn, and then only the driver knows for how long.
                again = talk.due(now, outbox)
            wait_s = LONGEST_WAIT_S
            if again is not None:
                # Never at once: a driver that always wants to be asked must not eat a core.
                wait_s = min(wait_s, max(SHORTEST_WAIT_S, again.seconds_since(now)))
            data = link.read(wait_s)
            talk.hear(data, self._clock.now(), outbox)
            if talk.misses():
                self._tell_shared(self._sharing.look_again(link.where, self._clock.now()))
            if data and self._gather_s:
                left_alone_s = gathering_s(self._gather_s, left_alone_s, len(data))
                self._stopping.wait(left_alone_s)

    def _trouble(self, kind: IncidentKind, message: str) -> None:
        """Tell of a trouble once, not at every attempt."""
        at = self._clock.now()
        self.state = SessionState(False, at, message)
        if message != self._last_trouble:
            self._last_trouble = message
            told = self._incident(kind, at, message)
            self._outbox.insist(Batch(self._instrument, self._connection, incidents=(told,)))

    def _tell_shared(self, message: str) -> None:
        if message:
            told = self._incident(IncidentKind.LINK_SHARED, self._clock.now(), message)
            self._outbox.insist(Batch(self._instrument, self._connection, incidents=(told,)))

    def _incident(self, kind: IncidentKind, at: Instant, message: str) -> Incident:
        return Incident(self._instrument, kind, at, f"{self._instrument}: {message}")

    def _blame(self, failed: DriverFailed) -> str:
        on = f" on the bytes {failed.data[:SHOWN_BYTES]!r}" if failed.data else ""
        return (
            f"the driver {self._driver_name} failed{on}: {failed}. "
            "Next: report it with these bytes; the line is opened again, other instruments go on"
        )


def gathering_s(most_s: float, last_s: float, came_bytes: int) -> float:
    """How long a device that streams is left alone, by what came in the last such time.

    What comes meanwhile must have room: else it is held up, and lost in the end.
    """
    return min(most_s, last_s * ROOM_BYTES / came_bytes)


def _cannot(instrument: str, what: str, unfit: str) -> Refused:
    return Refused(
        f"{what} {instrument}",
        reason="no driver",
        got=unfit,
        next_step="mend that, then start coatbench serve again",
    )
