"""Checksums of lines and blocks, each with its published check value. Pure; any thread.

The check value of an algorithm is its result over the nine bytes ``123456789``; it identifies a
CRC beyond its many names. Names, parameters and check values of the CRCs: Greg Cook, *Catalogue of
parametrised CRC algorithms* (compared with a published transcript; each check value is recomputed
bit by bit in the tests from the parameters given here).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache, reduce
from operator import xor
from types import MappingProxyType
from typing import NamedTuple


class Checksum(NamedTuple):
    """One algorithm. `check` is its result over ``123456789``."""

    name: str
    width_bits: int
    check: int
    of: Callable[[bytes], int]


def xor8(data: bytes) -> int:
    """The exclusive or of all bytes, the longitudinal check of ISO 1155; 0 for no bytes."""
    return reduce(xor, data, 0)


def sum8(data: bytes) -> int:
    """The sum of all bytes modulo 256."""
    return sum(data) & 0xFF


def sum16(data: bytes) -> int:
    """The sum of all bytes modulo 65536."""
    return sum(data) & 0xFFFF


class Crc(NamedTuple):
    """Parameters of a CRC as the catalogue gives them; `reflected` is both refin and refout."""

    width_bits: int
    polynomial: int
    start: int
    reflected: bool
    final_xor: int


CRCS: Mapping[str, Crc] = MappingProxyType(
    {
        "crc8-smbus": Crc(8, 0x07, 0x00, False, 0x00),
        "crc8-maxim": Crc(8, 0x31, 0x00, True, 0x00),
        "crc16-arc": Crc(16, 0x8005, 0x0000, True, 0x0000),
        "crc16-modbus": Crc(16, 0x8005, 0xFFFF, True, 0x0000),
        "crc16-ibm-3740": Crc(16, 0x1021, 0xFFFF, False, 0x0000),
        "crc16-kermit": Crc(16, 0x1021, 0x0000, True, 0x0000),
        "crc16-xmodem": Crc(16, 0x1021, 0x0000, False, 0x0000),
        "crc16-ibm-sdlc": Crc(16, 0x1021, 0xFFFF, True, 0xFFFF),
        "crc32-iso-hdlc": Crc(32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF),
        "crc32-bzip2": Crc(32, 0x04C11DB7, 0xFFFFFFFF, False, 0xFFFFFFFF),
        "crc32-mpeg-2": Crc(32, 0x04C11DB7, 0xFFFFFFFF, False, 0x00000000),
        "crc32-iscsi": Crc(32, 0x1EDC6F41, 0xFFFFFFFF, True, 0xFFFFFFFF),
    }
)

_CHECKS = {
    "crc8-smbus": 0xF4,
    "crc8-maxim": 0xA1,
    "crc16-arc": 0xBB3D,
    "crc16-modbus": 0x4B37,
    "crc16-ibm-3740": 0x29B1,
    "crc16-kermit": 0x2189,
    "crc16-xmodem": 0x31C3,
    "crc16-ibm-sdlc": 0x906E,
    "crc32-iso-hdlc": 0xCBF43926,
    "crc32-bzip2": 0xFC891918,
    "crc32-mpeg-2": 0x0376E6E7,
    "crc32-iscsi": 0xE3069283,
}


def _reflect(value: int, width_bits: int) -> int:
    return int(f"{value:0{width_bits}b}"[::-1], 2)


@cache  # A driver asks for that of its profile once for each example there.
def table_of(crc: Crc) -> tuple[int, ...]:
    """The remainder of each byte, for the direction in which the register is shifted."""
    entries = []
    for byte in range(256):
        if crc.reflected:
            polynomial = _reflect(crc.polynomial, crc.width_bits)
            register = byte
            for _ in range(8):
                register = (register >> 1) ^ (polynomial if register & 1 else 0)
        else:
            top = 1 << (crc.width_bits - 1)
            register = byte << (crc.width_bits - 8)
            for _ in range(8):
                register = (register << 1) ^ (crc.polynomial if register & top else 0)
            register &= (1 << crc.width_bits) - 1
        entries.append(register)
    return tuple(entries)


def _function(crc: Crc) -> Callable[[bytes], int]:
    table = table_of(crc)
    mask = (1 << crc.width_bits) - 1
    down = crc.width_bits - 8
    # A reflected start value is the start value here: all in the table above are 0 or all ones.

    def reflected(data: bytes) -> int:
        register = crc.start
        for byte in data:
            register = (register >> 8) ^ table[(register ^ byte) & 0xFF]
        return register ^ crc.final_xor

    def straight(data: bytes) -> int:
        register = crc.start
        for byte in data:
            register = ((register << 8) & mask) ^ table[(register >> down) ^ byte]
        return register ^ crc.final_xor

    return reflected if crc.reflected else straight


CHECKSUMS: Mapping[str, Checksum] = MappingProxyType(
    {
        # 0x31 ^ 0x32 ^ ... ^ 0x39, 477 modulo 256 and 477, by hand.
        "xor8": Checksum("xor8", 8, 0x31, xor8),
        "sum8": Checksum("sum8", 8, 0xDD, sum8),
        "sum16": Checksum("sum16", 16, 0x01DD, sum16),
        **{
            name: Checksum(name, crc.width_bits, _CHECKS[name], _function(crc))
            for name, crc in CRCS.items()
        },
    }
)
"""Every algorithm a profile may name."""
