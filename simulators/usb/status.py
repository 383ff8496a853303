"""Status and error queue of an instrument (IEEE 488.2, clause 11; SCPI-1999 volume 2, clause 21).

Pure: bits in, reasons for a service request out.
"""

from __future__ import annotations

from collections import deque

QUERY_ERROR, DEVICE_ERROR, EXECUTION_ERROR, COMMAND_ERROR, POWER_ON = 4, 8, 16, 32, 128
ERRORS_BIT, MESSAGE_BIT, EVENT_BIT, REQUEST_BIT = 4, 16, 32, 64
MOST_ERRORS = 10


class Status:
    """The registers. `own` are the bits 0 and 1, which are the device's own."""

    def __init__(self) -> None:
        self.own = 0
        self.message_waits = False
        self.event = POWER_ON
        self.event_enable = 0
        self.service_enable = 0
        self.requested = False
        self._errors: deque[str] = deque()
        self._seen = 0

    def error(self, entry: str, event: int) -> None:
        """Put an error in the queue."""
        self.event |= event
        self._errors.append(entry)
        if len(self._errors) > MOST_ERRORS:
            self._errors.pop()
            self._errors[-1] = '-350,"Queue overflow"'
            self.event |= DEVICE_ERROR

    def take_error(self) -> str:
        """The oldest entry, taken out."""
        return self._errors.popleft() if self._errors else '0,"No error"'

    def take_event(self) -> int:
        """The event register, which is cleared."""
        event, self.event = self.event, 0
        return event

    def clear(self) -> None:
        """As `*CLS` does."""
        self._errors.clear()
        self.event = 0
        self.own = 0

    @property
    def byte(self) -> int:
        """The status byte without bit 6."""
        return (
            self.own
            | (ERRORS_BIT if self._errors else 0)
            | (MESSAGE_BIT if self.message_waits else 0)
            | (EVENT_BIT if self.event & self.event_enable else 0)
        )

    @property
    def summary(self) -> int:
        """The status byte with bit 6 as the summary of all enabled bits, for `*STB?`."""
        return self.byte | (REQUEST_BIT if self.byte & self.service_enable else 0)

    @property
    def polled(self) -> int:
        """The status byte with bit 6 as the service request."""
        return self.byte | (REQUEST_BIT if self.requested else 0)

    def take_polled(self) -> int:
        """As a serial poll takes it: the request is then withdrawn."""
        polled, self.requested = self.polled, False
        return polled

    def asks(self) -> bool:
        """Look for a new reason to ask for service: an enabled bit that was not set before."""
        now = self.byte & self.service_enable
        new, self._seen = now & ~self._seen, now
        self.requested = self.requested or bool(new)
        return bool(new)
