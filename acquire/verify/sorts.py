"""Of which sort the inputs of a calculation are: what the shipped cases have by the same names.

So a case with text where figures are wanted is told which input it is, whatever its calculation
stumbles over. Reads the shipped case files; runs nothing of them. Any thread.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Container, Mapping
from functools import cache
from typing import Any

from acquire.schema import show
from acquire.verify.shipped import case_files
from acquire.verify.task import ASKED, WORDS

_NUMBER, _TEXT, _TRUTH, _NULL = "a number", "text", "true or false", "null"


def sort_of(value: object) -> str:
    """A value's sort in words: ``a number``, ``a list of lists of numbers``, ``an object``."""
    match value:
        case None:
            return _NULL
        case bool():
            return _TRUTH
        case int() | float():
            return _NUMBER
        case str():
            return _TEXT
        case list():
            inside = dict.fromkeys(sort_of(one) for one in value)
            return f"a list of {' and '.join(map(_several, inside))}" if inside else "an empty list"
    return "an object"


def unusual(calc: str, inputs: Mapping[str, Any]) -> str:
    """The first input that is of another sort than in every shipped case; empty where none is.

    As ``input 'data': got text, '82', wanted a list of numbers, ...``.
    """
    for name, value in inputs.items():
        wanted = _shipped().get((calc, name))
        if name in (ASKED, WORDS) or not wanted or sort_of(value) in wanted:
            continue
        got = sort_of(value)
        shown = "" if got in (_NULL, "an empty list", "an object") else f", {show(value)}"
        return (
            f"input {name!r}: got {got}{shown}, wanted {' or '.join(wanted)}, as in the cases that "
            "come along"
        )
    return ""


def no_figures(calc: str, inputs: Mapping[str, Any], read: Container[str]) -> str:
    """As `unusual`, of the first input of those `read` that has truths or text in place of figures.

    Arithmetic takes true for 1 and "2" for 2, and would answer what nobody asked.
    """
    for name, value in inputs.items():
        wanted = _shipped().get((calc, name), ())
        if name in (ASKED, WORDS) or name not in read:
            continue
        said = " ".join(wanted)
        has_truth = _TRUTH not in said and _has(value, _is_truth)
        has_text = bool(wanted) and _TEXT not in said and _has(value, _is_figure_in_text)
        if has_truth or has_text:
            among = _TRUTH if has_truth else _TEXT
            got = among if sort_of(value) == _TRUTH or isinstance(value, str) else f"{among} in it"
            rather = (
                f"{' or '.join(wanted)}, as in the cases that come along" if wanted else "figures"
            )
            return f"input {name!r}: got {got}, {show(value)}, wanted {rather}"
    return ""


def _has(value: object, is_such: Callable[[object], bool]) -> bool:
    match value:
        case list():
            return any(_has(one, is_such) for one in value)
        case dict():
            return any(_has(one, is_such) for one in value.values())
    return is_such(value)


def _is_truth(value: object) -> bool:
    return isinstance(value, bool)


def _is_figure_in_text(value: object) -> bool:
    """Whether it is text that would be taken for a figure; infinity has no other way to be said."""
    if not isinstance(value, str):
        return False
    try:
        return math.isfinite(float(value))
    except ValueError:
        return False


def _several(sort: str) -> str:
    """``a number`` as what a list has: ``numbers``."""
    article, _, noun = sort.partition(" ")
    if article not in ("a", "an"):
        return sort
    head, _, rest = noun.partition(" ")
    return f"{head}s {rest}".strip()


@cache
def _shipped() -> dict[tuple[str, str], tuple[str, ...]]:
    """By calculation and input, the sorts in their order."""
    found: dict[tuple[str, str], dict[str, None]] = {}
    for file in case_files():
        for case in json.loads(file.read_text(encoding="utf-8")):
            for name, value in case["inputs"].items():
                found.setdefault((case["calc"], name), {})[sort_of(value)] = None
    return {key: tuple(sorts) for key, sorts in found.items()}
