"""The lines that a press consists of besides those of the value, and what stands in them. Pure.

A line before or behind the value may say how the press went. So all lines of a press are held, as
everything beside the value in its own line is: they come together, or the press is noise.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from acquire.learn.beside.angles import changing_alone
from acquire.learn.beside.glued import may_be_few, moving_anyway, taken_apart
from acquire.learn.pieces.clock import clocks
from acquire.learn.pieces.column import Column, columns_of, pattern
from acquire.learn.pieces.counting import Counting, counting
from acquire.learn.pieces.fill import fills_up
from acquire.learn.pieces.fixed import fixed_at
from acquire.learn.pieces.pieces import Style
from acquire.learn.pieces.sofar import with_so_far
from acquire.learn.pieces.stamps import Heard, stamped
from acquire.learn.pieces.still import (
    NO_MOVES,
    Moves,
    movable,
    moved,
    moving,
    names_at,
    still_in_column,
    with_numbers_apart,
)

MOST_LINES = 16
_MOST_PATTERN = 300


class Beside(NamedTuple):
    """A line that means nothing: its pattern, which lines of a press it is, and one of them.

    `still` are the numbers in it that never changed, as a person is told of them; of some a person
    may say that they can, `movable`, or has, `moved`; `loose` stood still only before a point;
    `fixed` are the geometry or a limit of the band that was said.
    """

    pattern: str
    places: tuple[int, ...]
    example: str
    has_checksum: bool
    still: tuple[str, ...] = ()
    movable: tuple[str, ...] = ()
    moved: tuple[str, ...] = ()
    loose: tuple[str, ...] = ()
    fixed: tuple[str, ...] = ()


class Burst(NamedTuple):
    """A press of so many `lines`: `own` are those with the value, the first one is 1.

    `counted` is what counts presses in a line beside them, None where nothing does.
    """

    lines: int
    own: tuple[int, ...]
    beside: tuple[Beside, ...]
    counted: Counting | None = None


class _Said(NamedTuple):
    """What may stand in a line beside, and what of it never changed or counts."""

    pattern: str
    still: tuple[str, ...]
    movable: tuple[str, ...]
    moved: tuple[str, ...]
    loose: tuple[str, ...]
    fixed: tuple[str, ...]
    counted: Counting | None


def burst_of(
    own: str, raw: Sequence[Sequence[str]], bodies: Sequence[Sequence[str]], point: str, tail: str,
    *, is_checked: bool, heard: Heard = (), moves: Moves = NO_MOVES, values: Sequence[str] = (),
    channel: str | None = None, angle_line: int | None = None,
) -> Burst | str:  # fmt: skip
    """What a press consists of, or in plain words why that cannot be said.

    `raw` are the lines of each press, `bodies` the same without their checksums. `own` is the
    pattern of a body with the value; `tail` that of a checksum of which it is not known how it is
    made. `is_checked`: the checksum is known, and lines may be without. `moves` are numbers that a
    person says may move, `values` the texts of the value at each press; `channel` is the geometry
    or band that was said, `angle_line` the place of a line that says the geometry of each press.
    """
    sizes = sorted({len(lines) for lines in bodies})
    own_line = re.compile(own)
    is_repeated = all(len(set(lines)) == 1 and own_line.fullmatch(lines[0]) for lines in bodies)
    if len(sizes) > 1 and is_repeated:
        # Now more and now fewer times: each is a press, and a repeat of it.
        return Burst(1, (1,), ())
    if len(sizes) > 1:
        return f"presses had {sizes[0]} to {sizes[-1]} lines"
    if sizes[0] > MOST_LINES:
        return f"a press has {sizes[0]} lines, and {MOST_LINES} can be told of"
    mine: list[int] = []
    found: dict[tuple[str, bool], tuple[tuple[int, ...], str, _Said]] = {}
    counts, counted = _counts(own_line, bodies), None
    others = _others(own_line, bodies, values)
    for place in range(sizes[0]):
        texts = [lines[place] for lines in bodies]
        if place not in others and all(own_line.fullmatch(text) for text in texts):
            mine.append(place + 1)
            continue
        has_tail = all(line[place] != text for line, text in zip(raw, texts, strict=True))
        if not has_tail:
            texts = [lines[place] for lines in raw]
        has_checksum = has_tail or not is_checked
        if place == angle_line and not has_checksum:
            return "the line that says the geometry bears no checksum, as that of the number does"
        said = _pattern(
            texts, point, heard, moves, counts if has_checksum else (), values, channel,
            says_angle=place == angle_line,
        )  # fmt: skip
        if said is None:
            return f"line {place + 1} of a press changes in a way that no pattern says"
        if said.counted is not None:
            counted, counts = said.counted, said.counted.digits
        key = (said.pattern + (tail if has_tail else ""), has_checksum)
        places, example, _ = found.get(key, ((), raw[0][place], said))
        found[key] = ((*places, place + 1), example, said)
    if not mine:
        return "the number was not in the same line of every press"
    if any(one == own + tail for one, _ in found):
        return "lines of one form had the number at some presses only"
    beside = tuple(
        Beside(
            what,
            places,
            example,
            has_checksum,
            said.still,
            said.movable,
            said.moved,
            said.loose,
            said.fixed,
        )
        for (what, has_checksum), (places, example, said) in found.items()
    )
    return Burst(sizes[0], tuple(mine), beside, counted)


def _others(
    own_line: re.Pattern[str], bodies: Sequence[Sequence[str]], values: Sequence[str]
) -> frozenset[int]:
    """The lines of a press built as that of the value that have another number: a mean, a spread.

    None where no line has the value at every press, or where each says of which channel it is.
    """
    groups = own_line.groupindex
    if "value" not in groups or {"geometry", "band"} & set(groups):
        return frozenset()
    alike: set[int] = set()
    same: set[int] = set()
    for place in range(len(bodies[0])):
        found = [own_line.fullmatch(lines[place]) for lines in bodies]
        here = [_digits(one["value"]) for one in found if one is not None]
        if len(here) == len(bodies):
            is_same = here == list(map(_digits, values))
            (same if is_same else alike).add(place)
    return frozenset(alike) if same else frozenset()


def _digits(value: str) -> str:
    """A value without its sign, which may be in a group of its own, and what fills it up."""
    return value.strip(" +-")


_Counts = Sequence[str] | None
"""What counts presses so far, press by press: a line beside may bear the same; None: nothing."""


def _counts(own_line: re.Pattern[str], bodies: Sequence[Sequence[str]]) -> _Counts:
    """The count that the lines of the value bear."""
    if "count" not in own_line.groupindex:
        return None
    found = [next(filter(None, map(own_line.fullmatch, lines)), None) for lines in bodies]
    return [one["count"] for one in found if one is not None]


def _pattern(
    texts: Sequence[str], point: str, heard: Heard, moves: Moves, counts: _Counts,
    values: Sequence[str], channel: str | None, *, says_angle: bool,
) -> _Said | None:  # fmt: skip
    """What may stand in a line of which these were seen."""
    found: list[_Said] = []
    # A second line may write its decimals otherwise: better than digits held one by one.
    for sign in (point, "," if point == "." else "."):
        for is_padded, is_mixed in ((True, False), (False, False), (True, True)):
            style = Style(sign, is_padded, is_mixed=is_mixed)
            columns = columns_of(texts, style)
            if columns is None:
                continue
            columns = with_so_far(stamped(columns, heard).columns, values, style)
            loose = moving_anyway(columns, sign)
            columns = with_numbers_apart(taken_apart(columns, sign, moves), style)
            if any(may_be_few(columns, place, sign) for place in range(len(columns))):
                continue
            fixed = fixed_at(columns, channel)
            columns = moving(columns, moves, style, fixed)
            place, counted = _counted(columns, counts)
            parts = [
                " +" if fills_up(columns, at) else c.what or pattern(c.texts, c.kind, sign)
                for at, c in enumerate(columns)
            ]
            if counted is not None:
                parts[place] = counted.pattern()
            angle = changing_alone(columns) if says_angle else None
            if says_angle and angle is None:
                continue
            if angle is not None:
                parts[angle.place] = angle.pattern(columns[angle.place].texts)
            whole = "".join(part or "" for part in parts)
            if None not in parts and len(whole) <= _MOST_PATTERN:
                still = tuple(
                    one
                    for at, column in enumerate(columns)
                    if column.kind in ("alnum", "decimal")
                    if angle is None or at != angle.place
                    for one in still_in_column(columns, at, parts[at] or "")
                )
                may_move = tuple(one for one in movable(columns, fixed) if repr(one) in still)
                names = names_at(columns, sorted(fixed))
                found.append(_Said(whole, still, may_move, moved(columns), loose, names, counted))
    return next((one for one in found if "(?:" not in one.pattern), found[0] if found else None)


def _counted(columns: Sequence[Column], counts: _Counts) -> tuple[int, Counting | None]:
    """The place of what counts presses, as the line of the value does where that has a count.

    Three numbers in a row that nothing fills up may as well be a temperature: they may be any.
    """
    times = clocks([column.texts for column in columns])
    for place, column in enumerate(columns):
        one = counting(column.texts) if column.kind == "alnum" and not column.what else None
        if one is None or place in times or not (one.is_proven or one.digits[0][0] == "0"):
            continue
        if counts is None or list(map(int, counts)) == list(map(int, one.digits)):
            return place, one
    return 0, None
