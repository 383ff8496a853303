"""Whose result was read: it is held until the device has told its name after it. Pure.

A device that was exchanged before its result was read gives its own name; one that is exchanged in
between makes the result of before one of nobody who was checked. Only an exchange there and back
again between two requests stays unseen. One object a connection, one thread.
"""

from __future__ import annotations

from collections.abc import Callable

from acquire.model import Instant, Notice, NoticeKind
from drivers.modbus.awaited import Answer
from drivers.modbus.meter import FactList

UNKNOWN = "unknown"
"""The serial number of a device that should tell one and did not."""
MOST_BEHIND = 64
"""So many facts wait behind a result at most: on a line that is all noise nobody tells a name."""


class Who:
    """`is_asked`: results are held at all."""

    def __init__(self, facts: FactList, *, is_asked: bool) -> None:
        self.is_asked = is_asked
        self._facts = facts
        self._name = ""
        self._result: Callable[[], None] | None = None
        self._at = Instant(0, 0)
        self._start = 0

    @property
    def holds(self) -> bool:
        """Whether a result waits for a name."""
        return self._result is not None

    @property
    def is_unknown(self) -> bool:
        """Whether it was asked in vain the last time, so that more than one try costs too much."""
        return self._name == UNKNOWN

    def hold(self, result: Callable[[], None], at: Instant, start: int) -> None:
        """Hold what was read at a moment, from this place in the stream on."""
        self._result, self._at, self._start = result, at, start
        self._facts.hold()

    def answers(self, serial: str, answer: Answer, at: Instant) -> None:
        """It told its name. A notice of it, but where it confirms what is known."""
        is_confirmed = self.holds and serial == self._name
        self._release(serial)
        self._name = serial
        if not is_confirmed:
            self._facts.give(
                Notice(NoticeKind.IDENTITY, at, answer.data, answer.start, answer.end, serial)
            )

    def stays_unknown(self) -> None:
        """Nobody told a name to the result that is held: it is of nobody known."""
        if self.holds:
            self._release(UNKNOWN)
            self._name = UNKNOWN

    def waits_no_longer_than_it_may(self) -> None:
        """Give up the name on a line that is all noise."""
        if self._facts.held >= MOST_BEHIND:
            self.stays_unknown()

    def _release(self, serial: str) -> None:
        result, self._result = self._result, None
        if result is None:
            return

        def come() -> None:
            if serial != self._name:
                # Before the result, so that it counts for nobody else.
                self._facts.notice(NoticeKind.IDENTITY, self._at, self._start, serial)
            result()

        self._facts.release(come)
