"""Packets of the interrupt pipe put together to reports (HID 1.11, 8.4, from memory).

A report that is longer than a packet comes in several, all of them full but the last; so a short
packet is an end whatever is missing, and the next packet begins anew. Pure; one thread.
"""

from __future__ import annotations

from typing import NamedTuple

from acquire.model import Instant
from acquire.wire.hid_field import ReportKind
from acquire.wire.hid_reports import ReportMap
from acquire.wire.transfer import Transfer
from drivers.hid.span import Span

WITHIN_NS = 1_000_000_000
"""Packets of one report follow on one another at the rate of the pipe, 255 ms at the slowest."""


class Report(NamedTuple):
    """A report, or with `fault` what was none and why."""

    data: bytes
    span: Span
    fault: str = ""


class Packets:
    """The packets of one connection. `reports` None: every packet is a report."""

    def __init__(self, packet_bytes: int, reports: ReportMap | None) -> None:
        self._packet_bytes = packet_bytes
        self._reports = reports
        self._part: list[Transfer] = []
        self._wanted = 0
        self._had = 0
        self._began_ns = 0

    @property
    def is_waiting(self) -> bool:
        """Whether a report has begun and is not whole."""
        return bool(self._part)

    def deadline(self, now: Instant) -> Instant:
        """When what waits is given up."""
        ns = max(0, self._began_ns + WITHIN_NS - now.mono_ns)
        return Instant(now.utc_ns + ns, now.mono_ns + ns)

    def hear(self, packet: Transfer, at: Instant) -> list[Report]:
        """The reports that this packet completes."""
        if not self._part:
            length = self._length(packet.data)
            if isinstance(length, str):
                return [Report(packet.data, Span((packet,)), length)]
            size = len(packet.data)
            if size >= length or size < self._packet_bytes:
                return [_whole(packet.data, length, Span((packet,)))]
            self._wanted, self._had, self._began_ns = length, 0, at.mono_ns
        self._part.append(packet)
        self._had += len(packet.data)
        if self._had < self._wanted and len(packet.data) >= self._packet_bytes:
            return []
        span = Span(tuple(self._part))
        data = b"".join(part.data for part in self._part)
        self._part = []
        return [_whole(data, self._wanted, span)]

    def break_off(self, why: str) -> list[Report]:
        """What waits is no report any more."""
        if not self._part:
            return []
        span = Span(tuple(self._part))
        self._part = []
        return [Report(b"", span, why)]

    def expire(self, now: Instant) -> list[Report]:
        """What time ends."""
        if self._part and now.mono_ns - self._began_ns >= WITHIN_NS:
            return self.break_off("a report whose last packets never came")
        return []

    def _length(self, data: bytes) -> int | str:
        if not data:
            return "an empty packet"
        if self._reports is None:
            return len(data)
        number = data[0] if self._reports.has_ids else 0
        length = self._reports.length(ReportKind.INPUT, number)
        if length is None:
            return f"no input report of the device has the number {number}"
        return length


def _whole(data: bytes, length: int, span: Span) -> Report:
    if len(data) < length:
        return Report(data, span, f"{len(data)} bytes of a report of {length}")
    # Some devices fill up to the packet; what is not zero there is another thing than was declared.
    if any(data[length:]):
        return Report(data, span, f"{len(data)} bytes where a report has {length}")
    return Report(data[:length], span)
