"""Kinds of argument that calls have in common. Pure; any thread."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Field

from acquire.schema.text import LONGEST_NAME, on_one_line

LONGEST_REMARK = 2000


def whole(value: str) -> str:
    """The text; raises ValueError where it holds half of a character, which no store takes."""
    try:
        value.encode()
    except UnicodeEncodeError:
        raise ValueError("text without half characters") from None
    return value


Word = Annotated[str, Field(max_length=200), AfterValidator(whole)]
"""What has to be the name of something that is there; nothing else is found by it."""

Phrase = Annotated[
    str, Field(max_length=LONGEST_NAME), AfterValidator(whole), AfterValidator(on_one_line)
]
"""A few words that a person types and that are kept, such as who rates: a line, or nothing."""

Remark = Annotated[
    str, Field(max_length=LONGEST_REMARK), AfterValidator(whole), AfterValidator(on_one_line)
]
"""A reason or a note that is kept: one line, or nothing."""
