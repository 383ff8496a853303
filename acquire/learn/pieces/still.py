"""What was the same at every press and may be another thing at the next: it is told by its place.

A temperature, a battery or a clock that stood still in a lesson looks like an instrument's own
number. It is held, since it may say how a press went, and nobody should wonder at the noise. Pure.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from acquire.learn.pieces.column import Column, is_constant, literal, number_pattern, whole_pattern
from acquire.learn.pieces.counting import counting
from acquire.learn.pieces.pieces import Style
from acquire.learn.presses.press import LEAST_PRESSES

TWO_DIGITS = r"\d{2}"
"""The pattern of a number, or of a byte in hexadecimal digits of which no press had a letter."""
Moves = frozenset[str]
"""Numbers that stood still and of which a person says that they may be others."""
NO_MOVES: Moves = frozenset()
MOVING = "moving"
"""The kind of a column that is such a number."""
_GLUED = re.compile(
    "(?P<before>[A-Za-z]*)(?P<number>[+-]?[0-9]+(?:[.,][0-9]+)?)(?P<behind>[A-Za-z]*)"
)
_BAND = re.compile("[0-9]{3,4}nm")
"""A wavelength says which band was measured, and never moves."""
_LETTERED = re.compile("( *[A-Za-z]+)([0-9]+[.][0-9]+)([A-Za-z]*)")
_NUMBERS = ("alnum", "decimal")
_MANY_WORDS = 6


def movable(columns: Sequence[Column], held: frozenset[int] = frozenset()) -> tuple[str, ...]:
    """The numbers of which a person may say that they move, with letters and a % that touch them.
    None of those at the places `held`.

    Of two that were the same number nobody could say which is meant. A single digit is more likely
    a word on the press, and so may be one at the end, which may touch a checksum, unless letters
    name it.
    """
    return names_at(columns, [place for place in _movable(columns) if place not in held])


def names_at(columns: Sequence[Column], places: Iterable[int]) -> tuple[str, ...]:
    """What stands still at these places, as a person is told of it."""
    return tuple(_name(columns, place) for place in places)


def _movable(columns: Sequence[Column]) -> list[int]:
    still = [_name(columns, place) for place, c in enumerate(columns) if is_constant(c.texts)]
    last = len(columns) - 1
    return [
        place
        for place, column in enumerate(columns)
        if is_constant(column.texts) and column.kind in _NUMBERS
        if len(bare := _bare(column.texts[0].strip(" "))) > 1 and bare[-1].isdecimal()
        if place < last or _is_labelled(columns, place)
        if still.count(_name(columns, place)) == 1
    ]


def _name(columns: Sequence[Column], place: int) -> str:
    """What stands still at a place, as a person is told of it."""
    before = columns[place - 1] if place and columns[place].kind != "alnum" else None
    is_lettered = before is not None and before.kind == "alnum" and before.what != ""
    letters = before.texts[0].strip(" ") if before is not None and is_lettered else ""
    behind = [c.kind for c in columns[place + 1 : place + 3]]
    share = "%" if behind[:1] == ["%"] else " %" if behind == ["space", "%"] else ""
    return letters + columns[place].texts[0].strip(" ") + share


def _bare(name: str) -> str:
    """The number of a name, without letters and a % that touch it; empty where there is none."""
    found = _GLUED.fullmatch(name.removesuffix("%").rstrip(" "))
    return "" if found is None else found["number"]


def _is_labelled(columns: Sequence[Column], place: int) -> bool:
    """Whether letters stand right at the number of a column, but for a colon or such."""
    if columns[place].texts[0].strip(" ")[-1:].isalpha():
        return True
    row = "".join(column.texts[0] for column in columns[: place + 1])
    return re.search(r"[A-Za-z][:=]?[0-9.,]+$", row) is not None


def names_of(words: Sequence[str]) -> frozenset[str]:
    """All that a person may call these: with what touches them or without."""
    return frozenset(words) | {_bare(word) for word in words}


def moving(
    columns: Sequence[Column], moves: Moves, style: Style, held: frozenset[int] = frozenset()
) -> list[Column]:
    """The columns, with the pattern of any number like it where one stood still and may move.

    It may have moved since it was named: it stood still at the first presses then. A decimal number
    stands apart from the letters that touch it (`with_numbers_apart`), and those at the places
    `held` of such columns never move.
    """
    columns = with_numbers_apart(columns, style)
    if not moves:
        return columns
    named: set[int] = set()
    # A press that came after a person said so may show it: it had that name at those before.
    for presses in range(max((len(c.texts) for c in columns), default=0), LEAST_PRESSES - 1, -1):
        so_far = [Column(c.kind, c.texts[:presses], c.what) for c in columns]
        open_ = moves - names_of([_name(columns, place) for place in named])
        named |= {place for place in _named(so_far, open_, held) if _is_one_number(columns[place])}
    return [
        Column(MOVING, column.texts, _any(column, style.point)) if place in named else column
        for place, column in enumerate(columns)
    ]


def _named(columns: Sequence[Column], moves: Moves, held: frozenset[int]) -> set[int]:
    """The places that stood still and that a person called so."""
    still = [c for place, c in enumerate(columns) if place not in held and is_constant(c.texts)]
    bare = [_bare(column.texts[0].strip(" ")) for column in still]
    return {
        place
        for place in _movable(columns)
        if place not in held
        if (name := _name(columns, place)) in moves
        or (_bare(name) in moves and bare.count(_bare(name)) == 1)
    }


def _is_one_number(column: Column) -> bool:
    """Whether a column has a number at every press, with the same letters, and counts none."""
    if is_constant(column.texts):
        return True
    found = [_GLUED.fullmatch(text.strip(" ")) for text in column.texts]
    letters = {one and (one["before"], one["behind"]) for one in found}
    return None not in letters and len(letters) == 1 and counting(column.texts) is None


def moved(columns: Sequence[Column]) -> tuple[str, ...]:
    """The numbers that may be any since a person said so."""
    return tuple(_name(columns, at) for at, column in enumerate(columns) if column.kind == MOVING)


def _any(column: Column, point: str) -> str:
    found = _GLUED.fullmatch(column.texts[0].strip(" "))
    if found is not None and (found["before"] or found["behind"]):
        pad = " *" if column.texts[0].startswith(" ") else ""
        digits = whole_pattern([_bare(text.strip(" ")) for text in column.texts])
        return f"{pad}{literal(found['before'])}{digits}{literal(found['behind'])}"
    is_whole = column.kind == "alnum"
    return whole_pattern(column.texts, "-?") if is_whole else number_pattern(column.texts, point)


def with_numbers_apart(columns: Sequence[Column], style: Style) -> list[Column]:
    """The columns, with a decimal number apart from the letters that touch it: T21.1.

    So it may be any like it once it has moved, as one that stands alone may. A comma most often
    parts fields, and what stands behind it is no decimals then.
    """
    made: list[Column] = []
    place = 0
    while place < len(columns):
        found = _decimal_at(columns, place) if style.point == "." and not style.parts_fields else []
        made += found or [columns[place]]
        place += 3 if found else 1
    return made


def _decimal_at(columns: Sequence[Column], place: int) -> list[Column]:
    """The columns of a number with letters before its point and digits behind; none elsewhere."""
    here = columns[place : place + 3]
    if [column.kind for column in here] != ["alnum", ".", "alnum"]:
        return []
    is_longer = place + 3 < len(columns) and columns[place + 3].kind == "."
    rows = [_LETTERED.fullmatch("".join(row)) for row in zip(*(c.texts for c in here), strict=True)]
    found = [row.groups() for row in rows if row is not None]
    if is_longer or len(found) < len(rows):
        return []
    before, numbers, behind = (tuple(texts) for texts in zip(*found, strict=True))
    if not (is_constant(before) and is_constant(behind)):
        return []
    # Letters are held as they are, and are the unit of nothing else.
    number = [Column("alnum", before, literal(before[0])), Column("decimal", numbers)]
    return [*number, Column("alnum", behind, literal(behind[0]))] if behind[0] else number


def still_in_column(columns: Sequence[Column], place: int, what: str) -> tuple[str, ...]:
    """What of the numbers at a place of all lines its pattern holds, because it never changed."""
    column = columns[place]
    texts = [text.strip(" ") for text in column.texts]
    if is_constant(column.texts):
        is_number = re.search("[0-9]", texts[0]) and not _BAND.fullmatch(texts[0])
        is_held = what.strip(" ") == literal(texts[0])
        return (repr(_name(columns, place)),) if is_held and is_number else ()
    if column.what or what.startswith("(?"):
        return ()
    if what == TWO_DIGITS:
        return (f"digits alone, as in {texts[0]!r}",)
    # Without what may be any: "0[0-9A-F]{3}" holds its 0.
    held = re.sub(r"\\.|\[[^]]*\]|\{[^}]*\}|[*+?]", "", what)
    digits = "".join(sign for sign in held if sign.isdecimal())
    return (f"the {digits} of {texts[0]!r}",) if digits else ()


def still_in_frame(masks: Sequence[int], known: frozenset[int]) -> tuple[str, ...]:
    """The bytes that never changed, but for the ones at both ends, which mark a frame, and those
    that are `known`."""
    last = len(masks) - 1
    places = [
        at for at, mask in enumerate(masks) if mask == 0xFF and 0 < at < last and at not in known
    ]
    runs: list[list[int]] = []
    for at in places:
        if runs and runs[-1][-1] == at - 1:
            runs[-1].append(at)
        else:
            runs.append([at])
    return tuple(str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs)


def still_words(what: str, found: Sequence[str], movable: Sequence[str] = ()) -> list[str]:
    """The sentence on what stood still; `what` it stands in: a line or a frame.

    Of those that are `movable` a person may say that they are.
    """
    if not found:
        return []
    more = ", ..." if len(found) > _MANY_WORDS else ""
    told = ", ".join(found[:_MANY_WORDS]) + more
    say = f", or say --moves {movable[0]} if that is what moves" if movable else ""
    return [
        f"a {what} in which this is otherwise, which was the same at every press: {told}. If it is "
        "a temperature, a battery, a time, a running number or hexadecimal, presses are noise once "
        f"it is another one: press again some minutes later, and learn from all presses{say}"
    ]
