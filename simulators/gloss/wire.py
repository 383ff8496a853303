"""The two layouts, as their public description states them: facts to lines. Pure.

`press` sends on its own: ``BODY*HH`` and CR LF, HH the exclusive or of all bytes of the body.
`asked` answers: CR alone, no checksum, decimal comma, 60 degrees only.
"""

from __future__ import annotations

from functools import reduce
from operator import xor

PRESS_END = b"\r\n"
ASKED_END = b"\r"

PRESS_COUNT_WRAPS = 9999
ASKED_ANGLE = 60

# One wrong bit on a bare line gives another letter or digit, which only the checksum tells. On a
# line with parity the receiver knows it: the byte is then none of its seven-bit letters.
PRESS_FLIP = 0x01
ASKED_FLIP = 0x80


def press_line(body: str) -> bytes:
    """A body with its checksum and terminator."""
    data = body.encode("ascii")
    return data + b"*%02X" % reduce(xor, data, 0) + PRESS_END


def press_started(serial: str, firmware: str) -> bytes:
    return press_line(f"B,{serial},{firmware}")


def press_result(count: int, angle: int, tenths: int | None) -> bytes:
    """`tenths` None is above the range."""
    value = "----" if tenths is None else decimal(tenths, ".")
    return press_line(f"R,{count:04d},{angle},{value},GU")


def press_adjusted(count: int) -> bytes:
    return press_line(f"A,{count:04d}")


def press_identity(serial: str) -> bytes:
    return press_line(f"I,{serial}")


def press_failed(count: int, code: str) -> bytes:
    return press_line(f"E,{count:04d},{code}")


def asked_line(body: str) -> bytes:
    return body.encode("ascii") + ASKED_END


def asked_result(count: int, tenths: int | None) -> bytes:
    """`tenths` None is above the range."""
    value = "OVER" if tenths is None else f"{decimal(tenths, ','):>6} GU"
    return asked_line(f"{count} {ASKED_ANGLE} {value}")


def asked_identity(serial: str) -> bytes:
    return asked_line(f"S {serial}")


ASKED_NONE = asked_line("NONE")
ASKED_ADJUSTED = asked_line("ADJ")
ASKED_UNKNOWN = asked_line("ERR")


def decimal(tenths: int, point: str) -> str:
    """One decimal; a sign only below zero, so that nothing reads as a negative zero."""
    whole, tenth = divmod(abs(tenths), 10)
    return f"{'-' if tenths < 0 else ''}{whole}{point}{tenth}"


class Commands:
    """Cuts what the host sends into commands. One that is too long to be any is an empty one
    with a mark: it is unknown, whatever it began with.
    """

    LIMIT_BYTES = 64
    TOO_LONG = b"\x00"

    def __init__(self, end: bytes) -> None:
        self._end = end
        self._rest = b""
        self._spoilt = False

    def feed(self, data: bytes) -> list[bytes]:
        """The commands that these bytes complete, without their terminators."""
        *whole, self._rest = (self._rest + data).split(self._end)
        if whole and self._spoilt:
            whole[0], self._spoilt = self.TOO_LONG, False
        if len(self._rest) > self.LIMIT_BYTES:
            # The last byte stays: it may be the first of a terminator.
            self._rest, self._spoilt = self._rest[-1:], True
        return [c if len(c) <= self.LIMIT_BYTES else self.TOO_LONG for c in whole]

    def forget(self) -> None:
        self._rest, self._spoilt = b"", False
