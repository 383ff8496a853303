"""Whether the numbers of lines are filled up to a width: then a shorter line has lost a character.

A number that is wider at one press than at another while its column is not stands between spaces
or zeros that fill it up; so does one that several spaces stand beside at every press. Pure.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

_NUMBERS = re.compile(r"\(\?P<(?:value\w*|again)>[^()]*\)")
_WIDENING = re.compile(r"(?:\\d|\])\{\d+,\d+\}")
_FILLING = 2
"""So many spaces on one side of every number are more than what parts it from something else."""


class Widths(NamedTuple):
    """Characters of every line without its checksum, and of every number with what stands before
    it to fill it up. None where it may vary.
    """

    length: int | None = None
    width: int | None = None


NO_WIDTHS = Widths()


def widths_of(pattern: str, lines: Sequence[str]) -> Widths:
    """The widths of the lines among these that a pattern fits."""
    found = [one for one in (re.fullmatch(pattern, line) for line in lines) if one is not None]
    if any(one.groupdict().get("sign") for one in found):
        # Spaces between a sign and the digits may be its own.
        plain = [one for one in found if not one["sign"]]
        if len(plain) < _FILLING:
            return NO_WIDTHS
        length, width = widths_of(pattern, [one.string for one in plain])
        return Widths(
            length if {len(one.string) for one in found} == {length} else None,
            width if {len(one["value"]) for one in found} == {width} else None,
        )
    names = [n for n in re.compile(pattern).groupindex if n.partition("_")[0] == "value"]
    filled = [name for name in names if _is_filled([one.span(name) for one in found], found)]
    if not filled:
        return NO_WIDTHS
    lengths = {len(one.string) for one in found}
    wide = {len(one[name]) for one in found for name in names}
    # Spaces behind a number, or points before it, are none of its own: it becomes wider as they
    # become fewer.
    if any(
        one.string[one.end(name) :][:2] == "  " or one.string[: one.start(name)][-2:] == ".."
        for one in found
        for name in names
    ):
        wide.clear()
    # What stands beside the number may become longer, such as a count.
    may_grow = _WIDENING.search(_NUMBERS.sub("", pattern)) is not None
    return Widths(
        lengths.pop() if len(lengths) == 1 and not may_grow else None,
        wide.pop() if len(wide) == 1 and filled == names else None,
    )


def _is_filled(spans: Sequence[tuple[int, int]], found: Sequence[re.Match[str]]) -> bool:
    """Whether a number, which is wider or narrower, stands in a column that is not."""
    cells, texts, spaces = set(), [], []
    for (start, stop), one in zip(spans, found, strict=True):
        line = one.string
        sign = "." if line[:start].endswith("..") else " "
        left = len(line[:start]) - len(line[:start].rstrip(sign))
        right = len(line[stop:]) - len(line[stop:].lstrip(" "))
        cells.add(left + stop - start + right)
        text = line[start:stop].strip(" ")
        texts.append(text)
        spaces.append((left + stop - start - len(text), right))
    has_zeros = any(re.match("[+-]?0[0-9]", text) for text in texts)
    has_spaces = any(min(sides) >= _FILLING for sides in zip(*spaces, strict=True))
    return len(cells) == 1 and (has_zeros or has_spaces or len(set(map(len, texts))) > 1)
