"""Texts of a settings file: ids that are safe everywhere, names that are free. Pure; any thread."""

from __future__ import annotations

import re
import unicodedata
from typing import Annotated

from pydantic import AfterValidator, Field

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
LONGEST_NAME = 200
_BIDI_OVERRIDES = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""They would turn the rest of a line of a table or a message around."""


def unlike_id(value: str) -> str:
    """Why a text is no id, in words of what is wanted; empty if it is one."""
    if _ID.fullmatch(value):
        return ""
    return "1 to 64 letters (A to Z), digits, dots, - or _, a letter or digit first"


def _id(value: str) -> str:
    if wanted := unlike_id(value):
        raise ValueError(wanted)
    return value


def free_name(value: str) -> str:
    """A text that can be a name. Raises ValueError saying what is wanted."""
    if not value.strip():
        raise ValueError("a name")
    if len(value) > LONGEST_NAME:
        raise ValueError(f"at most {LONGEST_NAME} characters")
    if not _is_on_one_line(value):
        raise ValueError("a name on one line without control characters")
    return value


def on_one_line(value: str) -> str:
    """What a person types and we keep, be it empty. Raises ValueError saying what is wanted."""
    if not _is_on_one_line(value):
        raise ValueError("words on one line without control characters")
    return value


def _is_on_one_line(value: str) -> bool:
    return not any(
        unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp") or c in _BIDI_OVERRIDES for c in value
    )


Id = Annotated[str, AfterValidator(_id), Field(description="a short name in quotes")]
"""A short name for commands, columns and file names: ``[A-Za-z0-9][A-Za-z0-9._-]{0,63}``."""

Name = Annotated[str, AfterValidator(free_name), Field(description="a name in quotes")]
"""Free text on one line, 1 to 200 characters: quotes, signs of any script and emoji are fine."""
