"""From forces to coefficients of friction, with every correction switchable and on record.

On a panel that rises by the angle b in the direction of the pull, with a line that rises by the
angle a above the panel, the sled moves evenly (or is about to) when

    F cos a = mu N + W sin b        N = W cos b - F sin a

so that mu = (F cos a - W sin b) / (W cos b - F sin a). With a = b = 0 this is F / W: static by the
first peak, kinetic by the mean force while it slides (ASTM D1894, D2534 clause 11, ISO 8295).
Doubt is carried by variables (`acquire.analysis.transmission.meter`), so what two coefficients
share cancels in their difference. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from acquire.analysis.slickness.pull import Pull
from acquire.analysis.slickness.sled import Sled
from acquire.analysis.slickness.steady import BATCHES
from acquire.analysis.transmission.meter import variable

if TYPE_CHECKING:
    from uncertainties import UFloat

STEEPEST_DEG = 45.0
"""For line and panel alike: beyond, this is no test of slickness."""

D2534_REPEATABILITY = 0.06
D2534_REPRODUCIBILITY = 0.17
"""What two results for the kinetic coefficient of wax coatings differ by at most, 19 times of 20:
one operator, and two laboratories (ASTM D2534, clause 13)."""


@dataclass(frozen=True, slots=True, eq=False)
class Corrections:
    """What is corrected; None leaves one off. Make each variable once for all that it holds for.

    `zero_n` is what the gauge reads with the line slack, for peaks of a gauge that holds them;
    a pull out of a trace has its own zero taken off already. Angles in degrees, above the panel
    (line) and uphill in the direction of the pull (panel).
    """

    zero_n: UFloat | None = None
    pull_angle_deg: UFloat | None = None
    tilt_deg: UFloat | None = None


@dataclass(frozen=True, slots=True)
class Applied:
    """One correction on record: whether it was on, with what, and what it did to the result.

    `effect` is the coefficient with all corrections less the one with all but this.
    """

    name: str
    is_on: bool
    value: float | None
    u: float | None
    unit: str
    effect: float


@dataclass(frozen=True, slots=True, eq=False)
class Coefficient:
    """A coefficient with its doubt, what it would be without any correction, and the record."""

    mu: UFloat
    uncorrected: float
    corrections: tuple[Applied, ...]


OFF = Corrections()


def coefficient(force_n: UFloat, sled: Sled, corrections: Corrections = OFF) -> Coefficient:
    """The coefficient that a force on the line stands for.

    Raises ValueError for an angle beyond 45 degrees, or where the line lifts the sled.
    """
    found = _mu(force_n, sled, corrections)
    parts = (
        ("gauge zero", "newton", "zero_n"),
        ("pull angle", "degree", "pull_angle_deg"),
        ("panel tilt", "degree", "tilt_deg"),
    )
    record = []
    for name, unit, field in parts:
        value: UFloat | None = getattr(corrections, field)
        if value is None:
            record.append(Applied(name, False, None, None, unit, 0.0))
            continue
        without = Corrections(
            **{f: getattr(corrections, f) if f != field else None for _, _, f in parts}
        )
        effect = found.nominal_value - _mu(force_n, sled, without).nominal_value
        record.append(Applied(name, True, value.nominal_value, value.std_dev, unit, effect))
    bare = _mu(force_n, sled, OFF).nominal_value
    return Coefficient(found, bare, tuple(record))


def _mu(force_n: UFloat, sled: Sled, corrections: Corrections) -> UFloat:
    from uncertainties.umath import cos, radians, sin  # noqa: PLC0415 - only whoever computes waits

    weight = sled.weight_n
    force = force_n if corrections.zero_n is None else force_n - corrections.zero_n
    line = _angle("pull angle", corrections.pull_angle_deg)
    tilt = _angle("panel tilt", corrections.tilt_deg)
    along, normal = force, weight
    if line is not None:
        along, normal = force * cos(radians(line)), normal - force * sin(radians(line))
    if tilt is not None:
        along = along - weight * sin(radians(tilt))
        normal = normal - weight * (1 - cos(radians(tilt)))
    if not normal.nominal_value > 0:
        raise ValueError(
            f"a line that rises by {line.nominal_value if line is not None else 0:g} degrees at "
            f"{force.nominal_value:g} N lifts the sled: nothing presses it on the panel"
        )
    return along / normal


def _angle(name: str, angle_deg: UFloat | None) -> UFloat | None:
    if angle_deg is not None and abs(angle_deg.nominal_value) > STEEPEST_DEG:
        raise ValueError(
            f"{name}: -{STEEPEST_DEG:g} to {STEEPEST_DEG:g} degrees are wanted, got "
            f"{angle_deg.nominal_value:g}"
        )
    return angle_deg


@dataclass(frozen=True, slots=True, eq=False)
class OfPull:
    """Both coefficients of one pull out of a trace; they share its zero, and the sled.

    `degrees` has the degrees of freedom of what came of few figures, by name, for a budget.
    """

    static: Coefficient
    kinetic: Coefficient
    degrees: Mapping[str, float]

    @property
    def ratio(self) -> UFloat | None:
        """Static over kinetic, None where the kinetic one is not above zero."""
        if not self.kinetic.mu.nominal_value > 0:
            return None
        return self.static.mu / self.kinetic.mu


def of_pull(pull: Pull, sled: Sled, name: str, corrections: Corrections = OFF) -> OfPull:
    """The coefficients of a pull; `name` tells it from others in a budget.

    Its doubt is that of its own zero, of peak and mean by noise, sampling and slips. What the gauge
    itself is off by, its checks say. Raises ValueError where a zero is to be taken off twice.
    """
    if corrections.zero_n is not None:
        raise ValueError(
            f"{name}: a pull out of a trace has its own zero, which is taken off already; "
            "leave the correction for the zero off"
        )
    zero = variable(f"zero, {name}", 0.0, pull.u_zero_n)
    peak = variable(f"first peak, {name}", pull.peak_n, pull.u_peak_n)
    steady = pull.steady
    # Too few samples for stretches of them: the mean is taken as no better than a single one.
    u_mean = steady.u_mean_n if steady.u_mean_n is not None else steady.sd_n or 0.0
    mean = variable(f"steady force, {name}", steady.mean_n, u_mean)
    nu = BATCHES - 1 if steady.u_mean_n is not None else max(1, steady.samples - 1)
    return OfPull(
        coefficient(peak - zero, sled, corrections),
        coefficient(mean - zero, sled, corrections),
        {str(mean.tag): float(nu)},
    )


def from_incline(angle_deg: UFloat) -> UFloat:
    """The static coefficient at which a sled begins to slide on a slope: its tangent.

    0 up to below 90 degrees, else ValueError. TAPPI T 815.
    """
    from uncertainties.umath import radians, tan  # noqa: PLC0415 - see `_mu`

    if not 0 <= angle_deg.nominal_value < 90:
        raise ValueError(f"0 to below 90 degrees are wanted, got {angle_deg.nominal_value:g}")
    return tan(radians(angle_deg))


def incline_of(mu: UFloat) -> UFloat:
    """The slope, in degrees, at which a sled of this static coefficient begins to slide."""
    from uncertainties.umath import atan, degrees  # noqa: PLC0415 - see `_mu`

    if not mu.nominal_value >= 0:
        raise ValueError(f"a coefficient of 0 or more is wanted, got {mu.nominal_value:g}")
    return degrees(atan(mu))


def within_precision(a: float, b: float, limit: float) -> tuple[float, bool]:
    """How far two results are apart, and whether a limit of precision allows for it.

    Exactly on the limit is within. Raises ValueError for a limit that is not above zero.
    """
    if not limit > 0:
        raise ValueError(f"a limit above 0 is wanted, got {limit}")
    apart = abs(b - a)
    # 0.36 - 0.3 is a little above 0.06 in binary.
    return apart, apart <= limit + 1e-9
