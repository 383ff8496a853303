"""The pattern of a line, put together from what stands at each of its places. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence

from acquire.learn.beside.anglecodes import angle_codes
from acquire.learn.beside.angles import Angles, Changing
from acquire.learn.beside.glued import are_two
from acquire.learn.beside.unexplained import ending_of
from acquire.learn.pieces.clock import clocks, is_clock_open
from acquire.learn.pieces.column import (
    Column,
    alone,
    apart,
    is_constant,
    is_open,
    literal,
    number_pattern,
    one_of,
    pattern,
)
from acquire.learn.pieces.counting import Counting, counting
from acquire.learn.pieces.fill import fills_up
from acquire.learn.pieces.gauges import gauge
from acquire.learn.pieces.signs import RIGHT_BEFORE, Sign
from acquire.learn.pieces.sofar import SO_FAR
from acquire.learn.pieces.stamps import STAMP
from acquire.learn.pieces.still import still_in_column
from acquire.learn.pieces.unitkey import named_unit
from acquire.learn.pieces.units import kinds_of, unit_of
from acquire.model import Quantity

_PART_FIELDS = frozenset(" ,;|\t")
AGAIN = "again"
"""The kind of a column that is the value once more."""


class Parts:
    """The pattern of a line put together from its columns."""

    def __init__(  # noqa: PLR0915 - a branch for each kind of column
        self,
        before: list[Column],
        values: list[str],
        behind: list[Column],
        point: str,
        kind: Quantity,
        angles_at: Changing | None = None,
        sign: Sign | None = None,
    ) -> None:
        self.unit_tokens: tuple[str, ...] = ()
        self.strange_units: tuple[str, ...] = ()
        self.rivals: tuple[str, ...] = ()
        """Words for two units, right before the number and behind it: either may be its own."""
        self.foreign: tuple[str, ...] = ()
        """Words where a unit stands that are those of another kind of meter."""
        self.still: tuple[str, ...] = ()
        """Numbers, and digits of them, that were the same at every press and are held to be so."""
        self.free: tuple[tuple[str, ...], ...] = ()
        self.words_apart: tuple[str, ...] = ()
        """Words of one place of which every press had another one."""
        self._is_past = False
        self.counted: Counting | None = None
        self.has_again = False
        self.channels: tuple[str, ...] = ()
        self._point = point
        self._kind = kind
        self._ahead = word_ahead(before)
        columns = [*before, Column("value", tuple(values)), *behind]
        angles = Angles(columns, len(before))
        numbers = angles.before_values(point) if kind is Quantity.GLOSS else {}
        self.evident_angle, self.likely_angle = angles.evident, angles.likely
        self.left_out = angles.left_out
        told_at = angles.told_at if numbers else frozenset()
        if angles_at is None and kind is Quantity.GLOSS and not numbers:
            angles_at = angles.changing()
        others = [c.texts if c.kind != "value" else ("",) for c in columns]
        moving = clocks(others)
        self.is_open = is_clock_open(others)
        self.alone: set[int] = set()
        told_again = None if angles_at is None else angles.again(angles_at)
        told_places = {one.place for one in (angles_at, told_again) if one is not None}
        taken = {*moving, *numbers} | told_places
        self._counts = self._counted(columns, taken)
        codes = None
        if angles_at is not None and told_again is None:
            known = {*taken, *self._counts, len(before)}
            codes = angle_codes(columns, angles.said_at(angles_at.place), known)
        self.angle_codes = () if codes is None else codes.angles
        """Words that went one to one with the geometry, each with its own."""
        is_apart = not (numbers or (before and _ends_in_digit(before[-1])))
        has_space = not numbers and _are_parted(values)
        may_be_filled = (is_apart or has_space) and _may_be_filled(values, point)
        if sign is None and is_apart and _may_part_sign(values):
            sign = RIGHT_BEFORE
        self.sign = sign
        self.has_zeros = may_have_zeros([*values, *self._all(columns, numbers)], point)
        parts: list[str | None] = []
        named = named_unit(columns, kind)
        for place, column in enumerate(columns):
            if place in numbers:
                angle = numbers[place]
                every = number_pattern(self._all(columns, numbers), point, are_values=True)
                parts.append(f"(?P<value_{angle}>{every})")
                self.channels += (angle,)
                # The unit of all may stand behind any of them, and most stand behind the last.
                self._is_past = bool(self.unit_tokens)
            elif angles_at is not None and place == angles_at.place:
                self.channels = angles_at.angles
                parts.append(angles_at.pattern(column.texts))
            elif told_again is not None and place == told_again.place:
                parts.append(told_again.pattern(column.texts, "geometry_again"))
            elif codes is not None and place == codes.place:
                # None behind the number is its unit.
                self._is_past |= place > len(before)
                parts.append(codes.pattern(column.texts))
            elif place in moving:
                pad = " *" if any(text.startswith(" ") for text in column.texts) else ""
                parts.append(rf"{pad}{_digits(column.texts)}")
            elif column.kind == "value":
                parts.append(_value(values, point, self.sign, may_be_filled=may_be_filled))
            elif place in self._counts:
                parts.append(self._counts[place])
            elif place + 1 in numbers and column.kind == "space" and len(column.texts[0]) > 1:
                # They fill up the number behind them.
                parts.append(" +")
            elif fills_up(columns, place):
                parts.append(" +")
            elif place == len(before) + 1 and _fills_up(columns, place):
                parts.append(" *")
            elif place == len(before) + 1 and may_be_filled and _parts_word(columns, place):
                parts.append(" +")
            elif point == "," and _are_decimals(columns, place):
                parts.append(rf"\d{{{len(column.texts[0])}}}")
            elif column.what:
                self.free += (column.texts,) if column.kind == SO_FAR else ()
                parts.append(column.what)
            elif column.kind == AGAIN:
                self.has_again = True
                parts.append(f"(?P<again>{number_pattern(column.texts, point)})")
            else:
                own = gauge(columns, place, kind)
                if own is None and column.kind == "alnum":
                    self._note(column)
                is_behind = place > len(before) and not _is_of_another(columns, place)
                if named is not None:
                    is_behind, self._is_past = place == named, place != named
                is_field = _is_field(columns, place)
                parts.append(own or self._part(column, is_behind=is_behind, is_field=is_field))
        if sign is not None and sign.is_behind_unit:
            at = next(at for at, c in enumerate(columns) if at > len(before) and c.kind == "alnum")
            parts[at] = None if parts[at] is None else f"{parts[at]}{sign.about_behind()}"
        for place, column in enumerate(columns):
            is_known = place in {*taken, *told_at, *self._counts} or angles.names(place)
            if not is_known and column.kind in ("alnum", "decimal"):
                self.still += still_in_column(columns, place, parts[place] or "")
        times = {place for place, column in enumerate(columns) if column.kind == STAMP}
        self.ending = ending_of(columns, self.free, parts, {*moving, *self._counts, *times})
        if len(self.unit_tokens) > 1:
            parts[len(before)] = _value(
                values, point, sign, is_narrow=True, may_be_filled=may_be_filled
            )
        parted = [_parted(part, columns, place) for place, part in enumerate(parts)]
        spaces = {len(text) - len(text.lstrip(" ")) for text in values}
        has_one_width = len({len(text.strip(" ")) for text in values}) == 1
        is_parted = parted[len(before)] != parts[len(before)]
        self.may_touch = is_parted and (has_one_width or len(spaces) > 1)
        if sign is not None and any(sign.before) and before and _ends_in_digit(before[-1]):
            # The sign that stands before the number never touches the digits before that.
            parted[len(before)] = f" +{(parts[len(before)] or '').removeprefix(' *')}"
        self.pattern = None if None in parted else "".join(p or "" for p in parted)

    def _counted(self, columns: Sequence[Column], taken: set[int]) -> dict[int, str]:
        """The patterns of the places that count: of the best one, and of those that repeat it."""
        found = {
            place: one
            for place, column in enumerate(columns)
            if column.kind == "alnum" and place not in taken
            if (one := counting(column.texts)) is not None
        }
        if not found:
            return {}
        best = min(found, key=lambda place: (not found[place].is_proven, place))
        self.counted = found[best]
        patterns = {best: found[best].pattern()}
        copies = [p for p, one in found.items() if p != best and one.digits == found[best].digits]
        if copies:
            patterns[copies[0]] = found[copies[0]].pattern("count_again")
        return patterns

    @staticmethod
    def _all(columns: list[Column], numbers: dict[int, str]) -> list[str]:
        return [text for place in numbers for text in columns[place].texts]

    def _is_rival(self, column: Column) -> bool:
        """Whether a unit behind the number may be that of another one: its own may be before it."""
        ahead = unit_of(self._ahead, self._kind)
        return ahead is not None and {unit_of(text, self._kind) for text in column.texts} != {ahead}

    def _note(self, column: Column) -> None:
        """What more presses would tell of a column."""
        self.is_open |= is_open(column.texts)
        self.alone |= alone(column.texts)

    def _part(self, column: Column, *, is_behind: bool, is_field: bool) -> str | None:
        is_word = column.kind in ("alnum", "decimal")
        known = {text for text in column.texts if unit_of(text, self._kind)}
        # The first word behind the number: one further on belongs to something else.
        is_past, self._is_past = self._is_past, self._is_past or (is_behind and is_word)
        if known and len(known) < len(set(column.texts)):
            self.strange_units = tuple(dict.fromkeys(column.texts))
        elif is_behind and not is_past and known and self._is_rival(column):
            self.rivals = (self._ahead, column.texts[0])
        elif is_behind and not is_past and known:
            self.unit_tokens, self._is_past = tuple(dict.fromkeys(column.texts)), True
            words = "|".join(map(literal, self.unit_tokens))
            return f"(?P<unit>{words})"
        elif len(known) > 1:
            self.strange_units = tuple(dict.fromkeys(column.texts))
        elif is_behind and not is_past and all(map(kinds_of, column.texts)):
            self.foreign = tuple(dict.fromkeys(column.texts))
        what = pattern(column.texts, column.kind, self._point)
        if what is None and (several := apart(column.texts, is_field=is_field)):
            self.words_apart, what = several, one_of(several)
        if what is not None and is_free(column.texts, what):
            self.free += (column.texts,)
        return what


def _is_field(columns: Sequence[Column], place: int) -> bool:
    """Whether a sign that parts fields, or nothing, stands on either side of a column."""
    before = {text[-1:] for text in columns[place - 1].texts} if place else set()
    behind = {text[:1] for column in columns[place + 1 : place + 2] for text in column.texts}
    return before | behind <= _PART_FIELDS


def word_ahead(before: Sequence[Column]) -> str:
    """The word right before a number; one right behind another number is that one's, and empty."""
    words = [column for column in before if column.texts[0].strip(" =:")][-2:]
    if not words or not is_constant(words[-1].texts):
        return ""
    is_behind = len(words) > 1 and any(text[-1:].isdecimal() for text in words[0].texts)
    return "" if is_behind else words[-1].texts[0].strip(" ")


