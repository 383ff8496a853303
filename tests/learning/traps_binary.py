"""Frames in which something is hidden that the first presses do not show."""

from __future__ import annotations

import random
import struct
from decimal import Decimal

from tests.learning.trap import Trap

PULLS = ("-50", "50")
PUSHED = ("0.5", "50")


def steps(shown: Decimal, decimals: int = 1) -> int:
    """The displayed number as a whole number."""
    return int(shown.scaleb(decimals))


def packed(number: int, digits: int) -> bytes:
    """Packed decimals, highest first."""
    return bytes.fromhex(f"{number:0{digits}d}")


def _minus_on_a_count(v: Decimal, n: int, r: random.Random) -> bytes:
    minus = 0x80 if v < 0 else 0
    return b"\x55" + bytes([minus | n & 0x7F]) + struct.pack("<H", abs(steps(v))) + b"\x0a"


def _two_status_bits(v: Decimal, n: int, r: random.Random) -> bytes:
    return b"\xaa" + bytes([r.choice([0, 0, 0, 1, 2, 3])]) + struct.pack(">H", steps(v))


def _own_range(v: Decimal, n: int, r: random.Random) -> bytes:
    """Decimals in the bits 0 and 1 of its status, a weak battery in bit 4."""
    decimals = 2 if v < 100 else 1
    return b"\xaa" + bytes([decimals | r.choice([0, 0x10])]) + struct.pack(">H", steps(v, decimals))


def _sign_on_top(v: Decimal, n: int, r: random.Random) -> bytes:
    minus = 0x8000 if v < 0 else 0
    return b"\x55" + struct.pack(">H", abs(steps(v, 2)) | minus) + b"\x0a"


def _sign_on_top_of_a_byte(v: Decimal, n: int, r: random.Random) -> bytes:
    return b"\x55\x01" + bytes([abs(int(v)) | (0x80 if v < 0 else 0)]) + b"\x0a"


