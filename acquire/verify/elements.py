"""The elements of a JSON list, each read for itself, so that a spoilt one costs no other.

Stricter than Python's own reader: no NaN and no Infinity (RFC 8259, 6), no number beyond the range
of binary64, no key twice in one object, nothing nested deeper than a case can need. Any thread.
"""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Iterator
from typing import Any, NamedTuple

from acquire.errors import Fault
from acquire.schema import show

MOST_ELEMENTS = 100_000
LONGEST_ELEMENT = 1_000_000
MOST_LEVELS = 16

_SIGN = re.compile(r'"(?:[^"\\]|\\.)*+("?)|[\[\]{},]', re.DOTALL)
_MOST_DIGITS = 309
"""The largest number of binary64 has as many before its point."""


class _Unfit(Exception):
    def __init__(self, got: str, wanted: str) -> None:
        super().__init__(got)
        self.got, self.wanted = got, wanted


class Element(NamedTuple):
    """One element: its place counts from 0; `value` is worth nothing where there is a fault."""

    place: int
    line: int
    value: Any
    fault: Fault | None


def elements(text: str) -> Iterator[Element | Fault]:
    """The elements in order; a `Fault` comes last where the rest of the text is no list.

    Its path is the line, or `file` for the whole text.
    """
    begin = len(text) - len(text.lstrip())
    if text[begin : begin + 1] != "[":
        yield Fault("file", _kind(text[begin : begin + 1]), "a JSON list of cases: [ ... ]")
        return
    place, line, start = 0, 1 + text.count("\n", 0, begin), begin + 1
    levels = deepest = 1
    for sign in _SIGN.finditer(text, start):
        match sign[0]:
            case "[" | "{":
                levels += 1
                deepest = max(deepest, levels)
            case "]" | "}":
                levels -= 1
            case "," if levels == 1:
                pass
            case _:
                continue
        if levels > 1 or (levels == 1 and sign[0] != ","):
            continue
        part = text[start : sign.start()]
        if place or sign[0] == "," or part.strip():
            blank = part[: len(part) - len(part.lstrip())]
            line += blank.count("\n")
            yield _element(place, line, part.strip(), deepest - 1)
            line += part.count("\n") - blank.count("\n")
            place += 1
        if levels < 1:
            rest = text[sign.end() :].strip()
            if rest or sign[0] != "]":
                yield Fault(f"line {line}", "more after the end of the list", "one JSON list")
            return
        if place >= MOST_ELEMENTS:
            yield Fault("file", f"more than {MOST_ELEMENTS} cases", f"at most {MOST_ELEMENTS}")
            return
        start, deepest = sign.end(), 1
    got = (
        f"lists or objects nested {deepest - 1} deep"
        if deepest - 1 > MOST_LEVELS
        else f"an end within [{place}], which begins here"
    )
    wanted = f"a whole JSON list, nested at most {MOST_LEVELS} deep"
    yield Fault(f"line {line + _blank_lines(text[start:])}", got, wanted)


def _element(place: int, line: int, text: str, depth: int) -> Element:
    if len(text) > LONGEST_ELEMENT:
        return _spoilt(place, line, f"{len(text)} characters", f"at most {LONGEST_ELEMENT} a case")
    if depth > MOST_LEVELS:
        wanted = f"at most {MOST_LEVELS} levels"
        return _spoilt(place, line, f"lists or objects nested {depth} deep", wanted)
    try:
        value = json.loads(
            text,
            parse_constant=_no_constant,
            parse_float=_finite,
            parse_int=_whole,
            object_pairs_hook=_once,
        )
    except json.JSONDecodeError as error:
        got = f"{error.msg[:1].lower()}{error.msg[1:]}, at character {error.colno}"
        return _spoilt(place, line + error.lineno - 1, got, "JSON (RFC 8259)")
    except _Unfit as error:
        return _spoilt(place, line, error.got, error.wanted)
    return Element(place, line, value, None)


def _spoilt(place: int, line: int, got: str, wanted: str) -> Element:
    return Element(place, line, None, Fault(f"[{place}], line {line}", got, wanted))


def _kind(sign: str) -> str:
    return {"": "nothing", "{": "a JSON object", '"': "a text"}.get(sign, "something else")


def _blank_lines(text: str) -> int:
    return text[: len(text) - len(text.lstrip())].count("\n")


def _no_constant(word: str) -> float:
    raise _Unfit(f"{word}, which is no number of JSON", 'the word in quotes, such as "inf"')


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise _beyond(text)
    return number


def _whole(text: str) -> int:
    if len(text.lstrip("-")) > _MOST_DIGITS:
        raise _beyond(text)
    number = int(text)
    try:
        float(number)
    except OverflowError:
        raise _beyond(text) from None
    return number


def _beyond(text: str) -> _Unfit:
    shown = text if len(text) <= 24 else f"{text[:20]}..."
    return _Unfit(f"{shown}, beyond the range of binary64", "a number from -1.7e308 to 1.7e308")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        twice = Counter(key for key, _ in pairs).most_common(1)[0][0]
        raise _Unfit(f"the key {show(twice)} twice in one object", "each key once")
    return found