def _is_of_another(columns: Sequence[Column], place: int) -> bool:
    """Whether a sign touches the digits of another number than the value: it is of that one."""
    column, beside = columns[place], columns[place - 1]
    is_sign = column.kind not in ("alnum", "decimal", "space")
    return is_sign and beside.kind != "value" and _ends_in_digit(beside)


def _fills_up(columns: Sequence[Column], place: int) -> bool:
    """Whether these spaces behind the value may fill it up: a wider one had fewer."""
    column = columns[place]
    if column.kind != "space" or not is_constant(column.texts):
        return False
    # Nobody writes one before a sign that parts fields, or at the end of a line.
    is_before_sign = place + 1 == len(columns) or columns[place + 1].kind in (*",;|", "\t")
    return len(column.texts[0]) > 1 or is_before_sign


def _are_decimals(columns: Sequence[Column], place: int) -> bool:
    """Whether these are the decimals behind the point of a number that moves."""
    if place < 2 or columns[place - 1].texts[0] != "." or is_constant(columns[place].texts):
        return False
    texts, whole = columns[place].texts, columns[place - 2].texts
    goes_on = place + 1 < len(columns) and columns[place + 1].kind == "."
    are_digits = "".join(texts).isdecimal() and len({len(text) for text in texts}) == 1
    return (
        are_digits
        and not goes_on
        and not is_constant(whole)
        and all(text.strip(" ").isdecimal() for text in whole)
        and not are_two(whole, texts)
    )


