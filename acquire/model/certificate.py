"""Reference pieces and what is certified of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from acquire.model.fact import Quantity


class PieceKind(StrEnum):
    """What a reference piece is."""

    GLOSS_TILE = "gloss-tile"
    BLACK_TRAP = "black-trap"
    NO_LOAD = "no-load"
    """Nothing hangs on the gauge: it reads zero."""
    CHECK_WEIGHT = "check-weight"
    NEUTRAL_FILTER = "neutral-filter"
    OPEN_BEAM = "open-beam"
    DARK = "dark"


@dataclass(frozen=True, slots=True)
class Certificate:
    """The known value of a piece for one quantity and channel.

    `expanded_uncertainty` is U = k u in the unit of the value; `coverage_factor` is k
    (JCGM 100, 6.2 and 7.2.3). After `due` the value may not be used any more.
    """

    piece: str
    quantity: Quantity
    channel: str
    value: Decimal
    unit: str
    expanded_uncertainty: Decimal
    coverage_factor: Decimal
    issued: date
    due: date
    issuer: str

    @property
    def standard_uncertainty(self) -> Decimal:
        """u = U / k, in the unit of the value."""
        return self.expanded_uncertainty / self.coverage_factor


@dataclass(frozen=True, slots=True)
class Piece:
    """A thing with known values: one certificate per quantity and channel."""

    id: str
    kind: PieceKind
    certificates: tuple[Certificate, ...]

    def certificate(self, quantity: Quantity, channel: str) -> Certificate | None:
        """The certificate for this quantity and channel; of several the latest issued."""
        fitting = [c for c in self.certificates if c.quantity is quantity and c.channel == channel]
        return max(fitting, key=lambda c: c.issued, default=None)
