"""Which number of a line is a geometry, and which only looks like one. Pure.

20, 60 and 85 are also hours, days, temperatures and the charge of a battery. One is a geometry only
where a word or a sign says so, where several stand before a number each, or where it changes right
before the number. Any other one is for a person to say. A value that nobody was shown is one of
another geometry only where what is sent says so: 20 and 45.1 may be a temperature and a humidity.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from acquire.learn.pieces.clock import clocks
from acquire.learn.pieces.column import Column, decimals_in, is_constant
from acquire.learn.pieces.counting import counting
from acquire.learn.pieces.gauges import is_label, is_measured
from acquire.learn.pieces.unitlike import Sort, sort_of
from acquire.learn.pieces.units import unit_of
from acquire.model import Quantity

ANGLES = ("20", "60", "85")
"""Degrees (ISO 2813), as text."""

_SIGNS = ("\xb0", "\xc2\xb0")
"""The degree sign, and its two bytes of UTF-8 as they look in Latin-1."""
_PARTS = frozenset(",;|:\t_=/")
_NUMBERS = ("alnum", "decimal")
_GLUED = re.compile(f"([A-Za-z]*)({'|'.join(ANGLES)})([A-Za-z]*)")
_BEHIND = frozenset(("deg", "degree", "degrees"))
_BEFORE = frozenset(("angle", "ang", "geometry", "geom", "geo"))
"""Words of the trade beside a geometry; common practice, no source."""


_NO_VALUE = Column("value", ("",))


class Changing(NamedTuple):
    """A place that says the geometry of each line: one of `angles`, between letters that touch."""

    place: int
    angles: tuple[str, ...]
    before: str = ""
    behind: str = ""

    def pattern(self, texts: Sequence[str], group: str = "geometry") -> str:
        """What may stand there; `texts` are what did."""
        pad = " *" if any(text.startswith(" ") for text in texts) else ""
        return f"{pad}{self.before}(?P<{group}>{'|'.join(self.angles)}){self.behind}"

    def texts(self, columns: Sequence[Column]) -> tuple[str, ...]:
        """What stands there, press by press."""
        return tuple(text.strip(" ") for text in columns[self.place].texts)


class Angles:
    """The places of a line that could say a geometry. `value_at` is the place of the number."""

    def __init__(self, columns: Sequence[Column], value_at: int) -> None:
        self.left_out: tuple[str, ...] = ()
        """Numbers behind what may be a geometry, which nobody was shown and nothing tells."""
        self.told_at: frozenset[int] = frozenset()
        """The places that say a geometry each, where one stands before each of several values."""
        self._own = ""
        self._columns = columns
        self._value_at = value_at
        moving = clocks([c.texts if c.kind != "value" else ("",) for c in columns])
        self._clocks = moving
        self._places = [
            place
            for place, column in enumerate(columns)
            if column.kind == "alnum"
            and place not in moving
            and {text.strip(" ") for text in column.texts} <= set(ANGLES)
            and not (place + 1 < len(columns) and _is_unit(columns[place + 1]))
        ]
        # A number that letters touch: it may be a geometry, and is one where they are such a word.
        self._glued = {
            place: (found[1], found[2], found[3])
            for place, column in enumerate(columns)
            if column.kind == "alnum" and is_constant(column.texts)
            if (found := _GLUED.fullmatch(column.texts[0].strip(" "))) and (found[1] or found[3])
        }

    @property
    def evident(self) -> str:
        """The geometry that a word or a sign of the line names; empty if none does.

        Before another number that may be a value as well one is most often that one's.
        """
        found = {place: self._at(place) for place in self._constant if self._is_named(place)}
        found |= {
            place: angle
            for place, (before, angle, behind) in self._glued.items()
            if self._is_named(place, before, behind)
        }
        is_one = len(set(found.values())) == 1 and not all(map(self._is_of_later, found))
        return next(iter(found.values())) if is_one else ""

    def _is_of_later(self, place: int) -> bool:
        """Whether behind the number a place is followed by another one like it."""
        if place < self._value_at:
            return False
        later = next(
            (
                at
                for at in range(place + 1, len(self._columns))
                if self._columns[at].kind in ("alnum", "decimal") and at not in self._clocks
                if not is_constant(self._columns[at].texts)
            ),
            None,
        )
        if later is None or counting(self._columns[later].texts) is not None:
            return False
        here = self._columns[later]
        is_like = decimals_in(here.texts) == decimals_in(self._columns[self._value_at].texts)
        return is_like and not _is_of_another(self._word_behind(later))

    def names(self, place: int) -> bool:
        """Whether letters that touch the number there name it as a geometry: GEO60."""
        before, _, behind = self._glued.get(place, ("", "", ""))
        return place in self._glued and self._is_named(place, before, behind)

    @property
    def likely(self) -> str:
        """The only number of the line that could be a geometry, or that before the number.

        Empty if there is no such one.
        """
        if self._own:
            return self._own
        found = [self._at(place) for place in self._constant]
        found += [angle for _, angle, _ in self._glued.values()]
        return found[0] if len(found) == 1 else ""

    def changing(self) -> Changing | None:
        """The place that says the geometry, where presses were of several.

        One that nothing names, and that does not stand right before the number, whatever signs
        part them, is such a place only where all geometries were seen there.
        """
        for place in range(len(self._columns)):
            found = self._changes(place)
            if found is None or is_measured(self._columns, place) or is_label(found.before):
                continue
            between = self._columns[place + 1 : self._value_at]
            is_near = place < self._value_at and not any(c.kind in _NUMBERS for c in between)
            # One that stands still beside it says another geometry at some presses.
            has_other = bool(self._constant or self._glued)
            is_whole = found.angles == ANGLES and not has_other
            if is_near or is_whole or self._is_named(place, found.before, found.behind):
                return found
        return None

    def of_a_press(self) -> Changing | None:
        """The only place of which presses had several geometries, whatever stands beside it.

        Or the first of two that had the same ones. That it says them is for a person to say.
        """
        found = [
            one
            for place in range(len(self._columns))
            if (one := self._changes(place)) is not None and not is_measured(self._columns, place)
        ]
        is_one = bool(found) and found[1:] in ([], [self.again(found[0])])
        return found[0] if is_one and not is_label(found[0].before) else None

    def again(self, said: Changing) -> Changing | None:
        """Another place that says the same geometry at every press; None without one."""
        own = self.said_at(said.place)
        return next(
            (
                one
                for place in range(len(self._columns))
                if place != said.place and (one := self._changes(place)) is not None
                if self.said_at(place) == own
            ),
            None,
        )

    def said_at(self, place: int) -> list[str]:
        """The geometries at a place that changes, press by press, without letters there."""
        texts = (text.strip(" ") for text in self._columns[place].texts)
        return [found[2] if (found := _GLUED.fullmatch(text)) else text for text in texts]

    def _changes(self, place: int) -> Changing | None:
        """The geometries there, with letters that touch each of them; None where it is no such."""
        texts = [text.strip(" ") for text in self._columns[place].texts]
        if self._columns[place].kind != "alnum" or is_constant(texts):
            return None
        if place in self._places:
            return Changing(place, tuple(sorted(set(texts))))
        found = [one.groups() for one in map(_GLUED.fullmatch, texts) if one is not None]
        if len(found) < len(texts) or len({(before, behind) for before, _, behind in found}) > 1:
            return None
        before, _, behind = found[0]
        is_glued = (before or behind) and place not in self._clocks
        angles = tuple(sorted({angle for _, angle, _ in found}))
        return Changing(place, angles, before, behind) if is_glued else None

    def before_values(self, point: str) -> dict[int, str]:
        """The places of the values of several geometries, where one stands before each.

        Where it is not told that they are, what is left out is kept, and there are none.
        """
        columns = self._columns
        glued = [(place, self._glued[place][1]) for place in self._glued if self.names(place)]
        angles = sorted([*((place, self._at(place)) for place in self._constant), *glued])
        if len(angles) < 2 or len({angle for _, angle in angles}) < len(angles):
            return {}
        decimals = max(len(t.partition(point)[2]) for t in columns[self._value_at].texts)
        for step in (1, 2, 3):
            places = {self._behind(place, step): angle for place, angle in angles}
            fits = all(
                place < len(columns)
                and columns[place].kind in ("alnum", "decimal", "value")
                and {len(t.partition(point)[2]) for t in columns[place].texts}
                in ({decimals}, {0, decimals})  # some show none of a large number
                for place in places
            )
            # What a decimal sign parts is no geometry and its value.
            is_parted = decimals == 0 and any(
                after.texts[0] == point for place, _ in angles for after in columns[place + 1 :][:1]
            )
            if fits and self._value_at in places and not (step > 1 and is_parted):
                if self._are_told(places, [place for place, _ in angles]):
                    self.told_at = frozenset(place for place, _ in angles)
                    return places
                self._own = places[self._value_at]
                self.left_out = tuple(
                    f"{angle} {columns[place].texts[0].strip(' ')}"
                    for place, angle in places.items()
                    if place != self._value_at
                )
                break
        return {}

    def _are_told(self, places: dict[int, str], angles_at: Sequence[int]) -> bool:
        """Whether all are values of geometries: by their unit, a word beside each, or the order.

        Of a meter of three geometries all stand in order, the unit of all behind the last.
        """
        words = [self._word_behind(place) for place in sorted(places)]
        if any(_is_of_another(word) for word in words):
            return False
        units = [unit_of(word, Quantity.GLOSS) for word in words]
        if all(units) or all(self._is_named(at) or self.names(at) for at in angles_at):
            return True
        order = tuple(angle for _, angle in sorted(places.items()))
        return order in (ANGLES, ANGLES[::-1]) and not any(units[:-1])

    def _word_behind(self, place: int) -> str:
        """The word or percent sign behind a number, whatever parts them; empty where none is."""
        for column in self._columns[place + 1 :]:
            text = column.texts[0].strip(" ")
            if text and text not in _PARTS:
                is_word = is_constant(column.texts) and (text.isalpha() or text == "%")
                return text if is_word else ""
        return ""

    def _behind(self, place: int, step: int) -> int:
        """So many places on; the space before the number of the display may be a part of it."""
        is_padded = all(text.startswith(" ") for text in self._columns[self._value_at].texts)
        is_next = is_padded and place + step - 1 == self._value_at
        return self._value_at if is_next else place + step

    @property
    def _constant(self) -> list[int]:
        return [place for place in self._places if is_constant(self._columns[place].texts)]

    def _at(self, place: int) -> str:
        return self._columns[place].texts[0].strip(" ")

    def _is_named(self, place: int, before: str = "", behind: str = "") -> bool:
        """Whether a word beside a place says so; `before` and `behind` are letters that touch."""
        behind = behind or self._beside(range(place + 1, len(self._columns)))
        before = before or self._beside(range(place - 1, -1, -1))
        return behind in _SIGNS or behind.lower() in _BEHIND or before.lower() in _BEFORE

    def _beside(self, places: range) -> str:
        """The first word or sign there that is no space and does not only part."""
        for place in places:
            column = self._columns[place]
            if not is_constant(column.texts):
                return ""
            if (text := column.texts[0].strip(" ")) not in ("", "=", ":", '"'):
                is_lead = text == "\xc2" and place + 1 < len(self._columns)
                return text + self._columns[place + 1].texts[0] if is_lead else text
        return ""


def geometries_at(columns: Sequence[Column], point: str) -> frozenset[int]:
    """The places of the geometries before several values of a line; none where it has no such."""
    at = next(place for place, column in enumerate(columns) if column.kind == "value")
    angles = Angles(columns, at)
    angles.before_values(point)
    return angles.told_at


def changing_alone(columns: Sequence[Column]) -> Changing | None:
    """The only place of a line beside that of the number that had several geometries."""
    return Angles([*columns, _NO_VALUE], len(columns)).of_a_press()


def evident_alone(columns: Sequence[Column]) -> str:
    """The geometry that a line beside that of the number names; empty where it names none."""
    return Angles([*columns, _NO_VALUE], len(columns)).evident


def is_of_geometry(columns: Sequence[Column], place: int) -> bool:
    """Whether a number with decimals is that of another geometry, which stands right before it.

    It has as many decimals as the value of the line, if that is one of them.
    """
    value = next((column for column in columns if column.kind == "value"), None)
    if value is None or decimals_in(value.texts) != decimals_in(columns[place].texts):
        return False
    before = place - 1
    while before >= 0 and columns[before].texts[0].strip(" ") in ("", *_SIGNS, *_PARTS):
        before -= 1
    if before < 0 or not is_constant(columns[before].texts):
        return False
    text = columns[before].texts[0].strip(" ")
    found = _GLUED.fullmatch(text)
    return text in ANGLES or text in _BEHIND or found is not None


def _is_unit(column: Column) -> bool:
    """Whether a number that it touches is no geometry."""
    return column.kind == "%" or unit_of(column.texts[0], Quantity.GLOSS) is not None


def _is_of_another(word: str) -> bool:
    """Whether it is a unit of something else than gloss."""
    sort = sort_of(word, Quantity.GLOSS) if word else Sort.PLAIN
    is_other = sort is Sort.UNIT and unit_of(word, Quantity.GLOSS) is None
    return is_other or sort is Sort.STRANGE
