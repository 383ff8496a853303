"""The pattern of a line, put together from what stands at each of its places. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from acquire.learn.angles import Angles
from acquire.learn.column import (
    Column,
    Style,
    Token,
    clocks,
    is_constant,
    number_pattern,
    pattern,
    tokens,
)
from acquire.learn.counting import Counting, counting
from acquire.learn.units import unit_of
from acquire.model import Quantity


def columns_of(texts: Sequence[str], style: Style) -> list[Column] | None:
    """The columns of texts that are built alike; None if they are not."""
    rows: list[list[Token]] = [tokens(text, style) for text in texts]
    if len({tuple(token.kind for token in row) for row in rows}) > 1:
        return None
    return [
        Column(column[0].kind, tuple(token.text for token in column))
        for column in zip(*rows, strict=True)
    ]


AGAIN = "again"
"""The kind of a column that is the value once more."""


class Parts:
    """The pattern of a line put together from its columns."""

    def __init__(
        self,
        before: list[Column],
        values: list[str],
        behind: list[Column],
        point: str,
        kind: Quantity,
        angles_at: tuple[int, tuple[str, ...]] | None = None,
    ) -> None:
        self.unit_token = ""
        self._is_past = False
        self.counted: Counting | None = None
        self.has_again = False
        self.channels: tuple[str, ...] = ()
        self._point = point
        self._kind = kind
        columns = [*before, Column("value", tuple(values)), *behind]
        angles = Angles(columns, len(before))
        self.evident_angle, self.likely_angle = angles.evident, angles.likely
        numbers = angles.before_values(point) if kind is Quantity.GLOSS else {}
        if angles_at is None and kind is Quantity.GLOSS and not numbers:
            angles_at = angles.changing()
        moving = clocks([c.texts if c.kind != "value" else ("",) for c in columns])
        taken = {*moving, *numbers} | (set() if angles_at is None else {angles_at[0]})
        self._counts = self._counted(columns, taken)
        parts: list[str | None] = []
        for place, column in enumerate(columns):
            if place in numbers:
                angle = numbers[place]
                parts.append(
                    f"(?P<value_{angle}>{number_pattern(self._all(columns, numbers), point)})"
                )
                self.channels += (angle,)
            elif angles_at is not None and place == angles_at[0]:
                self.channels = angles_at[1]
                pad = " *" if any(text.startswith(" ") for text in column.texts) else ""
                parts.append(f"{pad}(?P<geometry>{'|'.join(self.channels)})")
            elif place in moving:
                pad = " *" if any(text.startswith(" ") for text in column.texts) else ""
                parts.append(rf"{pad}\d{{1,4}}")
            elif column.kind == "value":
                parts.append(f"(?P<value>{number_pattern(values, point)})")
            elif place in self._counts:
                parts.append(self._counts[place])
            elif column.kind == AGAIN:
                self.has_again = True
                parts.append(f"(?P<again>{number_pattern(column.texts, point)})")
            else:
                parts.append(self._part(column, is_behind=place > len(before)))
        self.pattern = None if None in parts else "".join(p or "" for p in parts)

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

    def _part(self, column: Column, *, is_behind: bool) -> str | None:
        is_word = column.kind in ("alnum", "decimal")
        known = {text for text in column.texts if unit_of(text, self._kind)}
        # The first word behind the number: one further on belongs to something else.
        is_past, self._is_past = self._is_past, self._is_past or (is_behind and is_word)
        if is_behind and not is_past and is_constant(column.texts) and known:
            self.unit_token, self._is_past = column.texts[0], True
            return f"(?P<unit>{pattern(column.texts, column.kind, self._point)})"
        return pattern(column.texts, column.kind, self._point)
