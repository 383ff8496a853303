"""The yard with meters of two angles: a press sends two readings, with the meter's own count."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from acquire.model import Flag
from tests.yard import TRIAL, Yard, pieces

ANGLES = ("20", "60")
TWO_ANGLES = TRIAL.replace("geometry = 20", "geometry = [20, 60]")


class TwoAngleYard(Yard):
    """As the yard, with certificates and checks at both angles."""

    count = 0
    alike_at_60: Decimal | None = None
    """What all pieces read at 60 degrees, where 20 degrees alone tells them apart."""

    def open(self) -> None:
        self.bench = replace(
            self.bench,
            pieces=tuple(
                replace(
                    piece,
                    certificates=tuple(
                        replace(
                            piece.certificates[0],
                            channel=angle,
                            value=(self.alike_at_60 if angle == "60" else None)
                            or piece.certificates[0].value,
                        )
                        for angle in ANGLES
                    ),
                )
                for piece in pieces()
            ),
            instruments=tuple(
                replace(spec, policy=replace(spec.policy, channels=ANGLES))
                for spec in self.bench.instruments
            ),
        )
        super().open()

    def press_both(self, *values: str | None) -> None:
        """One press: a line for each angle; None is a line that came garbled, ---- over-range."""
        self.count += 1
        for angle, value in zip(ANGLES, values, strict=True):
            if value is not None:
                is_over = value == "----"
                self.press(
                    "shore",
                    None if is_over else value,
                    channel=angle,
                    count=self.count,
                    flags=frozenset({Flag.OVER_RANGE} if is_over else ()),
                )

    def check(self, instrument: str, tile: str = "93.2", trap: str = "0.0") -> None:
        self.act(lambda at: self.acts.checks.begin(instrument, at))
        for value in (tile, tile, trap, trap):
            self.clock.advance(1)
            self.press_both(value, value)
        self.clock.advance(1)

    def begin(self, stage: str = "bare", instrument: str = "shore", text: str = TWO_ANGLES) -> None:
        super().begin(stage, instrument, text)


class AlikeYard(TwoAngleYard):
    """Its pieces read alike at 60 degrees."""

    alike_at_60 = Decimal("93.2")
