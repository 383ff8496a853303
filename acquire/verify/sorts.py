"""Of which sort the inputs of a calculation are: what the shipped cases have by the same names.

So a case with text where figures are wanted is told which input it is, whatever its calculation
stumbles over. Reads the shipped case files; runs nothing of them. Any thread.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Container, Iterator, Mapping
from functools import cache
from typing import Any

from acquire.schema import show
from acquire.verify.shipped import case_files
from acquire.verify.task import ASKED, WORDS

_NUMBER, _TEXT, _TRUTH, _NULL = "a number", "text", "true or false", "null"
_INFINITY, _QUOTED = "infinity", "a figure in quotes"


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
    """As `unusual`, of the first input of those `read` that has something in place of figures.

    Arithmetic takes true for 1, "2" for 2 and null for no number, and would answer what nobody
    asked. In lists nothing goes but figures and what shipped cases have in lists of that input.
    """
    for name, value in inputs.items():
        wanted = _shipped().get((calc, name), ())
        if name in (ASKED, WORDS) or name not in read:
            continue
        said = " ".join(wanted)
        has_truth = _TRUTH not in said and _has(value, _is_truth)
        has_text = bool(wanted) and _TEXT not in said and _has(value, _is_figure_in_text)
        among = _TRUTH if has_truth else _TEXT if has_text else ""
        if wanted and not among:
            others = (kind for kind in _kinds_in_lists(value) if kind != _NUMBER)
            known = _shipped_in_lists().get((calc, name), frozenset())
            among = next((kind for kind in others if kind not in known), "")
        if among:
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
    return isinstance(value, str) and _kind_of(value) == _QUOTED


def _kind_of(value: object) -> str:
    """As `sort_of` of what is no list, with texts told apart by what arithmetic takes them for."""
    if isinstance(value, str):
        try:
            return _INFINITY if math.isinf(float(value)) else _QUOTED
        except ValueError:
            return _TEXT
    return sort_of(value)


def _kinds_in_lists(value: object, *, is_inside: bool = False) -> Iterator[str]:
    """The kinds of all that stands in lists of it, at any depth."""
    match value:
        case list():
            for one in value:
                yield from _kinds_in_lists(one, is_inside=True)
        case dict():
            for one in value.values():
                yield from _kinds_in_lists(one)
        case _ if is_inside:
            yield _kind_of(value)


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


@cache
def _shipped_in_lists() -> dict[tuple[str, str], frozenset[str]]:
    """By calculation and input, the kinds of what stands in its lists."""
    found: dict[tuple[str, str], set[str]] = {}
    for file in case_files():
        for case in json.loads(file.read_text(encoding="utf-8")):
            for name, value in case["inputs"].items():
                found.setdefault((case["calc"], name), set()).update(_kinds_in_lists(value))
    return {key: frozenset(kinds) for key, kinds in found.items()}
