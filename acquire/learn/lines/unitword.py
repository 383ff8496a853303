"""A word of the lines that stands for the unit because a person said so. Pure."""

from __future__ import annotations

import re
from dataclasses import replace

from acquire.learn.beside.against import Says
from acquire.learn.lines.line import Line
from acquire.learn.pieces.column import literal
from acquire.learn.presses.press import About


def with_word(line: Line, says: Says, about: About) -> Line:
    """The line with that word as its unit, where it stands behind the number."""
    if not about.word or about.unit is None or about.word not in (says.unknown, says.plain):
        return line
    pattern = _named(line.pattern, literal(about.word))
    if pattern is None:
        return line
    return replace(line, pattern=pattern, units=((about.word, about.unit),))


def _named(pattern: str, word: str) -> str | None:
    """The pattern with the first such word behind its number as the unit."""
    start = pattern.find("(?P<value>")
    at = pattern.find(word, _end(pattern, start)) if start >= 0 else -1
    # That of an escape is a letter of the pattern and not of the line.
    while at > 0 and pattern[at - 1] == "\\":
        at = pattern.find(word, at + 1)
    # Of one among several words the others would have no unit.
    if at < 0 or _is_within(pattern[_end(pattern, start) : at]):
        return None
    return f"{pattern[:at]}(?P<unit>{word}){pattern[at + len(word) :]}"


def _is_within(before: str) -> bool:
    """Whether a group is open where this ends."""
    bare = re.sub(r"\\.", "", before)
    return bare.count("(") > bare.count(")")


def _end(pattern: str, start: int) -> int:
    """Where the group ends that begins there; brackets of the line itself are escaped."""
    depth = 0
    for at in range(start, len(pattern)):
        is_own = pattern[at - 1] != "\\"
        depth += (pattern[at] == "(" and is_own) - (pattern[at] == ")" and is_own)
        if not depth:
            return at + 1
    return len(pattern)
