"""What a calculation answers to a case, and the words of case files for what there is not."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, TypeVar

Answer = dict[str, Any]
UNDEFINED = "undefined"
T = TypeVar("T")


def there(value: T | None, what: str) -> T:
    """The value. Raises `ValueError` where the inputs give none; `what` names it."""
    if value is None:
        raise ValueError(f"the inputs give no {what}")
    return value


def chosen(i: Mapping[str, Any], name: str, *known: object) -> Any:
    """An input that says which of several things is wanted; the first of `known` where it is left
    out. Raises `ValueError` for another one, which must not be taken for any of these."""
    value = i.get(name, known[0])
    if not any(value is one or value == one for one in known):
        listed = " or ".join(repr(one) for one in known)
        raise ValueError(f"input {name!r}: got {value!r}, wanted {listed}")
    return value


def said(value: object, word: str = UNDEFINED) -> object:
    """The value, or the word of case files for what there is not; infinity is the word inf."""
    if value is None:
        return word
    return "inf" if isinstance(value, float) and math.isinf(value) else value


def number(value: float | str) -> float:
    """A figure of a case file, which writes infinity as a word."""
    return float(value)
