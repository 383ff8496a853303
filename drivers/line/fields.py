"""Values of a line profile that need more than a type: terminators, patterns, tokens. Pure."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from acquire.driverkit.pattern import compiled


def _terminator(value: str) -> str:
    if not 1 <= len(value) <= 4 or any(ord(c) > 127 for c in value):
        raise ValueError(r'"\r\n", "\r", "\n", or 1 to 4 other ASCII characters')
    return value


def _after(value: str) -> str:
    if len(value) > MOST_BETWEEN or not value.isascii():
        raise ValueError(f"at most {MOST_BETWEEN} ASCII characters that stand before the checksum")
    return value


def _pattern(value: str) -> str:
    compiled(value)
    return value


def _token(value: str) -> str:
    if not value or value != value.strip() or any(c.isdecimal() for c in value):
        raise ValueError("a text without digits and without spaces at its ends")
    return value


def _sign(value: str) -> str:
    if any(c.isdecimal() or c.isspace() for c in value) or len(value) > MOST_SIGN:
        raise ValueError(f"at most {MOST_SIGN} characters without digits and spaces")
    return value


MOST_SIGN = 4
MOST_BETWEEN = 4
SignToken = Annotated[str, AfterValidator(_sign)]
Tokens = Annotated[list[Annotated[str, AfterValidator(_token)]], Field(max_length=16)]
Terminator = Annotated[str, AfterValidator(_terminator)]
Letters = Literal["hex-upper", "hex-lower", "hex"]
Between = Annotated[str, AfterValidator(_after)]
Pattern = Annotated[str, AfterValidator(_pattern)]
