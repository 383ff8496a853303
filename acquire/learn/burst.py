"""The lines that a press consists of besides those of the value, and what stands in them. Pure.

A line before or behind the value may say how the press went. So all lines of a press are held, as
everything beside the value in its own line is: they come together, or the press is noise.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from acquire.learn.column import Style, pattern
from acquire.learn.glued import taken_apart
from acquire.learn.parts import columns_of
from acquire.learn.stamps import Heard, stamped
from acquire.learn.still import still_in_column

MOST_LINES = 16
_MOST_PATTERN = 300


class Beside(NamedTuple):
    """A line that means nothing: its pattern, which lines of a press it is, and one of them.

    `still` are the numbers in it that never changed, as a person is told of them.
    """

    pattern: str
    places: tuple[int, ...]
    example: str
    has_checksum: bool
    still: tuple[str, ...] = ()


class Burst(NamedTuple):
    """A press of so many `lines`: `own` are those with the value, the first one is 1."""

    lines: int
    own: tuple[int, ...]
    beside: tuple[Beside, ...]


def burst_of(
    own: str, raw: Sequence[Sequence[str]], bodies: Sequence[Sequence[str]], point: str, tail: str,
    *, is_checked: bool, heard: Heard = (),
) -> Burst | str:  # fmt: skip
    """What a press consists of, or in plain words why that cannot be said.

    `raw` are the lines of each press, `bodies` the same without their checksums. `own` is the
    pattern of a body with the value; `tail` that of a checksum of which it is not known how it is
    made. `is_checked`: the checksum is known, and lines may be without.
    """
    counts = sorted({len(lines) for lines in bodies})
    own_line = re.compile(own)
    is_repeated = all(len(set(lines)) == 1 and own_line.fullmatch(lines[0]) for lines in bodies)
    if len(counts) > 1 and is_repeated:
        # Now more and now fewer times: each is a press, and a repeat of it.
        return Burst(1, (1,), ())
    if len(counts) > 1:
        return f"presses had {counts[0]} to {counts[-1]} lines"
    if counts[0] > MOST_LINES:
        return f"a press has {counts[0]} lines, and {MOST_LINES} can be told of"
    mine: list[int] = []
    found: dict[tuple[str, bool], tuple[tuple[int, ...], str, tuple[str, ...]]] = {}
    for place in range(counts[0]):
        texts = [lines[place] for lines in bodies]
        if all(own_line.fullmatch(text) for text in texts):
            mine.append(place + 1)
            continue
        has_tail = all(line[place] != text for line, text in zip(raw, texts, strict=True))
        if not has_tail:
            texts = [lines[place] for lines in raw]
        said = _pattern(texts, point, heard)
        if said is None:
            return f"line {place + 1} of a press changes in a way that no pattern says"
        what, still = said
        key = (what + (tail if has_tail else ""), has_tail or not is_checked)
        places, example, _ = found.get(key, ((), raw[0][place], still))
        found[key] = ((*places, place + 1), example, still)
    if not mine:
        return "the number was not in the same line of every press"
    if any(one == own + tail for one, _ in found):
        return "lines of one form had the number at some presses only"
    beside = tuple(
        Beside(what, places, example, has_checksum, still)
        for (what, has_checksum), (places, example, still) in found.items()
    )
    return Burst(counts[0], tuple(mine), beside)


def _pattern(texts: Sequence[str], point: str, heard: Heard) -> tuple[str, tuple[str, ...]] | None:
    """What may stand in a line of which these were seen, and its numbers that never changed."""
    found: list[tuple[str, tuple[str, ...]]] = []
    # A second line may write its decimals otherwise: better than digits held one by one.
    for sign in (point, "," if point == "." else "."):
        for is_padded in (True, False):
            columns = columns_of(texts, Style(sign, is_padded))
            if columns is None:
                continue
            columns = taken_apart(stamped(columns, heard).columns, sign)
            parts = [c.what or pattern(c.texts, c.kind, sign) for c in columns]
            whole = "".join(part or "" for part in parts)
            if None not in parts and len(whole) <= _MOST_PATTERN:
                still = [
                    one
                    for at, column in enumerate(columns)
                    if column.kind in ("alnum", "decimal")
                    for one in still_in_column(columns, at, parts[at] or "")
                ]
                found.append((whole, tuple(still)))
    return next((one for one in found if "(?:" not in one[0]), found[0] if found else None)
