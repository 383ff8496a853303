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

from acquire.driverapi import Due
from acquire.driverkit.unreadable import Unreadable
from acquire.model import UNKNOWN_SERIAL, Fact, Instant, Noise, Notice, NoticeKind, Reading
from acquire.wire.transfer import TransferReader
from drivers.usbtmc.agenda import MOST_ROUNDS, TRIES, Agenda, Asked
from drivers.usbtmc.codec import Codec, shown
from drivers.usbtmc.event import Event, What
from drivers.usbtmc.keptbeam import Kept
from drivers.usbtmc.pipes import Pipes
from drivers.usbtmc.profile import UsbtmcProfile
from drivers.usbtmc.results import Results

_NOT_UNDERSTOOD = range(-299, -99)
"""Command and execution errors (SCPI-1999 volume 2, 21.8.9 and 21.8.10, from memory)."""


_KEPT = {Asked.DARK: Kept.DARK, Asked.OPEN: Kept.OPEN}


class UsbtmcDriver:
    """A driver of one connection."""

    def __init__(self, profile: UsbtmcProfile) -> None:
        self._profile = profile
        self._codec = Codec(profile)
        self._pipes = Pipes(profile.transfer_bytes, profile.answer_bytes, profile.answer_tries)
        self._results = Results(profile, self._codec.spectra)
        self._agenda = Agenda(profile)
        self._reader = TransferReader()
        self._unreadable = Unreadable()
        self._facts: list[Fact] = []
        self._place = 0
        self._asked: Asked | None = None
        self._unanswered = 0
        self._count: int | None = None
        self._adjusted_is_told = False
        self._busy_is_told = False
        self._dumb_is_told = False
        self._is_nameless = False

    # -- what is sent ----------------------------------------------------------------------------

    def opening(self, at: Instant) -> bytes:
        """Nothing: the first word is the link's, which says what device is there."""
        self._results.connected(at)
        return b""

    def due(self, now: Instant) -> Due:
        """What is to be sent, and when the next poll or wait is over."""
        self._tick(now)
        moments = [self._pipes.deadline, self._agenda.poll_at if self._pipes.is_idle else None]
        again = min((m for m in moments if m), key=lambda moment: moment.mono_ns, default=None)
        return Due(self._pipes.take_out(), again)

    def take(self, at: Instant) -> bytes:  # noqa: ARG002 - whenever it is
        """The profile's command for taking a reading; later, if something else is under way."""
        if not self._profile.take or self._agenda.is_over:
            return b""
        # Before the device is known its answer is not read, but that it can be asked is known.
        is_free = self._agenda.is_free or self._pipes.device is None
        if is_free and self._pipes.is_idle and self._asked is None:
            self._ask(Asked.TAKE, self._profile.take)
            return self._pipes.take_out()
        self._agenda.want(Asked.TAKE)
        return b""

    def _tick(self, now: Instant) -> None:
        for event in self._pipes.tick(now):
            self._on(event, now)
        self._go_on(now)

    def _go_on(self, now: Instant) -> None:
        """Ask what is next, as long as nothing is under way."""
        if self._asked is not None or self._pipes.device is None:
            return
        while self._pipes.is_idle and self._asked is None:
            found = self._agenda.next(now)
            if found is None:
                return
            self._ask(*found)

    def _ask(self, asked: Asked, command: bytes) -> None:
        if asked is Asked.START:
            self._pipes.tell(command)
            return
        self._asked = asked
        if asked in _KEPT and self._codec.spectra and self._codec.spectra.beam:
            self._codec.spectra.beam.forget(_KEPT[asked])
        if asked is Asked.STATUS:
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
        return self._take_facts()

    def lost(self, at: Instant) -> list[Fact]:
        """What waits for its end becomes noise."""
        self._give_up(at)
        if not self._reader.fault:
            start, rest = self._reader.take_rest()
            if rest:
                why = "cut off when the link was lost"
                self._facts.append(Noise(at, rest, start, start + len(rest), why))
        self._facts += self._unreadable.lost(at)
        return self._take_facts()

    def _give_up(self, at: Instant) -> None:
        """Nothing more is asked; an answer that was being read is noise."""
        self._agenda.stop()
        self._asked = None
        for event in self._pipes.lost():
            self._on(event, at)

    def _take_facts(self) -> list[Fact]:
        facts, self._facts = self._facts, []
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
            self._agenda.begin()
            if not self._profile.identify and self._usb_serial:
                self._notice(NoticeKind.IDENTITY, event, at, self._usb_serial)
        elif what is What.SERVICE:
            self._agenda.look_anew()
        elif what is What.DUMB:
            if not self._dumb_is_told:
                text = f"{event.why}: unplug it and plug it in again"
                self._inferred(NoticeKind.TROUBLE, at, text)
            self._dumb_is_told = True
        else:
            asked, self._asked = self._asked, None
            if asked is Asked.POLL or what is What.STATUS or asked is Asked.STATUS:
                self._agenda.polled(at)
            if what is What.FAILED:
                self._failed(asked, event, at)
                return
            self._unanswered = 0
            self._dumb_is_told = False
            if what is What.STATUS:
                self._status(event.data[0], event, at)
            else:
                self._understand(asked, event, at)

    def _understand(self, asked: Asked | None, event: Event, at: Instant) -> None:
        poll = self._profile.poll
        if asked is Asked.IDENTITY:
            self._identity(event, at)
        elif asked is Asked.GRID:
            if wrong := self._codec.learn_grid(event.data):
                self._noise(event, at, wrong)
                self._agenda.again(Asked.GRID)
        elif asked in _KEPT and self._codec.spectra is not None:
            if wrong := self._codec.spectra.learn_beam(_KEPT[asked], event.data):
                self._noise(event, at, wrong)
                self._agenda.again(asked)
        elif asked is Asked.ERROR:
            self._error(event, at)
        elif asked is Asked.ADJUSTED:
            self._adjusted_is_told = False
        elif asked is Asked.POLL and poll is not None and poll.pattern is not None:
            self._poll(event, at)
        else:
            self._result(event, at)

    # -- who is there ----------------------------------------------------------------------------

    @property
    def _usb_serial(self) -> str:
        """The serial number of the USB device, which is taken where it tells no other."""
        device = self._pipes.device
        return "" if device is None else device.serial_number

    def _identity(self, event: Event, at: Instant) -> None:
        serial = self._codec.serial(event.data)
        if serial is None:
            self._noise(event, at, f"no four fields of an identification: {shown(event.data)}")
            self._no_identity(at)
            return
        self._is_nameless = not (serial or self._usb_serial)
        told = UNKNOWN_SERIAL if self._is_nameless else serial or self._usb_serial
        self._notice(NoticeKind.IDENTITY, event, at, told)

    def _no_identity(self, at: Instant) -> None:
        """No answer, or none with a name: whose results it gives nobody knows until it tells."""
        if not self._agenda.again(Asked.IDENTITY) and not self._is_nameless:
            self._is_nameless = True
            self._inferred(NoticeKind.IDENTITY, at, UNKNOWN_SERIAL)

    def _set_up_again(self, at: Instant, why: str) -> None:
        """A command of setting up was not taken, so nobody knows what a result would mean."""
        if self._agenda.is_over or self._agenda.begin_again():
            return
        text = (
            f"it cannot be set up as the profile says ({why}): nothing more is read of it. "
            "Next: mend the profile's start commands, or switch the device off and on"
        )
        self._inferred(NoticeKind.TROUBLE, at, text)

    # -- what the status byte leads to -----------------------------------------------------------

    def _status(self, byte: int, event: Event, at: Instant) -> None:
        bits, profile = self._profile.status, self._profile
        if bits is None:
            return
        wanted: dict[Asked, int] = {}
        if byte & bits.error:
            wanted[Asked.ERROR] = MOST_ROUNDS
        else:
            # Its error queue has nothing against what it was told to be.
            self._agenda.ready()
        if byte & bits.adjusted:
            if not self._adjusted_is_told:
                self._notice(NoticeKind.ADJUSTED, event, at, "")
                self._agenda.learn_beam()
            self._adjusted_is_told = True
            if profile.adjusted:
                wanted[Asked.ADJUSTED] = 1
        else:
            self._adjusted_is_told = False
        if byte & bits.ready and profile.fetch:
            wanted[Asked.FETCH] = TRIES
        if not wanted:
            self._keep(self._results.settle(event.end, at))
        is_well = self._agenda.round(wanted)
        if not is_well and not self._busy_is_told:
            text = f"the status byte stays {byte}, whatever is fetched"
            self._inferred(NoticeKind.TROUBLE, at, text)
        self._busy_is_told = bool(wanted) and (self._busy_is_told or not is_well)

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
        if not self._agenda.is_set_up and trouble.code in _NOT_UNDERSTOOD:
            self._set_up_again(at, trouble.text)
        else:
            self._agenda.again(Asked.ERROR)

    def _poll(self, event: Event, at: Instant) -> None:
        found = self._codec.poll(event.data)
        if found is None:
            self._noise(event, at, f"no answer to the poll: {shown(event.data)}")
        elif isinstance(found, bool):
            if found:
                self._agenda.want(Asked.FETCH, TRIES)
        else:
            # The first count says what there was before.
            if self._count not in (None, found):
                self._agenda.want(Asked.FETCH, TRIES)
            self._count = found

    # -- results ---------------------------------------------------------------------------------

    def _result(self, event: Event, at: Instant) -> None:
        result = self._codec.result(event.data)
        if not self._agenda.is_set_up:
            self._noise(event, at, "it came before the device was set up")
        elif isinstance(result, str):
            self._noise(event, at, result)
            spectra = self._codec.spectra
            if spectra is not None and spectra.grid is None:
                self._agenda.learn_grid()
            elif spectra is not None and not spectra.is_ready:
                self._agenda.learn_beam()
        elif result.heard or result.points is not None:
            self._keep(self._results.facts(result, event, at))
        else:
            self._keep(self._results.nothing(event, at))

    def _keep(self, facts: list[Fact]) -> None:
        """Keep facts of results; after a restart what was set up is gone, and who is there too."""
        self._facts += facts
        if self._is_nameless and any(isinstance(fact, Reading) for fact in facts):
            self._agenda.ask_name()
        if self._results.has_restarted:
            self._results.has_restarted = False
            self._agenda.begin()

    def _failed(self, asked: Asked | None, event: Event, at: Instant) -> None:
        """An answer did not come, or not as one."""
        self._unanswered += 1
        if self._unanswered == self._profile.silent_after:
            text = f"no answer to {self._unanswered} commands in a row: {event.why}"
            self._inferred(NoticeKind.TROUBLE, at, text)
        if asked is Asked.IDENTITY:
            self._no_identity(at)
        elif asked is Asked.GRID or asked in _KEPT:
            self._agenda.again(asked)
        elif asked is Asked.TAKE or (asked is Asked.FETCH and not self._agenda.again(asked)):
            # Of a fetch the device may have forgotten that it was ready, not the result itself.
            command = self._profile.take if asked is Asked.TAKE else self._profile.fetch
            self._inferred(NoticeKind.TROUBLE, at, f"no answer to {shown(command)}: {event.why}")
        if self._unanswered < max(TRIES, self._profile.silent_after):
            # The device may tell why.
            self._agenda.want_status()

    # -- facts -----------------------------------------------------------------------------------

    def _noise(self, event: Event, at: Instant, why: str) -> None:
        if event.raw:
            self._facts.append(Noise(at, event.raw, event.start, event.end, why))

    def _notice(self, kind: NoticeKind, event: Event, at: Instant, text: str) -> None:
        self._facts.append(Notice(kind, at, event.raw, event.start, event.end, text))

    def _inferred(self, kind: NoticeKind, at: Instant, text: str) -> None:
        """A notice that no bytes said: it has a place in the stream, behind all that was heard."""
        self._facts.append(Notice(kind, at, b"", self._place, self._place, text))
