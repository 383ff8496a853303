"""How coefficients of friction came about, and what to hold beside them, in sentences.

Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.figures import probability, rounded, signed, span
from acquire.analysis.meter.friction import Friction, FrictionKind
from acquire.analysis.slickness.effects import Effect, Effects
from acquire.analysis.slickness.precision import (
    D2534_REPEATABILITY,
    D2534_REPRODUCIBILITY,
    within_precision,
)
from acquire.analysis.treatments.level import Level
from acquire.model import Angle, SledCorrection

USUAL_SLICK, USUAL_BARE = 0.1, 0.4
"""Of a slick wax and of a bare clearcoat, static (common practice, no source)."""
LEAST_PLAUSIBLE, MOST_PLAUSIBLE = USUAL_SLICK / 2, 2 * USUAL_BARE
"""Half of the one and twice the other (our choice): beyond, a unit or a mass is likely wrong."""

_OF_KIND = {
    FrictionKind.STATIC: "static one, by the force at which the sled breaks free",
    FrictionKind.KINETIC: "kinetic one, by the mean force while the sled slides steadily",
}


def friction_rules(friction: Friction, lifted: Mapping[int, str]) -> tuple[str, ...]:
    """By what the forces became coefficients, with every correction that was on or off."""
    sled = friction.sled
    said = [
        "A coefficient of friction is force over weight (ASTM D1894, ISO 8295), here the "
        f"{_OF_KIND[friction.kind]}.",
        f"The sled weighs {sled.as_weighed} with a standard uncertainty of "
        f"{1000 * float(sled.u_kg):.3g} g; with g = {sled.gravity} m/s² it presses with "
        f"{sled.weight_n:.5g} N.",
        f"Corrections: {_corrections(friction)}.",
    ]
    if friction.source:
        said.append(friction.source)
    said += [
        f"Reading {number} is no coefficient and is left out: {why}."
        for number, why in sorted(lifted.items())
    ]
    return tuple(said)


def _corrections(friction: Friction) -> str:
    sled = friction.sled
    zero = friction.zero or (
        "gauge zero off" if SledCorrection.ZERO not in sled.corrections else "gauge zero on"
    )
    parts = [zero]
    for which, name, angle in (
        (SledCorrection.PULL_ANGLE, "angle of the line above the panel", sled.pull_angle),
        (SledCorrection.TILT, "tilt of the panel", sled.tilt),
    ):
        parts.append(f"{name} {_angle(angle, is_on=which in sled.corrections)}")
    return "; ".join(parts)


def _angle(angle: Angle | None, *, is_on: bool) -> str:
    if angle is None:
        return "off (not given, taken as 0)"
    given = f"{angle.deg}° with a standard uncertainty of {angle.u_deg}°"
    return f"on ({given})" if is_on else f"off ({given}, not taken into account)"


def friction_advice(
    friction: Friction,
    levels: Sequence[Level],
    comparisons: Sequence[Comparison | Refusal],
    names: Mapping[str, str],
) -> tuple[str, ...]:
    """What is usual, what is not plausible, and the published precision of the method."""
    said = [
        f"A bare clearcoat reads about {USUAL_BARE} static and a slick wax about {USUAL_SLICK} "
        "(common practice, no source): good for nothing but to see whether a figure is plausible."
    ]
    means = [(v.cell.zone, v.cell.stage, v.cell.mean) for v in levels if v.cell.mean is not None]
    odd = [m for m in means if not LEAST_PLAUSIBLE <= m[2] <= MOST_PLAUSIBLE]
    if odd:
        zone, stage, mean = odd[0]
        said.append(
            f"{len(odd)} of {len(means)} means lie outside {LEAST_PLAUSIBLE:g} to "
            f"{MOST_PLAUSIBLE:g}, such as {rounded(mean, 0.001)} of zone {zone} at {stage}: is the "
            f"sled's mass of {friction.sled.as_weighed} right, and the unit of the gauge (newton "
            "or gram-force)?"
        )
    if friction.kind is FrictionKind.KINETIC:
        said.append(
            "For wax coatings ASTM D2534 states a repeatability of "
            f"{D2534_REPEATABILITY:g} and a reproducibility of {D2534_REPRODUCIBILITY:g} for the "
            "kinetic coefficient: two results of one operator, and of two laboratories, differ by "
            "no more 19 times of 20. The decisions here do not rest on these figures."
        )
        said += _beside(comparisons, names)
    return tuple(said)


def _beside(comparisons: Sequence[Comparison | Refusal], names: Mapping[str, str]) -> list[str]:
    """Net changes held against the published repeatability, a line a stage."""
    said = []
    judged = [c for c in comparisons if isinstance(c, Comparison)]
    for stage in dict.fromkeys(c.stage for c in judged):
        here = [c for c in judged if c.stage == stage]
        inside = [
            names.get(c.treatment, c.treatment)
            for c in here
            if within_precision(0.0, c.estimate, D2534_REPEATABILITY)[1]
        ]
        beyond = len(here) - len(inside)
        said.append(
            f"{stage}: {beyond} of {len(here)} net changes are larger than that repeatability"
            + (f"; within it: {', '.join(inside)}." if inside else ".")
        )
    return said


def effect_words(found: Effects, *, of_traces: bool) -> tuple[str, ...]:
    """What dwell and first pull do to the static coefficient, or why that is not told."""
    dwell = found.per_decade
    if not of_traces:
        why = "a gauge that holds its peak does not say how long the sled had stood"
        dwell = Effect(None, lacking=why)
    return (
        _effect(
            dwell,
            "Dwell: the static coefficient grows with the logarithm of the time at rest",
            "a decade (ten times as long)",
            found.count,
        ),
        _effect(
            found.first,
            "First pull: it lies off the pulls behind it in the same zone and stage",
            "on top of the dwell" if dwell.size is not None else "",
            found.count,
        ),
    )


def _effect(effect: Effect, what: str, each: str, count: int) -> str:
    name = what.split(":", maxsplit=1)[0]
    by = f" {each}" if each else ""
    if effect.size is None:
        return f"{name}: not told, because {effect.lacking}."
    if effect.low is None or effect.high is None or effect.p is None:
        return f"{name}: {signed(effect.size, None)}{by}, not tested, because {effect.lacking}."
    half = (effect.high - effect.low) / 2
    figures = (
        f"{signed(effect.size, half)}{by}, 95 % interval {span(effect.low, effect.high, half)}, "
        f"p {probability(effect.p)}, {count} pulls"
    )
    if effect.is_shown:
        return f"{what}: {figures}. No pull is dropped for it."
    return f"{name}: no effect shown ({figures})."
