"""A check under way: which piece is read next, and what was read so far. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

from acquire.model import CheckPolicy, PieceRule, channel_label, channel_labels, unasked
from acquire.pipeline.used import UsedReading

Values = dict[tuple[str, str], list[Decimal]]
"""Readings by piece and channel."""


@dataclass(slots=True)
class Checking:
    """Steps through the pieces of a policy; a step is done when every channel has its readings.

    `readings` are those that count. `voided` are those taken out by a person: their piece is read
    anew in full, and they stay with what was found.
    """

    check_id: int
    instrument: str
    serial: str
    policy: CheckPolicy
    readings: Values = field(default_factory=dict)
    voided: Values = field(default_factory=dict)
    refused: dict[str, list[Decimal]] = field(default_factory=dict)
    """Readings that were refused because they looked like another piece's, by the wanted one."""
    insisted: set[str] = field(default_factory=set)
    """Pieces that the meter is on, as a person says, whatever it reads."""
    _ids: dict[str, dict[int, str]] = field(default_factory=dict)
    """Numbers of the readings that count, each with its channel, by piece."""
    _void_ids: list[UsedReading] = field(default_factory=list)

    @property
    def step(self) -> int:
        """Place of the piece to read now among those of the policy; their number at the end."""
        for number, rule in enumerate(self.policy.rules):
            if any(self._count(rule.piece, g) < rule.readings for g in self.policy.channels):
                return number
        return len(self.policy.rules)

    @property
    def rule(self) -> PieceRule | None:
        """The piece to read now; None when all are read."""
        step = self.step
        return self.policy.rules[step] if step < len(self.policy.rules) else None

    @property
    def has_readings(self) -> bool:
        """Whether anything was read in it, be it void or of the wrong piece."""
        return bool(self.readings or self.voided or self.refused)

    @property
    def unexplained(self) -> dict[str, list[Decimal]]:
        """Refused readings of pieces of which none counted after: the meter may read that wrong."""
        found = {piece for piece, _ in self.found}
        return {piece: values for piece, values in self.refused.items() if piece not in found}

    @property
    def found(self) -> Values:
        """Everything that was read, the voided readings before those that replace them."""
        keys = self.voided | self.readings
        return {k: self.voided.get(k, []) + self.readings.get(k, []) for k in keys}

    @property
    def used(self) -> list[UsedReading]:
        """Every reading that was found, in the order of their numbers."""
        counting = [
            UsedReading(one, piece, channel, False)
            for piece, ids in self._ids.items()
            for one, channel in ids.items()
        ]
        return sorted([*counting, *self._void_ids])

    @property
    def last_id(self) -> int | None:
        """The last reading that counts."""
        return max((one for ids in self._ids.values() for one in ids), default=None)

    def count(self, channel: str) -> int:
        """Readings of the present piece at a channel."""
        rule = self.rule
        return self._count(rule.piece, channel) if rule else 0

    def why_unwanted(self, channel: str) -> str:
        """In words, why a reading of a channel has no use here, and what to do."""
        policy, what = self.policy, channel_label(channel) or "a reading"
        if channel and channel not in policy.channels:
            return (
                f"{unasked.CHECK}{what}: policy {policy.id} checks "
                f"{channel_labels(policy.channels)}; set the meter to that, or name a policy for "
                f"{what} in bench.toml"
            )
        return f"{unasked.CHECK}{what}{unasked.ENOUGH}"

    def take(self, channel: str, value: Decimal, reading_id: int) -> str | None:
        """Count a reading for the present piece and give the piece; None if it has no use here."""
        rule = self.rule
        if rule is None or channel not in self.policy.channels:
            return None
        if self._count(rule.piece, channel) >= rule.readings:
            return None
        self.readings.setdefault((rule.piece, channel), []).append(value)
        self._ids.setdefault(rule.piece, {})[reading_id] = channel
        return rule.piece

    def recall(self, reading: UsedReading, value: Decimal) -> None:
        """Put in a reading that the store has of this check."""
        values = self.voided if reading.is_void else self.readings
        values.setdefault((reading.piece, reading.channel), []).append(value)
        if reading.is_void:
            self._void_ids.append(reading)
        else:
            self._ids.setdefault(reading.piece, {})[reading.reading_id] = reading.channel

    def piece_of(self, reading_id: int) -> str | None:
        """The piece that a reading counts for."""
        return next((piece for piece, ids in self._ids.items() if reading_id in ids), None)

    def void(self, piece: str) -> list[int]:
        """Take out all readings of a piece, which is read anew; gives their numbers."""
        for channel in self.policy.channels:
            values = self.readings.pop((piece, channel), [])
            self.voided.setdefault((piece, channel), []).extend(values)
        ids = self._ids.pop(piece)
        self._void_ids += [UsedReading(one, piece, channel, True) for one, channel in ids.items()]
        return list(ids)

    def take_back(self, piece: str, first_id: int) -> list[int]:
        """Count what was read from a number on no more for its piece; gives the numbers.

        The meter stood elsewhere, so that it is no finding of the piece and no void of a person.
        """
        ids = self._ids.get(piece, {})
        taken = [one for one in ids if one >= first_id]
        for one in reversed(taken):
            key = piece, ids.pop(one)
            self.readings[key].pop()
            if not self.readings[key]:
                # Else the piece would pass for one of which something was found.
                del self.readings[key]
        return taken

    def was_voided(self, piece: str) -> bool:
        return any(voided == piece for voided, _ in self.voided)

    def _count(self, piece: str, channel: str) -> int:
        return len(self.readings.get((piece, channel), ()))
