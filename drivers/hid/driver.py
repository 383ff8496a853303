"""One connection with a HID device: what is asked when, and the facts of its reports.

When it is connected its report descriptor is fetched; it says where everything is, and whether the
device is one to be read at all. Then it is set up, and from there on it reports by itself; only
`take` asks. Everything follows from received records, and from time in one place alone: a report
whose last packets do not come. So a replayed tape gives the same facts.

Implements `acquire.driverapi.Driver`. Opens nothing, waits for nothing. One thread.
"""

from __future__ import annotations

from acquire.driverapi import Due
from acquire.driverkit.unreadable import Unreadable
from acquire.model import Fact, Instant, Noise, Notice, NoticeKind
from acquire.wire.hid_reports import ReportMap, report_map
from acquire.wire.transfer import (
    Description,
    Pipe,
    Status,
    Transfer,
    TransferReader,
)
from drivers.hid import request
from drivers.hid.keyboard import REFUSED, is_keyboard
from drivers.hid.packets import Packets, Report
from drivers.hid.plan import Plan, make_plans
from drivers.hid.profile import HidProfile, SentReport
from drivers.hid.results import Results
from drivers.hid.span import Span

TRIES = 3
_WORDS = {
    Status.STALLED: "the device refused it",
    Status.TIMED_OUT: "no answer in time",
    Status.FAILED: "the transfer failed",
}


