"""The check policy: how an instrument kind is checked before its readings may count."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from acquire.model.fact import Quantity


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
class CheckPolicy:
    """Pieces in the order in which they are read, and how long a pass lasts.

    `resolution` is the step of the display (same unit). `clock_jump_s` is how far the wall clock
    may step against the monotonic clock before a pass ends.
    """

    id: str
    quantity: Quantity
    channels: tuple[str, ...]
    unit: str
    resolution: Decimal
    rules: tuple[PieceRule, ...]
    valid_for_s: float
    clock_jump_s: float = 2.0
