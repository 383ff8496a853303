"""Lines in which something is hidden that the first presses do not show."""

from __future__ import annotations

import random
from collections.abc import Callable
from decimal import Decimal

from tests.learning.trap import Fail, Send, Trap


def _line(form: Callable[[Decimal, int, random.Random], str]) -> Send:
    return lambda v, n, r: f"{form(v, n, r)}\r\n".encode("latin-1")


def _lines(form: Callable[[Decimal, int, str], str], said: tuple[str, ...]) -> Fail:
    return lambda v, n, r: [f"{form(v, n, word)}\r\n".encode("latin-1") for word in said]


def _said(
    form: Callable[[Decimal, int, str], str], good: tuple[str, ...], bad: tuple[str, ...]
) -> Trap:
    """A word or number that is one of some in a good press and another one in a failed one."""
    return Trap(_line(lambda v, n, r: form(v, n, r.choice(good))), _lines(form, bad))


def _short(value: Decimal) -> str:
    """Four digits, wherever the point is."""
    return f"{value:.2f}" if value < 100 else f"{value:.1f}"


TEXTS: dict[str, Trap] = {
    "a number says how it went": _said(
        lambda v, n, s: f"{v:.1f},{s}", ("0", "0", "0", "1", "4"), ("8", "16", "128", "2")
    ),
    "two digits say how it went": _said(
        lambda v, n, s: f"{s} {v:.1f} GU", ("00", "00", "10"), ("01", "20", "90", "11")
    ),
    "hexadecimal digits say how it went": _said(
        lambda v, n, s: f"{v:.1f} GU {s}", ("0A", "0A", "0C"), ("8A", "FF", "00", "1C")
    ),
    "a letter says how it went": _said(
        lambda v, n, s: f"{v:.1f};{s}", ("S", "S", "U"), ("E", "O", "H", "L")
    ),
    "a word with a digit says how it went": _said(
        lambda v, n, s: f"{v:.1f};E{s}", ("0", "0", "0", "1"), ("2", "7", "12")
    ),
    "always the same number behind": _said(
        lambda v, n, s: f"{v:.1f} {s}", ("0",), ("1", "9", "-1")
    ),
    "a digit glued to implied decimals": _said(
        lambda v, n, s: f"{int(v * 10):06d}{s}", ("0",), ("1", "4", "5", "8")
    ),
    "a digit glued to its decimals": _said(
        lambda v, n, s: f"{v:.1f}{s}", ("0",), ("1", "4", "5", "8")
    ),
    "codes in the place of the number": Trap(
        _line(lambda v, n, r: f"{v:.1f} GU"),
        _lines(lambda v, n, s: f"{s} GU", ("9999.9", "-999.9", "---.-", "1E+9", "999.9", "E02")),
    ),
    "codes in the place of the number, force": Trap(
        _line(lambda v, n, r: f"{v:.2f} N"),
        _lines(lambda v, n, s: f"{s} N", ("9999.99", "-9999.99", "OL", "99999.99")),
        kind="force", decimals=2, display=("-50", "50"), taught=("1", "50"),
    ),
    "signs of a limit": Trap(
        _line(lambda v, n, r: f"{v:.1f}"),
        _lines(lambda v, n, s: f"{s}{v:.1f}", (">", "<", "~", "OVER ", "?")),
    ),
    "another unit": Trap(
        _line(lambda v, n, r: f"{v:.2f} N"),
        _lines(lambda v, n, s: f"{v:.2f} {s}", ("kN", "mN", "gf", "")),
        kind="force", decimals=2, display=("0", "50"), taught=("0.5", "50"),
    ),
    "its own range": Trap(
        _line(lambda v, n, r: f"V={_short(v)} N"),
        lambda v, n, r: [b"V=9.1234 N\r\n", b"V=0.003 N\r\n"],
        kind="force", decimals=1, display=("0", "500"), taught=("1", "500"),
    ),
    "a temperature beside": Trap(
        _line(lambda v, n, r: f"{r.uniform(18, 29):.1f};{v:.1f}"),
        lambda v, n, r: [b"21.3;---.-\r\n", b"ERR;91.4\r\n", b"21.3;999.9\r\n"],
    ),
    "a temperature in whole degrees": Trap(
        _line(lambda v, n, r: f"T {20 + n // 3 % 9} V {v:.1f} GU"),
        lambda v, n, r: [b"T ERR V 91.4 GU\r\n", b"T 22 V 999.9 GU\r\n"],
    ),
    "minus behind": Trap(
        _line(lambda v, n, r: f"{abs(v):6.2f}{'-' if v < 0 else ' '}N"),
        kind="force", decimals=2, display=("-50", "50"), taught=("0.5", "50"),
    ),
    "minus as brackets": Trap(
        _line(lambda v, n, r: f"({-v:.2f})N" if v < 0 else f" {v:.2f} N"),
        kind="force", decimals=2, display=("-50", "50"), taught=("0.5", "50"),
    ),
    "pull and push as words": Trap(
        _line(lambda v, n, r: f"{'T' if v < 0 else 'C'} {abs(v):.2f} N"),
        kind="force", decimals=2, display=("-50", "50"), taught=("0.5", "50"),
    ),
}  # fmt: skip
