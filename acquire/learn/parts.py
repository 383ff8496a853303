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
    is_count,
    number_pattern,
    pattern,
    tokens,
    whole_pattern,
)
from acquire.learn.units import unit_of
from acquire.model import Quantity

PROVEN = 4
"""Presses that prove a count of theirs: three numbers in a row may as well be a temperature."""


def columns_of(texts: Sequence[str], style: Style) -> list[Column] | None:
    """The columns of texts that are built alike; None if they are not."""
    rows: list[list[Token]] = [tokens(text, style) for text in texts]
    if len({tuple(token.kind for token in row) for row in rows}) > 1:
        return None
    return [
        Column(column[0].kind, tuple(token.text for token in column))
        for column in zip(*rows, strict=True)
    ]


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
        self.has_count = False
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
            else:
                parts.append(self._part(column, is_behind=place > len(before)))
        self.pattern = None if None in parts else "".join(p or "" for p in parts)

    @staticmethod
    def _all(columns: list[Column], numbers: dict[int, str]) -> list[str]:
        return [text for place in numbers for text in columns[place].texts]

    def _part(self, column: Column, *, is_behind: bool) -> str | None:
        if not self.has_count and column.kind == "alnum" and is_count(column.texts, PROVEN):
            self.has_count = True
            return f"(?P<count>{whole_pattern(column.texts)})"
        is_word = column.kind in ("alnum", "decimal")
        known = {text for text in column.texts if unit_of(text, self._kind)}
        # The first word behind the number: one further on belongs to something else.
        is_past, self._is_past = self._is_past, self._is_past or (is_behind and is_word)
        if is_behind and not is_past and is_constant(column.texts) and known:
            self.unit_token, self._is_past = column.texts[0], True
            return f"(?P<unit>{pattern(column.texts, column.kind, self._point)})"
        return pattern(column.texts, column.kind, self._point)
