"""Values of a Modbus profile that need more than a type: addresses, bits, units, codes. Pure."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field

from acquire.schema import Number

HIGHEST_ADDRESS = 0xFFFF
_HEX = re.compile(r"0x[0-9A-Fa-f]{1,4}")
_PLAIN = 'an address as it is on the wire, from 0 to 65535, or in quotes from "0x0000" to "0xFFFF"'


def _address(value: object) -> int:
    if isinstance(value, str) and _HEX.fullmatch(value):
        return int(value, 16)
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError(_PLAIN)
    # 4 or 3, then the register counted from 1: the numbers that manuals like to print.
    for first, table in ((400_001, "holding"), (300_001, "input"), (40_001, "holding"),
                         (30_001, "input")):  # fmt: skip
        if first <= value < first + (65_536 if first > 65_535 else 9_999):
            raise ValueError(
                f'{_PLAIN}: the register that a manual calls {value} is table = "{table}" with '
                f'address = {value - first}; if {value} is meant as it is, write "0x{value:04X}"'
                if value <= HIGHEST_ADDRESS
                else f'{_PLAIN}: the register that a manual calls {value} is table = "{table}" '
                f"with address = {value - first}"
            )
    if not 0 <= value <= HIGHEST_ADDRESS:
        raise ValueError(_PLAIN)
    return value


def _code(value: str) -> str:
    if not (value.isascii() and value.isdecimal() and str(int(value)) == value and len(value) < 20):
        raise ValueError("a code as a whole number without leading zeros, such as 2")
    return value


def _scale(value: Decimal) -> Decimal:
    if not value:
        raise ValueError("a number that is not 0, such as 0.1")
    return value


Address = Annotated[int, BeforeValidator(_address)]
Bit = Annotated[int, Field(ge=0, le=15)]
Code = Annotated[str, AfterValidator(_code)]
Scale = Annotated[Number, AfterValidator(_scale)]
Bits = Annotated[list[Annotated[int, Field(ge=0, le=2**64 - 1)]], Field(max_length=16)]
"""Registers as one whole number, in the order of weight: 0x7FFF."""
