"""The patterns of a profile: a part of the regular expression language that cannot hang.

Python's engine tries alternatives one after the other, and a pattern such as ``(a+)+b`` doubles
the tries with every byte of a line that almost fits: at 64 bytes it never comes back. A profile
may therefore use literals, classes, ``.``, groups, ``|`` and repeats of single characters, but no
repeated group, no look-around, no back reference; and few repeats that could trade characters
with one another (``\\d+\\d+``). What is left takes at most about the cube of a line's length.

Pure; any thread.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

LONGEST_PATTERN = 300
MOST_JOINTS = 2
MOST_FORKS = 8
KEPT = 256
"""So many patterns are kept as they were found fit: rules of a profile ask for each often."""

_EVERY_CHARACTER = "".join(map(chr, range(256)))
_QUANTIFIER = re.compile(r"(?:[*+?]|\{(?=[\d,])(\d*)(?:(,)(\d*))?\})[?+]?")
_ESCAPE = re.compile(r"\\(?:[dDsSwWtrnfv]|x[0-9A-Fa-f]{2}|[^A-Za-z0-9])")
_CLASS = re.compile(r"\[\^?\]?(?:\\.|[^\]\\])*\]")
_GROUP = re.compile(r"\((?:\?P<\w+>|\?:)")
_CLASS_OR_HALF = re.compile(r"\\.|(\[\^?\]?(?:\\.|[^\]\\])*)", re.DOTALL)
_UNCLEAR = re.compile(r"(?<!\\)\[|--|&&|\|\||~~")


class _Piece(NamedTuple):
    """One character of a pattern with its repeat. `certain`: every match has at least one."""

    characters: frozenset[str]
    varies: bool
    certain: bool


@lru_cache(maxsize=KEPT)
def compiled(pattern: str) -> re.Pattern[str]:
    """The pattern, to be matched against whole lines. Raises ValueError saying what is wanted."""
    if len(pattern) > LONGEST_PATTERN:
        raise ValueError(f"a pattern of at most {LONGEST_PATTERN} characters")
    # Python warns that these may mean something else one day.
    halves = (found[1] or "" for found in _CLASS_OR_HALF.finditer(pattern))
    if any(_UNCLEAR.search(half, 1) for half in halves):
        raise ValueError(r"classes without -- && || ~~ and with \[ for a bracket")
    try:
        result = re.compile(pattern, re.ASCII)
    except (re.error, OverflowError, RecursionError) as trouble:
        raise ValueError(f"a regular expression ({trouble})") from None
    pieces, forks = _pieces(pattern)
    if forks > MOST_FORKS:
        raise ValueError(f"at most {MOST_FORKS} of | and optional groups in one pattern")
    if _joints(pieces) > MOST_JOINTS:
        raise ValueError(
            r"repeats that are kept apart by a sign of their own, such as \d+,\d+ and not \d+\d+"
        )
    return result


def _pieces(pattern: str) -> tuple[list[_Piece], int]:
    """The characters of a pattern in a row, and how many ways it forks.

    Branches of ``|`` are laid one after the other: more repeats then seem to be neighbours than
    are, which errs on the safe side.
    """
    depth_is_certain = ["|" not in _top(pattern)]
    pieces: list[_Piece] = []
    forks = place = 0
    while place < len(pattern):
        sign = pattern[place]
        if sign == "|":
            forks += 1
            place += 1
        elif sign == "(":
            group = _GROUP.match(pattern, place)
            if group is None:
                raise ValueError("groups of the form (?P<name>...) or (?:...) only")
            place = group.end()
            inner = _level(pattern, place)
            is_optional = pattern[place + len(inner) + 1 :].startswith("?")
            forks += is_optional
            depth_is_certain.append(
                depth_is_certain[-1] and not is_optional and "|" not in _top(inner)
            )
        elif sign == ")":
            depth_is_certain.pop()
            place += 1
            repeat = _QUANTIFIER.match(pattern, place)
            if repeat is not None:
                if repeat[0] != "?":
                    raise ValueError("repeats of single characters or classes, not of a (group)")
                place += 1
        else:
            place, piece = _piece(pattern, place, certain=depth_is_certain[-1])
            pieces.append(piece)
    return pieces, forks


def _piece(pattern: str, place: int, *, certain: bool) -> tuple[int, _Piece]:
    sign = pattern[place]
    if sign in "^$":
        raise ValueError(f"no {sign}: a pattern is held against the whole line anyway")
    shape = {"\\": _ESCAPE, "[": _CLASS}.get(sign)
    if shape is None:
        atom = sign
    else:
        found = shape.match(pattern, place)
        if found is None:
            raise ValueError(
                r"of the escapes only \d \D \s \S \w \W, \xHH, control characters, "
                r"and \ before a sign"
            )
        atom = found[0]
    place += len(atom)
    repeat = _QUANTIFIER.match(pattern, place)
    varies, least = False, 1
    if repeat is not None:
        place = repeat.end()
        kind = repeat[0][0]
        if kind == "{":
            least = int(repeat[1] or 0)
            varies = repeat[2] is not None and (not repeat[3] or repeat[1] != repeat[3])
        else:
            varies, least = True, int(kind == "+")
    characters = frozenset(re.findall(atom, _EVERY_CHARACTER, re.ASCII))
    return place, _Piece(characters, varies, certain and least > 0)


def _joints(pieces: list[_Piece]) -> int:
    """How many repeats may pass characters to a later repeat: each is a power of the length."""
    joints = 0
    for index, piece in enumerate(pieces):
        if not piece.varies:
            continue
        for later in pieces[index + 1 :]:
            shares = not piece.characters.isdisjoint(later.characters)
            if later.varies and shares:
                joints += 1
                break
            if later.certain and not shares:
                break
    return joints


def _level(pattern: str, start: int) -> str:
    """The text from `start` to the end of the group it is in."""
    depth, place = 0, start
    while place < len(pattern):
        sign = pattern[place]
        if sign == "\\":
            place += 2
            continue
        if sign == "[" and (found := _CLASS.match(pattern, place)):
            place = found.end()
            continue
        if sign == ")" and depth == 0:
            break
        depth += (sign == "(") - (sign == ")")
        place += 1
    return pattern[start:place]


def _top(text: str) -> str:
    """The text without its groups and classes: what stands at its own level."""
    top, place = "", 0
    while place < len(text):
        sign = text[place]
        if sign == "\\":
            place += 2
        elif sign == "[" and (found := _CLASS.match(text, place)):
            place = found.end()
        elif sign == "(":
            place += len(_level(text, place + 1)) + 2
        else:
            top += sign
            place += 1
    return top
