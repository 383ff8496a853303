"""Values of a hid profile that need more than a type: usages, scales, bytes to send. Pure."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field

from acquire.schema import Number

_USAGE = re.compile(r"([0-9A-Fa-f]{1,4}):([0-9A-Fa-f]{1,4})")
LONGEST_SENT = 64


def _usage(value: object) -> int:
    found = _USAGE.fullmatch(value) if isinstance(value, str) else None
    if found is None:
        raise ValueError('page and number of a usage in hexadecimal digits, such as "8D:40"')
    return int(found[1], 16) << 16 | int(found[2], 16)


def _sent(value: object) -> bytes:
    try:
        data = bytes.fromhex(value) if isinstance(value, str) else b""
    except ValueError:
        data = b""
    if not 1 <= len(data) <= LONGEST_SENT:
        raise ValueError(f'1 to {LONGEST_SENT} bytes in hexadecimal digits, such as "02 01"')
    return data


def _scale(value: Decimal) -> Decimal:
    if not value:
        raise ValueError("a number that is not 0, such as 0.1")
    return value


Usage = Annotated[int, BeforeValidator(_usage)]
"""A whole usage: the page in the upper half."""
Sent = Annotated[bytes, BeforeValidator(_sent)]
Scale = Annotated[Number, AfterValidator(_scale)]
ReportId = Annotated[int, Field(ge=0, le=255)]
Raw = Annotated[list[Annotated[int, Field(ge=-(2**63), le=2**64 - 1)]], Field(max_length=16)]
"""Numbers as they stand in a report."""
