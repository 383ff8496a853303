"""Presses that say in other lines, bytes or numbers than that of the value how they went."""

from __future__ import annotations

import random
import struct
from decimal import Decimal

from tests.learning.trap import Fail, Send, Trap
from tests.learning.traps_binary import steps


def _sent(text: str) -> bytes:
    return text.encode("latin-1")


def _lines(form: str, good: str, *bad: str) -> Trap:
    """Lines of this form with a word for a good press, and other ones for a failed one."""

    def send(v: Decimal, n: int, r: random.Random) -> bytes:
        return _sent(form.format(v=v, s=good))

    def fail(v: Decimal, n: int, r: random.Random) -> list[bytes]:
        return [_sent(form.format(v=v, s=word)) for word in bad]

    return Trap(send, fail)


def _frame(v: Decimal) -> bytes:
    return b"\xa5\x01" + struct.pack(">H", steps(v)) + b"\x0d"


_ERROR = b"\xa5\xee\x00\x01\x0d"


def _framed(v: Decimal, n: int, r: random.Random) -> bytes:
    return _frame(v)


def _beside(before: tuple[bytes, ...], behind: tuple[bytes, ...]) -> Trap:
    """Bytes close before or behind a frame, of a press that failed only."""

    def fail(v: Decimal, n: int, r: random.Random) -> list[bytes]:
        return [*(one + _frame(v) for one in before), *(_frame(v) + one for one in behind)]

    return Trap(_framed, fail)


def _varied(v: Decimal, n: int, r: random.Random, status: str = "") -> bytes:
    return _sent(f"S{status or r.choice('01')}\r\n{v:.1f} GU\r\n")


def _counted(form: str, *bad: str) -> Trap:
    """Lines of this form with a count `n`; of failed presses, too."""
    send: Send = lambda v, n, r: _sent(form.format(v=v, n=n % 1000))  # noqa: E731
    fail: Fail = lambda v, n, r: [_sent(one.format(v=v, n=n % 1000)) for one in bad]  # noqa: E731
    return Trap(send, fail)


PRESSES: dict[str, Trap] = {
    "a status line before": _lines("{s}\r\n{v:.1f} GU\r\n", "OK", "ERR", "LOW", "E1", "ERR 7 LAMP"),
    "a status line behind": _lines("{v:.1f} GU\r\n{s}\r\n", "OK", "ERR", "FAIL", "E1"),
    "a status line of a failed press only": Trap(
        lambda v, n, r: _sent(f"{v:.1f} GU\r\n"),
        lambda v, n, r: [_sent(f"{v:.1f} GU\r\nERR\r\n"), _sent(f"E 7\r\n{v:.1f} GU\r\n")],
    ),
    "a status line that varies": Trap(
        _varied, lambda v, n, r: [_varied(v, n, r, status) for status in "789"]
    ),
    "a status line that is missing": Trap(
        lambda v, n, r: _sent(f"READY\r\n{v:.1f}\r\n"),
        lambda v, n, r: [_sent(f"{v:.1f}\r\n"), _sent(f"READY\r\n{v:.1f}\r\n{v:.1f}\r\n")],
    ),
    "the same line twice, which part": Trap(
        lambda v, n, r: _sent(f"{v:.1f}\r\n{v:.1f}\r\n"),
        lambda v, n, r: [_sent(f"{v:.1f}\r\n---\r\n"), _sent(f"---\r\n{v:.1f}\r\n")],
    ),
    "the number twice in a line": Trap(
        lambda v, n, r: _sent(f"L{v:.1f} M{v:.1f}\r\n"),
        lambda v, n, r: [_sent(f"L{v:.1f} M{v + 1:.1f}\r\n"), _sent(f"L0.0 M{v + 1:.1f}\r\n")],
    ),
    "bytes beside a frame": _beside((b"\x01", b"\xee", b"\x80"), (b"\x01", b"\xee", b"\x80")),
    "an error frame beside a frame": _beside((_ERROR,), (_ERROR,)),
    "a status digit behind a count": _counted(
        "{n:03d}0 {v:.1f}\r\n", *(f"{{n:03d}}{s} {{v:.1f}}\r\n" for s in "1359")
    ),
    "a status digit before a count": _counted(
        "0{n:03d} {v:.1f}\r\n", *(f"{s}{{n:03d}} {{v:.1f}}\r\n" for s in "1359")
    ),
    "a count that stands twice": _counted(
        "{n};{n};{v:.1f}\r\n", "{n};0;{v:.1f}\r\n", "{n};-1;{v:.1f}\r\n", "9{n};{n};{v:.1f}\r\n"
    ),
    "a status of three digits in a row": Trap(
        lambda v, n, r: _sent(f"{n % 4},{v:.1f}\r\n"),
        lambda v, n, r: [_sent(f"{s},{v:.1f}\r\n") for s in ("9", "12", "-1", "99")],
    ),
}  # fmt: skip