def _may_be_filled(values: Sequence[str], point: str) -> bool:
    """Whether all numbers had as many digits: how it fills up one with fewer nobody has seen."""
    # One space before each may be what parts it from something else.
    bare = [text.removeprefix(" ") for text in values] if _are_parted(values) else values
    digits = {text.strip(" ").lstrip("+-") for text in bare}
    is_padded = any(text != text.strip(" ") for text in bare)
    places = {(text.find(point), len(text)) for text in digits}
    return not is_padded and len(places) == 1 and all(text[0] != "0" for text in digits)


def may_have_zeros(values: Sequence[str], point: str) -> bool:
    """Whether zeros may fill up a number: not where spaces or nothing were seen in their place."""
    wholes = [text.strip(" ").lstrip("+-").strip(" ").partition(point)[0] for text in values]
    is_filled = any(len(whole) > 1 and whole[0] == "0" for whole in wholes)
    has_spaces = all(text.startswith("  ") for text in values)
    return is_filled or (len(set(map(len, wholes))) == 1 and not has_spaces)


def _are_parted(values: Sequence[str]) -> bool:
    """Whether one space stands before each of the numbers."""
    return all(text.startswith(" ") for text in values)


def _may_part_sign(values: Sequence[str]) -> bool:
    """Whether spaces may fill up what stands behind a sign: nobody has seen fewer digits there."""
    signed = [text for text in values if text.lstrip(" ")[:1] in ("+", "-")]
    is_seen = any(text[0] == " " or text[1] == "0" for text in signed)
    is_behind = any(text[-1] == " " for text in values)
    return bool(signed) and not is_seen and not is_behind and len(set(map(len, signed))) == 1