def _half_digit(v: Decimal, n: int, r: random.Random) -> bytes:
    """Three digits and a half; in the nibble of the half one minus and over, too."""
    number = abs(steps(v))
    top = number // 1000 | (2 if v < 0 else 0)
    return b"\xa0" + bytes([n & 0xFF, top << 4 | number // 100 % 10]) + packed(number % 100, 2)


def _flags(v: Decimal, n: int, r: random.Random, flag: int = 0) -> bytes:
    return b"\x7e" + struct.pack(">H", steps(v) | flag) + bytes([n & 0xFF])


def _status_behind_digits(v: Decimal, n: int, r: random.Random, status: str = "0") -> bytes:
    return f"\x02{steps(v):06d}{status}\r".encode() + bytes([0xFE])


def _status_before_digits(v: Decimal, n: int, r: random.Random, status: str = "0") -> bytes:
    return b"\xfe" + f"{status}{steps(v):05d}".encode()


def _letter_behind_digits(v: Decimal, n: int, r: random.Random, status: str = "") -> bytes:
    return b"\xa5" + f"{v:06.1f}{status or r.choice('ABB')}".encode()


def _packed_with_sign(v: Decimal, n: int, r: random.Random, sign: str = "C") -> bytes:
    return b"\x02" + bytes.fromhex(f"{steps(v):05d}{sign}") + b"\x03"


def _sign_in_front(v: Decimal, n: int, r: random.Random) -> bytes:
    return b"\x02" + (b"-" if v < 0 else b"+") + packed(abs(steps(v, 2)), 6) + b"\x03"


def _ready(v: Decimal, n: int, r: random.Random, status: int = 0x40) -> bytes:
    return b"\xa5" + bytes([status, r.randrange(16)]) + struct.pack("<f", float(v))


def _range_byte(v: Decimal, n: int, r: random.Random) -> bytes:
    """Above a hundred it sends whole numbers and says so in a byte."""
    is_high = v >= 100
    number = int(v) if is_high else steps(v)
    return b"\x3c" + bytes([1 if is_high else 0]) + struct.pack("<H", number) + b"\x3e"


def _slow(v: Decimal, n: int, r: random.Random, flag: int = 0) -> bytes:
    return b"\xaa" + struct.pack("<HH", steps(v), r.randrange(225, 232) | flag) + b"\x55"


def _time(v: Decimal, n: int, r: random.Random, flag: int = 0) -> bytes:
    at = (n * 977 + r.randrange(900)) & 0x3FFFFF
    return b"\xaa" + struct.pack("<IH", at | flag, steps(v))


def _count_of_a_nibble(v: Decimal, n: int, r: random.Random, flag: int = 0) -> bytes:
    return b"\xaa" + bytes([flag | n & 0x0F]) + struct.pack("<H", steps(v))


def _count_of_a_byte(v: Decimal, n: int, r: random.Random, flag: int = 0) -> bytes:
    return b"\xaa" + struct.pack(">BH", n & 0x7F | flag, steps(v))


def _count_before_a_status(v: Decimal, n: int, r: random.Random, status: int = 0) -> bytes:
    return b"\xaa\x55" + bytes([n & 0xFF, status]) + struct.pack("<H", steps(v))


def _status_before_a_count(v: Decimal, n: int, r: random.Random, status: int = 0) -> bytes:
    return b"\xaa\x55" + bytes([status, n & 0xFF]) + struct.pack(">h", steps(v)) + b"\x0d"


def _many_ranges(v: Decimal, n: int, r: random.Random, code: int = -1) -> bytes:
    """Decimals are told by three bits: a code that was not seen is none."""
    decimals = 2 if v < 20 else 1
    said = decimals if code < 0 else code
    return b"\xaa\x01" + bytes([said]) + struct.pack(">H", steps(v, decimals))


def _sentinel(form: str, numbers: tuple[float, ...]) -> list[bytes]:
    return [b"\xa5\x01" + struct.pack(form, number) + b"\x03" for number in numbers]


def _integer(form: str, decimals: int) -> Trap:
    bits = 8 * struct.calcsize(form)
    ends = (-(1 << bits - 1), (1 << bits - 1) - 1, -1, 9999)
    return Trap(
        lambda v, n, r: b"\xa5\x01" + struct.pack(form, steps(v, decimals)) + b"\x03",
        lambda v, n, r: _sentinel(form, ends),
        decimals=decimals,
    )


def _floating(form: str) -> Trap:
    ends = (float("nan"), float("inf"), 9.9e37, -1e30, 1e9, 1e6, 99999.0, -999.0)
    return Trap(
        lambda v, n, r: b"\xa5\x01" + struct.pack(form, float(v)) + b"\x03",
        lambda v, n, r: _sentinel(form, ends),
    )


FORCE = {"kind": "force", "decimals": 2}
BINARIES: dict[str, Trap] = {
    "minus in the top bit of a count": Trap(_minus_on_a_count, display=("-9", "120")),
    "minus in the top bit of a count, force": Trap(
        _minus_on_a_count, kind="force", display=PULLS, taught=PUSHED
    ),
    "two bits of a status byte change": Trap(
        _two_status_bits,
        lambda v, n, r: [
            b"\xaa" + bytes([bit]) + struct.pack(">H", steps(v)) for bit in (0x80, 0x40, 0x20, 0x10)
        ],
    ),
    "decimals and battery in one byte": Trap(
        _own_range, kind="force", decimals=2, display=("0.01", "99.99"), taught=("1", "99.99")
    ),
    "decimals and battery, taught on large ones": Trap(
        _own_range, kind="force", decimals=1, display=("0.1", "500"), taught=("100", "500"),
    ),
    "sign and magnitude, pushes only": Trap(
        _sign_on_top, kind="force", decimals=2, display=PULLS, taught=PUSHED
    ),
    "sign and magnitude, small pushes": Trap(
        _sign_on_top, kind="force", decimals=2, display=PULLS, taught=("0.5", "9")
    ),
    "sign and magnitude in one byte": Trap(
        _sign_on_top_of_a_byte, decimals=0, display=("-20", "120"), taught=("1", "120")
    ),
    "three digits and a half": Trap(
        _half_digit,
        lambda v, n, r: [bytes([0xA0, n & 0xFF, top, 0]) for top in (0x40, 0x50)],
        display=("-5", "199.9"), taught=("1", "199.9"),
    ),
    "flags above twelve bits": Trap(
        _flags,
        lambda v, n, r: [_flags(v, n, r, flag) for flag in (0x8000, 0x4000, 0x2000, 0x1000)],
    ),
    "flags above twelve bits, force": Trap(
        _flags,
        lambda v, n, r: [_flags(v, n, r, flag) for flag in (0x8000, 0x4000, 0x2000, 0x1000)],
        kind="force", display=("0", "50"), taught=("0.5", "50"),
    ),
    "codes in int16": _integer(">h", 1),
    "codes in int16, lowest first": _integer("<h", 1),
    "codes in int32": _integer(">i", 1),
    "codes in binary32": _floating(">f"),
    "codes in binary64": _floating("<d"),
    "a status digit behind the digits": Trap(
        _status_behind_digits,
        lambda v, n, r: [_status_behind_digits(v, n, r, s) for s in "14578"],
    ),
    "a status digit before the digits": Trap(
        _status_before_digits,
        lambda v, n, r: [_status_before_digits(v, n, r, s) for s in "14578"],
    ),
    "a letter behind the digits": Trap(
        _letter_behind_digits,
        lambda v, n, r: [_letter_behind_digits(v, n, r, s) for s in "EHLX"],
    ),
    "sign nibbles of packed decimals": Trap(
        _packed_with_sign, lambda v, n, r: [_packed_with_sign(v, n, r, s) for s in "ABEF"]
    ),
    "a sign in front of packed decimals": Trap(
        _sign_in_front, kind="force", decimals=2, display=PULLS, taught=PUSHED
    ),
    "a ready bit": Trap(
        _ready, lambda v, n, r: [_ready(v, n, r, status) for status in (0, 0x41, 0xC0)]
    ),
    "a range that was not shown": Trap(_range_byte, display=("0", "500"), taught=("1", "99.9")),
    "a flag on a temperature": Trap(
        _slow, lambda v, n, r: [_slow(v, n, r, flag) for flag in (0x8000, 0x0400, 0x0800)]
    ),
    "a flag on a time": Trap(
        _time, lambda v, n, r: [_time(v, n, r, flag) for flag in (1 << 31, 1 << 30, 1 << 24)]
    ),
    "a fault in the top bit of a count": Trap(
        _count_of_a_nibble, lambda v, n, r: [_count_of_a_nibble(v, n, r, 0x80)]
    ),
    "a fault in the top bit of a count of seven bits": Trap(
        _count_of_a_byte, lambda v, n, r: [_count_of_a_byte(v, n, r, 0x80)]
    ),
    "a status of zeros behind a count": Trap(
        _count_before_a_status,
        lambda v, n, r: [_count_before_a_status(v, n, r, s) for s in (1, 2, 3, 0x80, 0xFF)],
    ),
    "a status of zeros before a count": Trap(
        _status_before_a_count,
        lambda v, n, r: [_status_before_a_count(v, n, r, s) for s in (1, 2, 3, 0x80, 0xFF)],
    ),
    "a code of decimals that was not shown": Trap(
        _many_ranges,
        lambda v, n, r: [_many_ranges(v, n, r, code) for code in (0, 3, 4, 6, 7)],
        kind="force", decimals=1, display=("0.1", "200"), taught=("0.1", "200"),
    ),
}  # fmt: skip
