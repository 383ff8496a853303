"""Kinds of argument that calls have in common. Pure; any thread."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Field


def whole(value: str) -> str:
    """The text; raises ValueError where it holds half of a character, which no store takes."""
    try:
        value.encode()
    except UnicodeEncodeError:
        raise ValueError("text without half characters") from None
    return value


Word = Annotated[str, Field(max_length=200), AfterValidator(whole)]
Remark = Annotated[str, Field(max_length=20_000), AfterValidator(whole)]
