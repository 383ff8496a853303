"""From forces to coefficients of friction, for the readings of a whole measure.

A force F over the weight W = m g of the sled, with the angles of line and panel where the plan
wants them taken into account (`acquire.analysis.slickness.slope`). Readings, display and what the
checks found of the gauge are divided alike; what is off in the mass, or in an angle, is one error
of all readings (`acquire.analysis.meter.common`). Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial
from typing import NamedTuple

from acquire.analysis.budget.uncertainty import Combined
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.meterscale import Beside
from acquire.analysis.meter.common import Common
from acquire.analysis.samples.repeatability import Lent
from acquire.analysis.samples.sample import Sample
from acquire.analysis.scale import Scale
from acquire.analysis.slickness.slope import Slope, slope_of
from acquire.model import Angle, SledCorrection, SledSpec

ONE = "one"
"""The unit of a coefficient."""


class FrictionKind(StrEnum):
    """Which coefficient."""

    STATIC = "static"
    """By the force at which the sled breaks free."""
    KINETIC = "kinetic"
    """By the mean force while it slides steadily."""


@dataclass(frozen=True, slots=True)
class Friction:
    """By what forces become coefficients of one kind.

    `zero` says in a sentence what was done about the gauge's zero, `source` where the forces are
    from; `of_traces` is whether they come out of traces, one pull a reading.
    """

    sled: SledSpec
    kind: FrictionKind = FrictionKind.STATIC
    zero: str = ""
    source: str = ""
    of_traces: bool = False

    @property
    def name(self) -> str:
        return f"{self.kind} coefficient of friction"

    @property
    def scale(self) -> Scale:
        return Scale(ONE, self.name)

    def used(self, which: SledCorrection) -> Angle | None:
        """An angle that is taken into account; None for one that is not."""
        angle = self.sled.pull_angle if which is SledCorrection.PULL_ANGLE else self.sled.tilt
        return angle if which in self.sled.corrections else None

    def slope(self, force_n: float) -> Slope:
        """The coefficient of a force. ValueError where the line lifts the sled."""
        line, tilt = (self.used(c) for c in (SledCorrection.PULL_ANGLE, SledCorrection.TILT))
        return slope_of(
            force_n,
            self.sled.weight_n,
            float(line.deg) if line is not None else 0.0,
            float(tilt.deg) if tilt is not None else 0.0,
        )


class Brought(NamedTuple):
    """What the analysis takes instead of forces.

    `resolution` is the most that a step of the display does to any reading. `lifted` says of
    readings (by number) that are no coefficient why they are none.
    """

    samples: tuple[Sample, ...]
    brackets: tuple[Bracket, ...]
    resolution: float
    common: tuple[Common, ...]
    lent: Lent
    lifted: Mapping[int, str]


def brought(
    friction: Friction,
    samples: Sequence[Sample],
    brackets: Sequence[Bracket],
    resolution: float,
    lent: Lent,
) -> Brought:
    """Bring readings, checks and display, all in newton, to the coefficient."""
    weight = friction.sled.weight_n
    found: list[Sample] = []
    slopes: dict[int, Slope] = {}
    lifted: dict[int, str] = {}
    # A display has few steps: each force is worked out once.
    known: dict[float, Slope] = {}
    for sample in samples:
        slope = known.get(sample.value)
        if slope is None:
            try:
                slope = known[sample.value] = friction.slope(sample.value)
            except ValueError as why:
                lifted[sample.reading_id] = str(why)
                continue
        slopes[sample.reading_id] = slope
        # The checks are divided by the weight below, and this is what is left of the derivative.
        pull = sample.pull * weight * slope.by_force
        found.append(replace(sample, value=slope.mu, pull=pull, shown=sample.value / weight))
    most = max((s.by_force for s in known.values()), default=1 / weight)
    return Brought(
        tuple(found),
        tuple(_over(b, weight) for b in brackets),
        resolution * most,
        tuple(_common(friction, slopes)),
        _lent(lent, weight, of_traces=friction.of_traces),
        lifted,
    )


def _over(bracket: Bracket, weight: float) -> Bracket:
    def part(value: float | None) -> float | None:
        return None if value is None else value / weight

    def doubt(value: Combined) -> Combined:
        return value._replace(u=value.u / weight)

    def other(piece: Beside) -> Beside:
        return piece._replace(
            certified=piece.certified / weight,
            deviation=piece.deviation / weight,
            drift=part(piece.drift),
            u=piece.u / weight,
            opening_doubt=doubt(piece.opening_doubt),
            closing_doubt=doubt(piece.closing_doubt),
        )

    return replace(
        bracket,
        drift=part(bracket.drift),
        tile_u=bracket.tile_u / weight,
        opening_deviation=part(bracket.opening_deviation),
        certified=part(bracket.certified),
        opening_doubt=doubt(bracket.opening_doubt),
        closing_doubt=doubt(bracket.closing_doubt),
        opening_step=bracket.opening_step / weight,
        closing_step=bracket.closing_step / weight,
        foot=None if bracket.foot is None else other(bracket.foot),
        beside=tuple(other(piece) for piece in bracket.beside),
    )


def _common(friction: Friction, slopes: Mapping[int, Slope]) -> list[Common]:
    sled = friction.sled
    u_mass = float(sled.u_kg / sled.mass_kg)
    found = [
        Common(
            "mass of the sled",
            u_mass,
            f"Standard uncertainty of {1000 * float(sled.u_kg):.3g} g of {sled.as_weighed}, as a "
            "part of the mass. It was weighed once for all readings, so an error moves every mean "
            "in proportion, and so a difference; it cancels in a ratio alone.",
            lambda sample: slopes[sample.reading_id].by_weight,
        )
    ]
    for which, name, effect in (
        (SledCorrection.PULL_ANGLE, "angle of the line", "by_line"),
        (SledCorrection.TILT, "tilt of the panel", "by_tilt"),
    ):
        angle = friction.used(which)
        if angle is not None and angle.u_deg > 0:
            found.append(
                Common(
                    name,
                    math.radians(float(angle.u_deg)),
                    f"Standard uncertainty of {angle.u_deg} degrees of {angle.deg}, in radian; one "
                    "error of all readings.",
                    partial(_by_angle, slopes, effect),
                )
            )
    return found


def _by_angle(slopes: Mapping[int, Slope], effect: str, sample: Sample) -> float:
    return float(getattr(slopes[sample.reading_id], effect))


def _lent(lent: Lent, weight: float, *, of_traces: bool) -> Lent:
    """What a study says of single forces, over the weight; of figures out of traces nothing."""
    if of_traces:
        missing = (
            "No study is lent to figures that are taken out of traces: it has read the largest "
            "force of pulls, and no first peak and no mean."
        )
        return Lent({}, dict.fromkeys(lent.known, missing))
    return Lent(
        {
            channel: replace(r, sd=r.sd / weight, low=r.low / weight, high=r.high / weight)
            for channel, r in lent.known.items()
        },
        lent.missing,
    )
