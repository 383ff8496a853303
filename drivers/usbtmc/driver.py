"""One connection with a device of the class: what is asked when, and the facts of its answers.

When it is connected the device is asked who it is, set up, and asked for its wavelengths. From then
on one thing follows the other: a service request or a poll leads to the status byte, its bits lead
to the error queue, to what clears the bit of a re-adjustment, and to the result; the byte is read
again until it says nothing. Everything follows from received records, and from time in two places
alone: when a poll is due, counted from the answer to the last one, and the waits of
`drivers.usbtmc.pipes`. So a replayed tape gives the same facts.

Implements `acquire.driverapi.Driver`. Opens nothing, waits for nothing. One thread.
"""

from __future__ import annotations

from collections import deque
from enum import Enum, auto

from acquire.driverapi import Due
from acquire.model import Fact, Instant, Noise, Notice, NoticeKind
from acquire.wire.transfer import TransferReader
from drivers.usbtmc.codec import Codec, shown
from drivers.usbtmc.event import Event, What
from drivers.usbtmc.pipes import Pipes
from drivers.usbtmc.profile import AskedGrid, UsbtmcProfile
from drivers.usbtmc.results import Results
from drivers.usbtmc.unreadable import Unreadable

TRIES = 3
MOST_ROUNDS = 16
"""So often the status byte is read in a row while it says that something is there."""


class _Asked(Enum):
    """What is being asked, or waits to be."""

    IDENTITY = auto()
    START = auto()
    GRID = auto()
    STATUS = auto()
    ERROR = auto()
    ADJUSTED = auto()
    FETCH = auto()
    TAKE = auto()
    POLL = auto()


_NOT_UNDERSTOOD = range(-299, -99)
"""Command and execution errors (SCPI-1999 volume 2, 21.8.9 and 21.8.10, from memory)."""
_ORDER = (_Asked.ERROR, _Asked.ADJUSTED, _Asked.FETCH)


