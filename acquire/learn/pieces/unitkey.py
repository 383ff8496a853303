"""The unit of a number under a name of its own, both in quotes: `"unit": "GU"`. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from acquire.learn.pieces.column import Column, is_constant
from acquire.learn.pieces.unitlike import Sort, Word, compound, sort_of
from acquire.learn.pieces.units import unit_of
from acquire.model import Quantity

_NAMES = frozenset(("unit", "units"))
_QUOTE = '"'
_SEVERAL = 2
_PARTS_OBJECTS = frozenset("{}[]")


def named_unit(columns: Sequence[Column], kind: Quantity) -> int | None:
    """The place of the word that so is the unit.

    `columns` are those of the line with its value. None where there is no such word, or several,
    where it belongs to another object than the value, or another word of the line is another unit.
    """
    found = [at for at, column in enumerate(columns) if _is_name(columns, at, column)]
    places = [place for at in found if (place := _word_of(columns, at)) is not None]
    if len(found) != 1 or len(places) != 1:
        return None
    (place,) = places
    value = next(at for at, column in enumerate(columns) if column.kind == "value")
    low, high = sorted((place, value))
    if any(column.kind in _PARTS_OBJECTS for column in columns[low:high]):
        return None
    own = {unit_of(text, kind) for text in columns[place].texts}
    others = {
        unit_of(text.strip(" "), kind)
        for at, column in enumerate(columns)
        for text in column.texts
        if at != place
    }
    return place if others <= own | {None} else None


def named_word(columns: Sequence[Column], kind: Quantity) -> Word | None:
    """The word that so is the unit, the first one that is none of a profile; None without one."""
    place = named_unit(columns, kind)
    if place is None:
        return _text_of(columns, kind)
    words = [Word(text, sort_of(text, kind)) for text in columns[place].texts]
    return next((word for word in words if word.sort is not Sort.UNIT), words[0])


def _text_of(columns: Sequence[Column], kind: Quantity) -> Word | None:
    """A unit made of one of a profile and more in quotes under such a name: N/m; else None."""
    found = [at for at, column in enumerate(columns) if _is_name(columns, at, column)]
    if len(found) != 1:
        return None
    seen = [
        place for place in range(found[0] + 2, len(columns)) if _kind(columns, place) != "space"
    ]
    if [columns[place].kind for place in seen[:2]] != [":", _QUOTE]:
        return None
    end = next((place for place in seen[2:] if columns[place].kind == _QUOTE), len(columns))
    inside = columns[seen[1] + 1 : end]
    value = next(at for at, column in enumerate(columns) if column.kind == "value")
    low, high = sorted((found[0], value))
    is_apart = any(column.kind in _PARTS_OBJECTS for column in columns[low:high])
    if is_apart or len(inside) < _SEVERAL or not all(is_constant(c.texts) for c in inside):
        return None
    first, *rest = [column.texts[0] for column in inside]
    is_other = unit_of(first, kind) is not None and compound(first, "".join(rest)) != ""
    is_strange = end < len(columns) and is_other
    return Word("".join((first, *rest)), Sort.STRANGE) if is_strange else None


def _is_name(columns: Sequence[Column], at: int, column: Column) -> bool:
    is_name = is_constant(column.texts) and column.texts[0].lower() in _NAMES
    return is_name and _kind(columns, at - 1) == _QUOTE == _kind(columns, at + 1)


def _word_of(columns: Sequence[Column], at: int) -> int | None:
    """The place of the word in quotes behind a name; None where something else stands there."""
    seen = [place for place in range(at + 2, len(columns)) if columns[place].kind != "space"]
    kinds = [columns[place].kind for place in seen[:4]]
    is_word = len(kinds) == 4 and kinds[:2] == [":", _QUOTE] and kinds[3] == _QUOTE
    return seen[2] if is_word and seen[3] == seen[2] + 1 else None


def _kind(columns: Sequence[Column], at: int) -> str:
    return columns[at].kind if 0 <= at < len(columns) else ""
