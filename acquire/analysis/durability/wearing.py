"""How the gain of one treatment wears: what is kept at each count, whether it falls, its half-life.

Trend. Gains of zones share the control and are not independent, so the mean gain of the treatment
is one series, and its ranks are tested, among the orders in which the first gain would have been
shown: without that, of gains that hardly were and did not fall, 5 to 12 of 100 were said to.
Half-life. The fit goes through the levels of treated less
control at each stage, bare among them: these have no reading in common, as gains would. With
several zones on both sides its interval goes by how the zones differ, and holds for zones treated
so (`acquire.analysis.durability.zonedecay`); else by the readings and by how far the levels lie
off the course, whichever says less, for the zones read: a zone reads otherwise from stage to stage
by more than its readings scatter, and by the readings alone intervals of 95 % held the truth in 47
of 100 drawn trials. Fits want three counts or more, 0 among them; of fewer no course can be told
from another. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from acquire.analysis.budget.uncertainty import CONFIDENCE
from acquire.analysis.durability.course import Course, Distance, Washed, Washing
from acquire.analysis.durability.decay import DecayFit, decay_fit
from acquire.analysis.durability.halving import looked_of
from acquire.analysis.durability.keeping import first_gain, kept_at
from acquire.analysis.durability.retention import Kept
from acquire.analysis.durability.trend import Trend, trend
from acquire.analysis.durability.zonedecay import zone_decay
from acquire.analysis.laws.student import t_factor
from acquire.analysis.samples.summary import LARGEST

_FEWEST = 3
_SMALLEST = 1e-9
"""Of values that are rounded so."""
_DIGITS = 1e12
"""Of a float, but for a few that sums of squares take."""


@dataclass(frozen=True, slots=True)
class Wear:
    """One treatment over the washes.

    `gain` is its first gain, `kept` the share of it at each washed stage, in order. `lacking` says
    why nothing is kept, for all counts alike. `trend` and `fit` are None with `no_trend` and
    `no_fit` saying why. `is_of_zones` is whether the half-life goes by how zones differ.
    """

    treatment: str
    zones: tuple[str, ...]
    gain: Distance
    kept: tuple[tuple[Washed, Kept], ...]
    lacking: str
    trend: Trend | None
    no_trend: str
    fit: DecayFit | None
    no_fit: str
    is_of_zones: bool = False

    @property
    def is_kept(self) -> bool:
        """Whether there is a share at any count."""
        return any(k.share is not None for _, k in self.kept)


def wear_of(treatment: str, course: Course, washing: Washing, alpha: float) -> Wear:
    """What the zones of `course` say together; intervals at the two-sided level `alpha`."""
    gain = first_gain(course, washing, alpha)
    zones = tuple(course.zones)
    why = gain.lacking
    if not why and gain.is_below:
        why = "the treatment made it worse before the first wash, so there is no gain to keep"
    elif not why and not gain.is_above:
        why = "no gain was shown before the first wash, so there is none to keep"
    if why:
        return Wear(treatment, zones, gain, (), why, None, why, None, why)
    kept = tuple((look, kept_at(course, washing, look, alpha)) for look in washing.washed)
    read = [x for x in washing.looks if not course.lacking((washing.bare, washing.start, x.stage))]
    common = [washing.bare, *(x.stage for x in read)]
    if why := course.lacking(common):
        why = f"{why}, so that no zone has the whole course"
        return Wear(treatment, zones, gain, kept, "", None, why, None, why)
    fall, no_fall = _trend(course, washing, read, gain)
    is_lost = any(k.high is not None and k.high < 1 for _, k in kept)
    is_fall_shown = is_lost or (fall is not None and fall.is_fall_shown)
    fit, no_fit = _fit(course, washing, read, alpha, is_fall_shown)
    return Wear(
        treatment, zones, gain, kept, "", fall, no_fall, fit, no_fit,
        is_of_zones=_is_of_zones(_whole(course, washing, read)),
    )  # fmt: skip


def _trend(
    course: Course, washing: Washing, read: list[Washed], gain: Distance
) -> tuple[Trend | None, str]:
    whole = _whole(course, washing, read)
    if len(read) < 2:
        return None, "no washed stage has been read"
    # Rounded, since equal means must stay ties whatever sums of floats make of them.
    values = [round(whole.contrast({washing.bare: -1.0, x.stage: 1.0}).estimate, 9) for x in read]
    assert gain.estimate is not None
    assert gain.reach is not None
    # A zone that was not read to the end is in the first gain alone; the step up to its reach is
    # what was asked of it.
    above = values[0] - max(gain.estimate - gain.reach, _SMALLEST)
    return trend([([float(x.washes) for x in read], values)], above), ""


def _fit(
    course: Course, washing: Washing, read: list[Washed], alpha: float, is_fall_shown: bool
) -> tuple[DecayFit | None, str]:
    if len(read) < _FEWEST:
        return None, (
            f"{len(read)} counts, 0 among them; {_FEWEST} or more are wanted to tell one course "
            "from another"
        )
    if not course.control:
        return None, "without the control the levels of the stages are not independent"
    whole = _whole(course, washing, read)
    if _is_of_zones(whole):
        return zone_decay(whole, washing, read, alpha)
    stages = [washing.bare, *(x.stage for x in read)]
    levels = [_level(whole, stage) for stage in stages]
    if any(u is None for _, u in levels):
        return None, "the uncertainty of a stage by itself is not known"
    (bare, u_bare), *later = levels
    known = [u or 0.0 for _, u in later]
    if not min([u_bare or 0.0, *known]) > 0:
        return None, "a stage has no uncertainty"
    if max(u_bare or 0.0, *known, *(abs(v) for v, _ in levels)) > LARGEST:
        return None, "levels or their uncertainty are beyond what could be measured"
    if max(abs(v) for v, _ in levels) > _DIGITS * min([u_bare or 0.0, *known]):
        return None, "the levels are so many times their uncertainty that no digit is left of it"
    fit = decay_fit(
        [float(x.washes) for x in read], [v for v, _ in later], us=known, bare=[bare],
        u_bare=u_bare, are_least=True,
    )  # fmt: skip
    looked = looked_of(whole, washing, read, alpha)
    return fit.beside(looked, is_fall_shown=is_fall_shown), ""


def _is_of_zones(whole: Course) -> bool:
    return min(len(whole.zones), len(whole.control)) > 1


def _whole(course: Course, washing: Washing, read: Sequence[Washed]) -> Course:
    """The course of the zones that were read at each of the stages."""
    return course.read_at({washing.bare, *(x.stage for x in read)})


def _level(course: Course, stage: str) -> tuple[float, float | None]:
    """Treated less control at a stage, and the uncertainty that has its 95 % reach if it were sure.

    From the readings' scatter, or from stage to stage where zones tell that: with one zone on a
    side nothing tells how zones wear, so the half-life holds for the zones that were read, and is
    said to. It is the least that a level is uncertain by. With several zones on both sides
    it goes by them (`acquire.analysis.durability.zonedecay`). Few readings and known shifts are in
    the reach, so that the fit, which takes uncertainties for known, does not take them for too
    small.
    """
    found = course.distance({stage: 1.0}, 1 - CONFIDENCE)
    if found.reach is None:
        return found.estimate or 0.0, None
    return found.estimate or 0.0, found.reach / t_factor(math.inf, CONFIDENCE)
