"""Frames whose state hides in what looks like a value, a count or the upper bits of a number."""

from __future__ import annotations

import random
import struct
from decimal import Decimal

from tests.learning.trap import Trap
from tests.learning.traps_binary import packed, steps


def _said(v: Decimal, n: int, r: random.Random, status: int = 0) -> bytes:
    """Good presses say 1 or 2."""
    return b"\xaa" + bytes([status or r.choice([1, 2])]) + struct.pack(">H", steps(v)) + b"\x0d"


def _no_status(v: Decimal, n: int, r: random.Random) -> bytes:
    return b"\xaa\x00" + struct.pack(">H", steps(v)) + b"\x0d"


def _letter(v: Decimal, n: int, r: random.Random, letter: str = "") -> bytes:
    return b"\xa5" + f"{v:06.1f}{letter or r.choice('AB')}".encode()


def _digit_before(v: Decimal, n: int, r: random.Random, digit: str = "") -> bytes:
    return f"{digit or r.choice('12')}{v:05.1f}\r\n".encode()


def _two_counts(v: Decimal, n: int, r: random.Random, flag: int = 0) -> bytes:
    return b"\xaa" + bytes([n & 0xFF]) + struct.pack(">H", steps(v)) + bytes([n + 5 & 15 | flag])


def _counted_to(bits: int) -> Trap:
    """A count of so many bits, and a flag in the next one: where it starts again, too."""
    low = (1 << bits) - 1
    return Trap(
        lambda v, n, r: b"\xaa" + bytes([n & low]) + struct.pack(">H", steps(v)),
        lambda v, n, r: [b"\xaa" + bytes([n & low | low + 1]) + struct.pack(">H", steps(v))],
    )


def _counted_number(form: str, taught: tuple[str, str], decimals: int = 1) -> Trap:
    """Taught on numbers of one byte, with the count where the upper byte could be its own."""
    is_big = form[0] == ">"

    def send(v: Decimal, n: int, r: random.Random) -> bytes:
        number, count = struct.pack(form, steps(v, decimals)), bytes([n & 0xFF])
        return b"\xaa" + (count + number if is_big else number + count) + b"\x0d"

    return Trap(send, decimals=decimals, taught=taught)


def _above(form: str, most: str, decimals: int, kind: str) -> Trap:
    """A flag in each bit that the largest number of the display does not need."""
    top = steps(Decimal(most), decimals).bit_length()
    flags = [1 << bit for bit in range(top, 8 * struct.calcsize(form) - 1)]

    def send(v: Decimal, n: int, r: random.Random, flag: int = 0) -> bytes:
        return b"\x7e" + struct.pack(form, steps(v, decimals) | flag) + b"\x0d"

    return Trap(
        send, lambda v, n, r: [send(v, n, r, flag) for flag in flags],
        kind=kind, decimals=decimals, display=("0", most), taught=("0.5", most),
    )  # fmt: skip


def _packed_flag(v: Decimal, n: int, r: random.Random, flag: int = 0) -> bytes:
    data = packed(steps(v), 4)
    return b"\x02" + bytes([data[0] | flag]) + data[1:] + b"\x03"


STATES: dict[str, Trap] = {
    "a status of 1 or 2": Trap(
        _said, lambda v, n, r: [_said(v, n, r, 3), _no_status(v, n, r), _said(v, n, r, 0x42)]
    ),
    "a letter that is A or B": Trap(_letter, lambda v, n, r: [_letter(v, n, r, s) for s in "C@Q"]),
    "a digit in front that is 1 or 2": Trap(
        _digit_before, lambda v, n, r: [_digit_before(v, n, r, s) for s in "3890"]
    ),
    "a flag in a second count": Trap(
        _two_counts, lambda v, n, r: [_two_counts(v, n, r, 1 << bit) for bit in range(4, 8)]
    ),
    **{f"a flag above a count of {bits} bits": _counted_to(bits) for bits in range(2, 8)},
    "a count before a number of one byte": _counted_number(">H", ("0.1", "25.5")),
    "a count behind a small number": _counted_number("<H", ("0.1", "12.7")),
    "a count before a number to come that is wider": _counted_number(">I", ("1", "60"), 2),
    **{
        f"flags above {most} of {decimals} decimals, {kind}": _above(">H", most, decimals, kind)
        for most, decimals in (("100", 2), ("120", 2), ("100", 1))
        for kind in ("gloss", "force", "transmittance")
    },
    "flags above a signed number": _above("<h", "100", 2, "gloss"),
    "flags above a number of four bytes": _above(">I", "120", 2, "gloss"),
    "a flag above packed decimals": Trap(
        _packed_flag,
        lambda v, n, r: [_packed_flag(v, n, r, 1 << bit) for bit in range(4, 8)],
        display=("0", "99.9"), taught=("1", "99.9"),
    ),
}  # fmt: skip