class HidDriver:
    """A driver of one connection."""

    def __init__(self, profile: HidProfile) -> None:
        self._profile = profile
        self._reader = TransferReader()
        self._unreadable = Unreadable()
        self._results = Results(profile)
        self._device: Description | None = None
        self._reports: ReportMap | None = None
        self._packets = Packets(0, None)
        self._plan: Plan | None = None
        self._take_plan: Plan | None = None
        self._is_open = False
        self._is_over = False
        self._tries = 0
        self._sets: list[SentReport] = []
        self._takes = 0
        self._out: list[bytes] = []
        self._facts: list[Fact] = []
        self._place = 0

    # -- what is sent ----------------------------------------------------------------------------

    def opening(self, at: Instant) -> bytes:
        """Nothing: the first word is the link's, which says what device is there."""
        self._is_open = True
        self._results.connected(at)
        return b""

    def due(self, now: Instant) -> Due:
        """What waits to be sent: never between two packets of one report, whose bytes would be
        parted by the answer."""
        self._expire(now)
        if self._packets.is_waiting:
            return Due(b"", self._packets.deadline(now))
        send, self._out = b"".join(self._out), []
        return Due(send, None)

    def take(self, at: Instant) -> bytes:
        """The request for a report, or the report that makes the device measure; later, if the
        device is not known yet or a report is coming in."""
        self._expire(at)
        take, device = self._profile.take, self._device
        if take is None or self._is_over:
            return b""
        if not self._is_open:
            # It is only asked whether it could be; what is there will tell its interface.
            return self._request(take, 0)
        if device is None or not self._is_set_up:
            self._takes = 1
            return b""
        self._ask(take, device)
        return self.due(at).send

    @property
    def _is_set_up(self) -> bool:
        return self._plan is not None and not self._sets

    def _ask(self, asked: SentReport, device: Description) -> None:
        self._out.append(self._request(asked, device.interface))

    def _request(self, asked: SentReport, interface: int) -> bytes:
        if asked.data is not None:
            return request.set_report(interface, asked.kind, asked.report, asked.data)
        return request.get_report(interface, asked.kind, asked.report, self._length(asked))

    def _length(self, asked: SentReport) -> int | None:
        """How long a report is; None where the device does not say."""
        return self._reports.length(asked.kind, asked.report) if self._reports else None

    # -- what is received ------------------------------------------------------------------------

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        """The facts that these bytes complete, after those that time alone has made."""
        self._expire(at)
        for transfer in self._reader.feed(data):
            self._hear(transfer, at)
        if self._reader.fault:
            self._is_over = True
            self._break_off("a report that was broken off", at)
            start, rest = self._reader.take_rest()
            self._keep(self._results.settled(at))
            self._facts += self._unreadable.feed(start, rest, at, self._reader.fault)
        self._facts += self._results.flush(at)
        return self._take_facts()

    def lost(self, at: Instant) -> list[Fact]:
        """What waits for its end becomes noise."""
        self._break_off("a report that was broken off when the link was lost", at)
        if not self._reader.fault:
            start, rest = self._reader.take_rest()
            if rest:
                why = "cut off when the link was lost"
                self._facts.append(Noise(at, rest, start, start + len(rest), why))
        self._facts += self._unreadable.lost(at)
        self._is_over = True
        self._out = []
        return self._take_facts()

    def _take_facts(self) -> list[Fact]:
        facts, self._facts = self._facts, []
        return facts

    def _keep(self, facts: list[Fact]) -> None:
        self._facts += facts

    def _expire(self, now: Instant) -> None:
        for report in self._packets.expire(now):
            self._report(report, now)

    def _break_off(self, why: str, at: Instant) -> None:
        for report in self._packets.break_off(why):
            self._report(report, at)

    def _hear(self, transfer: Transfer, at: Instant) -> None:
        pipe = transfer.pipe
        if pipe is Pipe.INTERRUPT_IN and transfer.status is Status.DONE:
            if self._is_over:
                return
            for report in self._packets.hear(transfer, at):
                self._report(report, at)
            self._place = transfer.end
            return
        self._break_off("a report that something else broke into", at)
        self._place = transfer.end
        span = Span((transfer,))
        if pipe is Pipe.OPENED:
            self._opened(transfer, span, at)
        elif pipe is Pipe.CONTROL:
            self._control(transfer, span, at)
        elif pipe is Pipe.INTERRUPT_IN:
            self._results.interrupted()
            if transfer.status is Status.STALLED:
                self._noise(span, at, "a packet was lost: the interrupt pipe stalled")
            else:
                text = "its reports cannot be read: unplug it and plug it in again"
                self._notice(NoticeKind.TROUBLE, span, at, text)
        else:
            self._noise(span, at, f"a transfer that nobody asked for: {pipe.name}")

    def _report(self, report: Report, at: Instant) -> None:
        if report.fault:
            self._results.interrupted()
            self._noise(report.span, at, report.fault)
        elif self._plan is None or self._sets:
            self._noise(report.span, at, "it came before the device was known and set up")
        else:
            self._keep(self._results.heard(self._plan, report.data, report.span, at))

    # -- setting up ------------------------------------------------------------------------------

    def _opened(self, transfer: Transfer, span: Span, at: Instant) -> None:
        try:
            device = Description.from_bytes(transfer.data)
        except ValueError as wrong:
            self._noise(span, at, f"no description of a device: {wrong}")
            return
        self._device = device
        self._plan = self._take_plan = self._reports = None
        self._packets = Packets(device.packet_bytes, None)
        self._is_over = False
        self._tries = 0
        self._out = [request.get_descriptor(device.interface)]
        if device.serial_number:
            self._notice(NoticeKind.IDENTITY, span, at, device.serial_number)
        if not device.interrupt_in and self._profile.by.value != "take":
            text = "the device has no pipe for reports; next: mend the profile of the instrument"
            self._give_up(at, text)

    def _control(self, transfer: Transfer, span: Span, at: Instant) -> None:
        data, status = transfer.data, transfer.status
        if len(data) < request.SETUP_BYTES or self._device is None:
            self._noise(span, at, "an answer that nobody asked for")
        elif self._is_over:
            return
        elif data[:4] == request.GET_DESCRIPTOR:
            self._descriptor(data[request.SETUP_BYTES :], status, at)
        elif data[:2] == request.SET_IDLE:
            return  # a device need not know it (7.2.4)
        elif data[:2] == request.SET_REPORT and self._sets:
            self._was_set(status, at)
        elif self._is_set_up and self._profile.take is not None:
            self._took(transfer, span, at)
        else:
            self._noise(span, at, "an answer that nobody asked for")

    def _descriptor(self, data: bytes, status: Status, at: Instant) -> None:
        device, profile = self._device, self._profile
        if device is None or self._plan is not None:
            return
        self._tries += 1
        if status is not Status.DONE or not data:
            if self._tries < TRIES:
                self._out.append(request.get_descriptor(device.interface))
                return
            why = _WORDS.get(status, "it is empty")
            if profile.needs_descriptor:
                self._give_up(
                    at,
                    f"its report descriptor cannot be read ({why}): nothing is read of it; next: "
                    "unplug it and plug it in again",
                )
                return
        else:
            self._reports = report_map(data)
        reports = self._reports
        if reports is not None and is_keyboard(reports):
            self._give_up(at, REFUSED)
            return
        plans = make_plans(profile, reports)
        if isinstance(plans, str):
            self._give_up(at, plans)
            return
        self._plan, self._take_plan = plans
        self._packets = Packets(device.packet_bytes, reports)
        self._set_up(device)

    def _set_up(self, device: Description) -> None:
        self._tries = 0
        if self._profile.idle_units is not None:
            self._out.append(request.set_idle(device.interface, self._profile.idle_units))
        self._sets = list(self._profile.start)
        for one in self._sets:
            self._ask(one, device)
        self._after_set_up()

    def _was_set(self, status: Status, at: Instant) -> None:
        device = self._device
        assert device is not None
        if status is Status.DONE:
            self._sets.pop(0)
            self._after_set_up()
            return
        self._tries += 1
        if self._tries < TRIES:
            self._ask(self._sets[0], device)
            # What stands behind it was sent and is answered in its turn.
            self._sets.append(self._sets.pop(0))
            return
        self._give_up(
            at,
            f"it cannot be set up as the profile says ({_WORDS.get(status, '')}): nothing is read "
            "of it; next: mend the profile's start reports, or unplug it and plug it in again",
        )

    def _after_set_up(self) -> None:
        take, device = self._profile.take, self._device
        if self._is_set_up and self._takes and take is not None and device is not None:
            self._takes = 0
            self._ask(take, device)

    def _took(self, transfer: Transfer, span: Span, at: Instant) -> None:
        """The answer to a take: a report, or that the device was told."""
        take, data, plan = self._profile.take, transfer.data, self._take_plan
        assert take is not None
        assert plan is not None
        is_told = data[:2] == request.SET_REPORT and take.data is not None
        is_given = data[:2] == request.GET_REPORT and take.data is None
        if not (is_told or is_given) or data[2:4] != bytes([take.report, take.kind]):
            self._noise(span, at, "an answer that nobody asked for")
        elif transfer.status is not Status.DONE:
            why = _WORDS.get(transfer.status, "")
            self._notice(NoticeKind.TROUBLE, span, at, f"nothing was taken: {why}")
        elif is_told:
            self._results.await_taken()
        elif len(data) - request.SETUP_BYTES < (self._length(take) or 0):
            self._noise(span, at, "a report that is too short")
        else:
            self._keep(self._results.taken(plan, data[request.SETUP_BYTES :], span, at))

    def _give_up(self, at: Instant, text: str) -> None:
        self._is_over = True
        self._out = []
        self._inferred(NoticeKind.TROUBLE, at, text)

    # -- facts -----------------------------------------------------------------------------------

    def _noise(self, span: Span, at: Instant, why: str) -> None:
        self._keep(self._results.settled(at))
        self._facts.append(Noise(at, span.raw(), span.start, span.end, why))

    def _notice(self, kind: NoticeKind, span: Span, at: Instant, text: str) -> None:
        self._keep(self._results.settled(at))
        self._facts.append(Notice(kind, at, span.raw(), span.start, span.end, text))

    def _inferred(self, kind: NoticeKind, at: Instant, text: str) -> None:
        """A notice that no bytes said: it stands behind all that was heard."""
        self._keep(self._results.settled(at))
        self._facts.append(Notice(kind, at, b"", self._place, self._place, text))
