"""The check policy: how an instrument kind is checked before its readings may count."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from acquire.model.fact import Quantity

Span = tuple[Decimal, Decimal]
"""From the least to the largest value, both within it."""


@dataclass(frozen=True, slots=True)
class PieceRule:
    """One step of a check: a piece, how often it is read, and the limits it must keep.

    `limit` bounds |mean - certified value|; `spread_limit` bounds the standard deviation of the
    step's readings. Both are in `CheckPolicy.unit`.
    """

    piece: str
    readings: int
    limit: Decimal
    spread_limit: Decimal


@dataclass(frozen=True, slots=True)
class AmbientRule:
    """What the room must be like while an instrument is used; None where nothing is asked.

    `temperature_change_c` is how far the temperature may move from that of the check, `known_for_s`
    how long an entry of the room's climate tells how it is.
    """

    known_for_s: float
    temperature_c: Span | None = None
    temperature_change_c: Decimal | None = None
    humidity_percent: Span | None = None


@dataclass(frozen=True, slots=True)
class CheckPolicy:
    """Pieces in the order in which they are read, how long a pass lasts and what it covers.

    `resolution` is the step of the display (same unit). `clock_jump_s` is how far the wall clock
    may step against the monotonic clock before a pass ends. `valid_for_presses` counts presses
    that went into runs, `idle_s` is how long none may come. `warm_up_s` is how long the instrument
    must have been on before it is checked. `span` are the values that a pass covers, all where it
    is None. `linearity_limit` bounds how far a piece may lie off the straight line through the
    zero (or 0) and the highest piece.
    """

    id: str
    quantity: Quantity
    channels: tuple[str, ...]
    unit: str
    resolution: Decimal
    rules: tuple[PieceRule, ...]
    valid_for_s: float
    clock_jump_s: float = 2.0
    valid_for_presses: int | None = None
    idle_s: float | None = None
    ends_with_sitting: bool = False
    warm_up_s: float = 0.0
    span: Span | None = None
    linearity_limit: Decimal | None = None
    ambient: AmbientRule | None = None
