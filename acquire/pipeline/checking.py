"""A check under way: which piece is read next, and what was read so far. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

from acquire.model import CheckPolicy, PieceRule


@dataclass(slots=True)
class Checking:
    """Steps through the pieces of a policy; a step is done when every geometry has its readings."""

    check_id: int
    instrument: str
    serial: str
    policy: CheckPolicy
    readings: dict[tuple[str, str], list[Decimal]] = field(default_factory=dict)
    step: int = 0
    was_misplaced: bool = False
    """A reading was refused because it looked like another piece's."""

    @property
    def rule(self) -> PieceRule | None:
        """The piece to read now; None when all are read."""
        return self.policy.rules[self.step] if self.step < len(self.policy.rules) else None

    @property
    def has_readings(self) -> bool:
        """Whether anything was read in it, be it of the wrong piece."""
        return bool(self.readings) or self.was_misplaced

    def count(self, geometry: str) -> int:
        """Readings of the present piece at a geometry."""
        rule = self.rule
        return len(self.readings.get((rule.piece, geometry), ())) if rule else 0

    def take(self, geometry: str, value: Decimal) -> str | None:
        """Count a reading for the present piece and give the piece; None if it has no use here."""
        rule = self.rule
        if rule is None or geometry not in self.policy.geometries:
            return None
        if self.count(geometry) >= rule.readings:
            return None
        self.readings.setdefault((rule.piece, geometry), []).append(value)
        if all(self.count(g) >= rule.readings for g in self.policy.geometries):
            self.step += 1
        return rule.piece