def _parts_word(columns: Sequence[Column], place: int) -> bool:
    """Whether one space parts the value from a word: what fills it up may stand there, too."""
    is_one = set(columns[place].texts) == {" "}
    return is_one and place + 1 < len(columns) and columns[place + 1].kind == "alnum"


def _value(
    values: Sequence[str], point: str, sign: Sign | None, *, is_narrow: bool = False,
    may_be_filled: bool = False,
) -> str:  # fmt: skip
    """The pattern of the value, with the sign that stands elsewhere than right before it."""
    what = number_pattern(values, point, is_narrow=is_narrow, may_be_filled=may_be_filled)
    if sign is None:
        return f"(?P<value>{what})"
    is_padded = any(text.startswith(" ") for text in values)
    return sign.about(f"(?P<value>{what.replace('[+-]?', '')})", is_padded=is_padded)


def is_free(texts: Sequence[str], what: str) -> bool:
    """Whether a pattern lets other numbers or words stand there than those that were seen."""
    return not is_constant(texts) and (r"\d" in what or "[0-9" in what)


def _digits(texts: Sequence[str]) -> str:
    """The digits of a part of a time or a date."""
    widths = {len(text.strip(" ")) for text in texts}
    return rf"\d{{{min(widths)}}}" if len(widths) == 1 else rf"\d{{1,{max(widths)}}}"


def _parted(part: str | None, columns: Sequence[Column], place: int) -> str | None:
    """The pattern of a column that cannot touch digits before it.

    Columns of a fixed width touch where one is full: which digit belongs to which is not said then.
    A sign there may be one of the number before.
    """
    if part is None or not place or not _ends_in_digit(columns[place - 1]):
        return part
    texts = columns[place].texts
    if found := re.match(r"(\(\?P<\w+>)? \*", part):
        return f"{found[1] or ''} +{part[found.end() :]}"
    if found := re.match(r"(\(\?P<\w+>)?\[\+-\]\?", part):
        signs = {text[:1] for text in texts}
        if not signs <= {"+", "-"}:
            return None
        # Of both that were seen each says where the digits before it end.
        sign = literal(signs.pop()) if len(signs) == 1 else "[+-]"
        return f"{found[1] or ''}{sign}{part[found.end() :]}"
    return part


def _ends_in_digit(column: Column) -> bool:
    """Whether what stands there may end in a digit, decimal or hexadecimal."""
    lasts = {text[-1:] for text in column.texts}
    return any(last.isdecimal() for last in lasts) or (
        len(lasts) > 1 and any(last.isalnum() for last in lasts)
    )
