"""Values of a frame profile that need more than a type: bytes in hex. Pure; any thread."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field

from acquire.driverkit.fields import LONGEST_COMMAND

LONGEST_FRAME = 256
LONGEST_MARKER = 8

_HEX = re.compile(r"[0-9A-Fa-f]{2}(?: ?[0-9A-Fa-f]{2})*")


def bytes_of(text: object, most: int) -> bytes:
    """The bytes of a text such as ``"AA 55"``. Raises ValueError with what is wanted."""
    if not isinstance(text, str) or not _HEX.fullmatch(text):
        raise ValueError('bytes in hex, two digits each, such as "AA 55"')
    data = bytes.fromhex(text)
    if len(data) > most:
        raise ValueError(f"at most {most} bytes in hex")
    return data


def shown(data: bytes) -> str:
    """Bytes as a profile writes them."""
    return data.hex(" ").upper()


def _marker(value: object) -> bytes:
    return bytes_of(value, LONGEST_MARKER)


def _frame(value: object) -> bytes:
    return bytes_of(value, LONGEST_FRAME)


def _command(value: str) -> str:
    # The tables of all families keep a command as text, each character one byte.
    return bytes_of(value, LONGEST_COMMAND).decode("latin-1")


_WORDS = Field(description='bytes in hex, such as "AA 55"')

Marker = Annotated[bytes, BeforeValidator(_marker), _WORDS]
WholeFrame = Annotated[bytes, BeforeValidator(_frame), _WORDS]
HexCommand = Annotated[str, AfterValidator(_command), _WORDS]
Offset = Annotated[int, Field(ge=0, lt=LONGEST_FRAME)]
Place = Annotated[int, Field(ge=-LONGEST_FRAME, lt=LONGEST_FRAME)]
FrameBytes = Annotated[int, Field(ge=2, le=LONGEST_FRAME)]