class UsbtmcDriver:
    """A driver of one connection."""

    def __init__(self, profile: UsbtmcProfile) -> None:
        self._profile = profile
        self._codec = Codec(profile)
        self._pipes = Pipes(profile.transfer_bytes, profile.answer_bytes, profile.answer_tries)
        self._results = Results(profile, self._codec.spectra)
        self._reader = TransferReader()
        self._unreadable = Unreadable()
        self._facts: list[Fact] = []
        self._place = 0
        self._asked: _Asked | None = None
        self._to_do: deque[tuple[_Asked, bytes]] = deque()
        self._wanted: set[_Asked] = set()
        self._wants_status = False
        self._rounds = 0
        self._errors_left = 0
        self._fetches_left = 0
        self._tries: dict[_Asked, int] = {}
        self._unanswered = 0
        self._poll_at_ns: int | None = None
        self._polled_at: Instant | None = None
        self._count: int | None = None
        self._has_count = False
        self._adjusted_is_told = False
        self._is_lost = False
        self._is_set_up = False
        self._is_unfit = False
        self._set_ups_left = TRIES

    # -- what is sent ----------------------------------------------------------------------------

    def opening(self, at: Instant) -> bytes:
        """Nothing: the first word is the link's, which says what device is there."""
        self._results.connected(at)
        return b""

    def due(self, now: Instant) -> Due:
        """What is to be sent, and when the next poll or wait is over."""
        self._tick(now)
        moments = [] if self._pipes.deadline is None else [self._pipes.deadline]
        polled_at, poll_at_ns = self._polled_at, self._poll_at_ns
        polls = self._pipes.is_idle and not self._is_lost and not self._is_unfit
        if polls and polled_at is not None and poll_at_ns is not None:
            ns = poll_at_ns - polled_at.mono_ns
            moments.append(Instant(polled_at.utc_ns + ns, poll_at_ns))
        again = min(moments, key=lambda moment: moment.mono_ns, default=None)
        return Due(self._pipes.take_out(), again)

    def take(self, at: Instant) -> bytes:  # noqa: ARG002 - whenever it is
        """The profile's command for taking a reading; later, if something else is under way."""
        if not self._profile.take or self._is_lost or self._is_unfit:
            return b""
        # Before the device is known its answer is not read, but that it can be asked is known.
        is_free = self._pipes.device is None or (self._is_set_up and not self._to_do)
        if self._pipes.is_idle and self._asked is None and is_free:
            self._ask(_Asked.TAKE, self._profile.take)
            return self._pipes.take_out()
        self._wanted.add(_Asked.TAKE)
        return b""

    def _tick(self, now: Instant) -> None:
        for event in self._pipes.tick(now):
            self._on(event, now)
        self._go_on(now)

    def _go_on(self, now: Instant) -> None:
        """Ask what is next, as long as nothing is under way."""
        if self._pipes.device is None or self._is_lost or self._is_unfit:
            return
        while self._pipes.is_idle and self._asked is None:
            if self._to_do:
                self._ask(*self._to_do.popleft())
                continue
            # Where the device has no error queue to say otherwise, it is what it was told to be.
            self._is_set_up = self._is_set_up or self._profile.status is None
            found = self._next(now)
            if found is None:
                return
            self._ask(*found)

    def _next(self, now: Instant) -> tuple[_Asked, bytes] | None:
        profile = self._profile
        commands = (profile.error, profile.adjusted, profile.fetch)
        for asked, command in zip(_ORDER, commands, strict=True):
            if asked in self._wanted and (self._is_set_up or asked is not _Asked.FETCH):
                return asked, command
        if self._wants_status:
            return _Asked.STATUS, b""
        if _Asked.TAKE in self._wanted and self._is_set_up:
            return _Asked.TAKE, profile.take
        poll = profile.poll
        if poll is not None and (self._poll_at_ns is None or now.mono_ns >= self._poll_at_ns):
            return (_Asked.POLL, poll.command) if poll.command else (_Asked.STATUS, b"")
        return None

    def _ask(self, asked: _Asked, command: bytes) -> None:
        self._wanted.discard(asked)
        if asked is _Asked.START:
            self._pipes.tell(command)
            return
        self._asked = asked
        if asked is _Asked.STATUS:
            self._wants_status = False
            self._pipes.read_status()
        else:
            self._pipes.ask(command)

    # -- what is received ------------------------------------------------------------------------

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        """The facts that these bytes complete, after those that time alone has made."""
        self._tick(at)
        for transfer in self._reader.feed(data):
            for event in self._pipes.hear(transfer, at):
                self._on(event, at)
            self._go_on(at)
        if self._reader.fault:
            self._give_up(at)
            self._facts += self._unreadable.feed(*self._reader.take_rest(), at, self._reader.fault)
        facts, self._facts = self._facts, []
        return facts

    def _give_up(self, at: Instant) -> None:
        """Nothing more is asked; an answer that was being read is noise."""
        self._is_lost = True
        for event in self._pipes.lost():
            self._on(event, at)

    def lost(self, at: Instant) -> list[Fact]:
        """What waits for its end becomes noise."""
        self._give_up(at)
        if not self._reader.fault:
            start, rest = self._reader.take_rest()
            if rest:
                why = "cut off when the link was lost"
                self._facts.append(Noise(at, rest, start, start + len(rest), why))
        self._facts += self._unreadable.lost(at)
        facts, self._facts = self._facts, []
        self._asked, self._wants_status = None, False
        self._to_do.clear()
        self._wanted.clear()
        return facts

    def _on(self, event: Event, at: Instant) -> None:
        self._place = event.end
        what = event.what
        if what is What.NOISE:
            self._noise(event, at, event.why)
        elif what is What.REFUSED:
            self._noise(event, at, event.why)
            self._set_up_again(at, event.why)
        elif what is What.OPENED:
            self._begin()
            device = self._pipes.device
            if not self._profile.identify and device is not None and device.serial_number:
                self._notice(NoticeKind.IDENTITY, event, at, device.serial_number)
        elif what is What.SERVICE:
            self._wants_status = self._profile.status is not None
        elif what is What.STATUS:
            self._asked = None
            self._answered()
            self._rest(at)
            self._status(event.data[0], event, at)
        elif what is What.ANSWER:
            asked, self._asked = self._asked, None
            self._answered()
            self._understand(asked, event, at)
        elif what is What.FAILED:
            asked, self._asked = self._asked, None
            self._failed(asked, event, at)
        else:
            self._inferred(NoticeKind.TROUBLE, at, f"{event.why}: unplug it and plug it in again")

    def _understand(self, asked: _Asked | None, event: Event, at: Instant) -> None:
        if asked is _Asked.IDENTITY:
            self._identity(event, at)
        elif asked is _Asked.GRID:
            if wrong := self._codec.learn_grid(event.data):
                self._noise(event, at, wrong)
                self._again(_Asked.GRID)
        elif asked is _Asked.ERROR:
            self._error(event, at)
        elif asked is _Asked.ADJUSTED:
            self._adjusted_is_told = False
        elif asked is _Asked.POLL and self._profile.poll and self._profile.poll.pattern:
            self._rest(at)
            self._poll(event, at)
        else:
            if asked is _Asked.POLL:
                self._rest(at)
            self._result(event, at)

    # -- connecting ------------------------------------------------------------------------------

    def _begin(self) -> None:
        """Who is there, how it is to behave, what it measures at."""
        profile = self._profile
        self._to_do.clear()
        self._tries = {_Asked.IDENTITY: TRIES - 1, _Asked.GRID: TRIES - 1}
        if profile.identify:
            self._to_do.append((_Asked.IDENTITY, profile.identify))
        self._to_do.extend((_Asked.START, command) for command in profile.start)
        if isinstance(profile.grid, AskedGrid):
            self._to_do.append((_Asked.GRID, profile.grid.command))
        self._wants_status = profile.status is not None
        self._is_set_up = False

    def _set_up_again(self, at: Instant, why: str) -> None:
        """A command of setting up was not taken, so nobody knows what a result would mean."""
        self._wanted.clear()
        self._set_ups_left -= 1
        if self._set_ups_left > 0:
            self._begin()
            return
        self._is_unfit = True
        text = (
            f"it cannot be set up as the profile says ({why}): nothing more is read of it. "
            "Next: mend the profile's start commands, or switch the device off and on"
        )
        self._inferred(NoticeKind.TROUBLE, at, text)

    def _identity(self, event: Event, at: Instant) -> None:
        serial = self._codec.serial(event.data)
        if serial is None:
            self._noise(event, at, f"no four fields of an identification: {shown(event.data)}")
            self._again(_Asked.IDENTITY)
            return
        device = self._pipes.device
        if not serial and device is not None:
            serial = device.serial_number
        if serial:
            self._notice(NoticeKind.IDENTITY, event, at, serial)

    def _again(self, asked: _Asked) -> bool:
        """Ask once more at the head of all, if tries are left."""
        if not self._tries.get(asked, 0):
            return False
        self._tries[asked] -= 1
        grid = self._profile.grid
        command = grid.command if isinstance(grid, AskedGrid) else b""
        self._to_do.appendleft(
            (asked, self._profile.identify if asked is _Asked.IDENTITY else command)
        )
        return True

    # -- what the status byte leads to -----------------------------------------------------------

    def _status(self, byte: int, event: Event, at: Instant) -> None:
        bits, profile = self._profile.status, self._profile
        if bits is None:
            return
        wanted: set[_Asked] = set()
        if byte & bits.error:
            wanted.add(_Asked.ERROR)
            self._errors_left = MOST_ROUNDS
        if byte & bits.adjusted:
            if not self._adjusted_is_told:
                self._notice(NoticeKind.ADJUSTED, event, at, "")
            self._adjusted_is_told = True
            if profile.adjusted:
                wanted.add(_Asked.ADJUSTED)
        else:
            self._adjusted_is_told = False
        if byte & bits.ready and profile.fetch:
            self._want_fetch()
            wanted.add(_Asked.FETCH)
        # Its error queue has nothing against what it was told to be.
        self._is_set_up = self._is_set_up or not byte & bits.error
        if not wanted:
            self._rounds = 0
            self._keep(self._results.settle(event.end, at))
            return
        self._rounds += 1
        self._wanted |= wanted
        if self._rounds < MOST_ROUNDS:
            self._wants_status = True
        elif self._rounds == MOST_ROUNDS:
            text = f"the status byte stays {byte}, whatever is fetched"
            self._inferred(NoticeKind.TROUBLE, at, text)

    def _error(self, event: Event, at: Instant) -> None:
        trouble = self._codec.trouble(event.data)
        if trouble is None:
            self._noise(event, at, f"no entry of an error queue: {shown(event.data)}")
            return
        if trouble.code == 0:
            return
        self._notice(NoticeKind.TROUBLE, event, at, trouble.text)
        if trouble.press is not None:
            self._results.press_failed(trouble.press)
        if not self._is_set_up and trouble.code in _NOT_UNDERSTOOD:
            self._set_up_again(at, trouble.text)
            return
        self._errors_left -= 1
        if self._errors_left > 0:
            self._wanted.add(_Asked.ERROR)

    def _poll(self, event: Event, at: Instant) -> None:
        found = self._codec.poll(event.data)
        if found is None:
            self._noise(event, at, f"no answer to the poll: {shown(event.data)}")
        elif found is True:
            self._want_fetch()
        elif found is not False:
            # The first count says what there was before.
            if self._has_count and found != self._count:
                self._want_fetch()
            self._has_count, self._count = True, found

    def _want_fetch(self) -> None:
        self._fetches_left = TRIES
        self._wanted.add(_Asked.FETCH)

    def _rest(self, at: Instant) -> None:
        """The next poll follows on this one's answer."""
        poll = self._profile.poll
        if poll is not None:
            self._polled_at, self._poll_at_ns = at, at.mono_ns + poll.every_ns

    # -- results ---------------------------------------------------------------------------------

    def _result(self, event: Event, at: Instant) -> None:
        result = self._codec.result(event.data)
        if not self._is_set_up:
            self._noise(event, at, "it came before the device was set up")
        elif isinstance(result, str):
            self._noise(event, at, result)
            self._learn_grid_again()
        elif result.heard or result.points is not None:
            self._keep(self._results.facts(result, event, at))
        else:
            self._keep(self._results.nothing(event, at))

    def _keep(self, facts: list[Fact]) -> None:
        """Keep facts of results; after a restart what was set up is gone, and who is there too."""
        self._facts += facts
        if self._results.has_restarted:
            self._results.has_restarted = False
            self._begin()

    # -- silence ---------------------------------------------------------------------------------

    def _answered(self) -> None:
        self._unanswered = 0

    def _failed(self, asked: _Asked | None, event: Event, at: Instant) -> None:
        self._unanswered += 1
        if self._unanswered == self._profile.silent_after:
            text = f"no answer to {self._unanswered} commands in a row: {event.why}"
            self._inferred(NoticeKind.TROUBLE, at, text)
        if asked in (_Asked.POLL, _Asked.STATUS):
            self._rest(at)
        has_status = self._profile.status is not None
        if asked is _Asked.STATUS:
            self._wants_status = self._unanswered < TRIES
        elif asked is _Asked.IDENTITY and not self._again(_Asked.IDENTITY):
            device = self._pipes.device
            if device is not None and device.serial_number:
                self._inferred(NoticeKind.IDENTITY, at, device.serial_number)
        elif asked is _Asked.GRID:
            self._again(_Asked.GRID)
        elif asked in (_Asked.FETCH, _Asked.TAKE):
            self._wants_status = has_status
            self._fetches_left -= 1
            if asked is _Asked.FETCH and self._fetches_left > 0:
                # The device may have forgotten that it was ready, but not the result itself.
                self._wanted.add(_Asked.FETCH)
                return
            command = self._profile.take if asked is _Asked.TAKE else self._profile.fetch
            self._inferred(NoticeKind.TROUBLE, at, f"no answer to {shown(command)}: {event.why}")
        elif self._unanswered < self._profile.silent_after:
            # The device may tell why.
            self._wants_status = has_status

    def _learn_grid_again(self) -> None:
        spectra = self._codec.spectra
        if spectra is not None and spectra.grid is None:
            self._tries[_Asked.GRID] = 1
            self._again(_Asked.GRID)

    # -- facts -----------------------------------------------------------------------------------

    def _noise(self, event: Event, at: Instant, why: str) -> None:
        if event.raw:
            self._facts.append(Noise(at, event.raw, event.start, event.end, why))

    def _notice(self, kind: NoticeKind, event: Event, at: Instant, text: str) -> None:
        self._facts.append(Notice(kind, at, event.raw, event.start, event.end, text))

    def _inferred(self, kind: NoticeKind, at: Instant, text: str) -> None:
        """A notice that no bytes said: it has a place in the stream, behind all that was heard."""
        self._facts.append(Notice(kind, at, b"", self._place, self._place, text))
