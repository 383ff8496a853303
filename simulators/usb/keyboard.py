"""A device that types its readings as if it were a keyboard: it has no data to speak of.

Such a device is there to be refused. Reports are those of a boot keyboard (HID 1.11, appendix
B.1); key codes are usages of page 07h (HID Usage Tables). One thread at a time.
"""

from __future__ import annotations

from collections import deque

# A modifier byte, a spare one, six keys; five lamps of a boot keyboard (HID 1.11, appendix E.6).
DESCRIPTOR = bytes.fromhex(
    "05 01 09 06 a1 01 05 07 19 e0 29 e7 15 00 25 01 75 01 95 08 81 02 95 01 75 08 81 01"
    "95 05 75 01 05 08 19 01 29 05 91 02 95 01 75 03 91 01"
    "95 06 75 08 15 00 25 65 05 07 19 00 29 65 81 00 c0"
)
_KEYS = {**{str(d): 0x1D + d for d in range(1, 10)}, "0": 0x27, "\n": 0x28, "-": 0x2D, ".": 0x37}


class Keyboard:
    """Types what it is told to."""

    descriptor = DESCRIPTOR

    def __init__(self) -> None:
        self._reports: deque[bytes] = deque()

    def power_on(self) -> None:
        self._reports.clear()

    def type(self, text: str) -> None:
        """Digits, sign, point and line feed. Raises KeyError for others."""
        for sign in text:
            self._reports.append(bytes((0, 0, _KEYS[sign], 0, 0, 0, 0, 0)))
            self._reports.append(bytes(8))

    def next_input(self) -> bytes | None:
        return self._reports.popleft() if self._reports else None

    def get(self, kind: int, number: int) -> bytes | None:
        return bytes(8) if (kind, number) == (1, 0) else None

    def set(self, kind: int, number: int, report: bytes) -> bool:
        return (kind, number) == (2, 0) and len(report) == 1
