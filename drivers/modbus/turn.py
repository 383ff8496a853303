"""When the line is free for a request: silence between frames, answers still owed. Pure.

One object a connection, one thread.
"""

from __future__ import annotations

from acquire.model import Instant
from drivers.modbus.profile import ModbusProfile
from drivers.modbus.request import Request


def later(at: Instant, ns: int) -> Instant:
    """So many nanoseconds later, on both clocks."""
    return Instant(at.utc_ns + ns, at.mono_ns + ns)


def mono(at: Instant) -> int:
    """What moments are ordered by."""
    return at.mono_ns


class Turn:
    """Whose turn it is to speak."""

    def __init__(self, profile: ModbusProfile) -> None:
        self._quiet_ns = profile.quiet_ns
        self._within_ns = profile.within_ns
        # On TCP an answer says to which request it belongs.
        self._may_be_mistaken = profile.is_rtu
        self._last_byte: Instant | None = None
        self._free: Instant | None = None
        self._owed: Request | None = None
        self._owed_until: Instant | None = None

    def heard(self, at: Instant) -> None:
        """Bytes came."""
        self._last_byte = at

    def answered(self, sent: Instant, at: Instant) -> None:
        """A request that was sent at one moment was answered at another."""
        self._free = at
        if self._owed_until is not None:
            # One answer of several sendings: another one may follow, and belongs to nothing.
            was_sent_again = sent.mono_ns < self._owed_until.mono_ns
            self._owed = None
            self._owed_until = later(sent, self._within_ns) if was_sent_again else None

    def unanswered(self, request: Request, at: Instant) -> None:
        """The time of a request was up."""
        self._free = at
        if self._may_be_mistaken:
            self._owed, self._owed_until = request, later(at, self._within_ns)

    def free_for(self, request: Request) -> Instant | None:
        """From when on a request may be sent; None for at once."""
        quiet = None if self._last_byte is None else later(self._last_byte, self._quiet_ns)
        if quiet is not None and self._free is not None:
            # A line that never falls silent is spoken to all the same: its silence is told then.
            spoken_to_ns = self._free.mono_ns + self._within_ns
            if spoken_to_ns < quiet.mono_ns:
                quiet = later(self._free, self._within_ns)
        owed = self._owed_until
        if owed is None or request == self._owed:
            return quiet
        return owed if quiet is None else max(quiet, owed, key=mono)
