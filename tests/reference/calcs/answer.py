"""What a calculation answers to a case, and the words of case files for what there is not."""

from __future__ import annotations

import math
from typing import Any

Answer = dict[str, Any]
UNDEFINED = "undefined"


def said(value: object, word: str = UNDEFINED) -> object:
    """The value, or the word of case files for what there is not; infinity is the word inf."""
    if value is None:
        return word
    return "inf" if isinstance(value, float) and math.isinf(value) else value


def number(value: float | str) -> float:
    """A figure of a case file, which writes infinity as a word."""
    return float(value)
