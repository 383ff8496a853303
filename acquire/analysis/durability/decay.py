"""The half-life of what washing takes away, fitted, and told only where the readings resolve it.

y = B + (A - B) exp(-n / tau) by least squares; half of what goes is gone after tau ln 2. Where the
bare surface was read the course ends there, unless a plateau above or below it fits better (F test
of one figure more, or chi-square where the uncertainty of the readings is known). The interval of
the half-life is that of the profile: all tau whose sum of squares is larger than the least by no
more than chance allows (D. M. Bates and D. G. Watts, Nonlinear Regression Analysis (1988), chapter
6, from memory); an interval by first order would be closed even where the readings do not close it.
Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from acquire.analysis.durability.halving import Looked
from acquire.analysis.durability.profile import Data, Profile, profile_of
from acquire.analysis.figures import rounded
from acquire.analysis.laws.special import chdtrc, fdtrc
from acquire.analysis.laws.student import t_factor
from acquire.analysis.samples.summary import checked

LEVEL = 0.05
APART = 0.01
"""Of a plateau where levels may scatter by more than their uncertainty: each that is found where
there is none has a half-life of something else, and its interval misses. At 0.05 half of all
misses were such."""
EXACT = 1e-9
"""Readings as near to a course as this, in parts of the largest, lie on it: no display tells more,
and the search for tau leaves about as much."""
MISFIT = 0.01
"""A course as far from the readings as this, by their own uncertainty, does not describe them."""

_NO_CHANGE = "no change with the washes is shown"
_NO_FALL = "no fall is shown: the readings may as well stay where they began"
_OVER = "the fall is over before the looks can follow it"
_STOPPED = "washing stopped at"
_NO_COURSE = "the readings show no exponential course"

_NO_SCATTER = (
    "as many figures are fitted as there are stages, so that nothing shows how far the levels lie "
    "off any course"
)
_FEWEST_TO_SPARE = 2
_ONE_TO_SPARE = (
    "with one stage to spare the levels lie near a course by luck, or none would be told: one more "
    "count, or several zones of it and of the control, would show how far they lie off"
)
"""Where levels may scatter by more than their uncertainty. Of drawn courses over three counts whose
levels lie off by up to 15 % of the first gain, 63 to 99 of 100 intervals held the truth where one
was told: courses that lie off by much were taken for others, and what was left seemed to scatter by
little. With two stages to spare it is 90 to 99 up to 8 %, 86 at 15 %."""


class Shape(StrEnum):
    """Where the course ends."""

    TO_BARE = "exponential to the bare surface"
    PLATEAU = "exponential to a plateau"


@dataclass(frozen=True, slots=True)
class DecayFit:
    """The best course: `start` A at count 0, `end` B, `tau` in washes, `sd` of the readings.

    `sd` is None where the uncertainty of the readings was given, or nothing is left to tell it by.
    `half_life` is tau ln 2 of the best course whatever its worth, or where that of the gain was
    asked for, whatever the course, `half_of_gain`; `low` to `high` is its interval, None where the
    readings leave a side open. A half-life is a result only where `is_resolved`;
    otherwise `lacking` says why not, and no bound is told by the law of the fit (`beside`).
    `beside_plateau` says what counts tell of half of the gain where the half-life is of what goes
    before a plateau. Without any course the figures are None.
    """

    shape: Shape
    start: float | None
    end: float | None
    tau: float | None
    sd: float | None
    nu: float
    low: float | None
    high: float | None
    confidence: float
    lacking: str = ""
    half_of_gain: float | None = None
    beside_plateau: str = ""

    @property
    def is_resolved(self) -> bool:
        return not self.lacking

    @property
    def half_life(self) -> float | None:
        if self.half_of_gain is not None:
            return self.half_of_gain
        return None if self.tau is None else self.tau * math.log(2)

    def beside(self, looked: Looked, *, is_fall_shown: bool = False) -> DecayFit:
        """The fit held against single counts: they rule it out, or bound what it leaves open.

        `is_fall_shown` is whether what was kept at a count, or the order of all, shows a fall.
        """
        lacking = self.lacking
        half, left, gone = self.half_life, looked.left or 0.0, looked.gone or math.inf
        of_gain = self.shape is Shape.TO_BARE or self.half_of_gain is not None
        if not lacking and of_gain and half is not None and not left <= half <= gone:
            lacking = "no exponential course describes what was kept"
        elif self._is_denied(looked, is_fall_shown):
            lacking = _NO_COURSE
        if not lacking:
            return self if of_gain else replace(self, beside_plateau=looked.words)
        lacking = f"{lacking}; {looked.words}"
        return replace(self, low=looked.left, high=looked.gone, lacking=lacking)

    def _is_denied(self, looked: Looked, is_fall_shown: bool) -> bool:
        """Whether the counts show what this fit, by the scatter about its course, does not."""
        if self.lacking in (_NO_CHANGE, _NO_FALL):
            return is_fall_shown or looked.gone is not None
        if self.lacking == _OVER:
            # A fall to a plateau may be over at once, and more than half be left for good.
            return self.shape is Shape.TO_BARE and looked.left is not None
        return self.lacking.startswith(_STOPPED) and looked.gone is not None

    @property
    def words(self) -> str:
        return self.words_for("")

    def words_for(self, whom: str) -> str:
        """What the course is, with those its interval holds for, as ``these zones``."""
        if self.lacking or self.half_life is None or self.low is None or self.high is None:
            return f"Half-life not resolved: {self.lacking}."
        if self.half_of_gain is not None:
            return (
                f"Half of the gain is gone after {washes_text(self.half_life)} washes by the best "
                f"course ({self.shape}), {100 * self.confidence:g} % interval"
                f"{f' for {whom}' if whom else ''} {washes_text(self.low)} to "
                f"{washes_text(self.high)} by what was kept, if it fell ever more "
                "slowly or evenly."
            )
        of = "the gain" if self.shape is Shape.TO_BARE else "what goes before a plateau"
        held = f" for {whom}" if whom else ""
        whole = f" Of the gain itself {self.beside_plateau}." if self.beside_plateau else ""
        return (
            f"Half of {of} is gone after {washes_text(self.half_life)} washes, "
            f"{100 * self.confidence:g} % interval{held} {washes_text(self.low)} to "
            f"{washes_text(self.high)}, if the course is {self.shape}.{whole}"
        )


def decay_fit(
    counts: Sequence[float],
    values: Sequence[float],
    *,
    us: Sequence[float] | None = None,
    bare: Sequence[float] = (),
    u_bare: float | None = None,
    are_least: bool = False,
    confidence: float = 0.95,
) -> DecayFit:
    """Fit `values` at wash `counts`, repeats allowed; `bare` are readings of the bare surface.

    `us` are standard uncertainties of the values, each for itself, and then `u_bare` that of each
    bare reading; without them the scatter about the course is taken, the same everywhere. With
    `are_least` the values may scatter by more than their uncertainties, by a factor that is the
    same for all: what is said holds by these and by the scatter about the course as well, no course
    is refused for that scatter, and it takes two stages more than figures are fitted. Raises
    ValueError for lists of different length, uncertainties not above 0 or missing, or figures that
    are not finite.
    """
    tied, free = (_data(counts, values, us, bare, u_bare, own_level=own) for own in (False, True))
    different = len(set(counts))
    fits = [(Shape.PLATEAU, free)] if not bare else [(Shape.TO_BARE, tied), (Shape.PLATEAU, free)]
    wanted = 2 if us is not None and bare else 3
    if different < wanted:
        why = f"{different} different counts; {wanted} or more are wanted"
        return _none(fits[0][0], confidence, why)
    known = us is not None
    shape, data = fits[0]
    found = profile_of(data)
    if len(fits) > 1 and different >= 3 and _freedom(free, known) > 0:
        other = profile_of(free)
        level = APART if are_least else LEVEL
        is_apart = _chance_of(found, other, known) <= level
        if is_apart and are_least and _freedom(free, known=False) > 0:
            is_apart = _chance_of(found, other, known=False) <= level
        if is_apart:
            (shape, data), found = fits[1], other
    return _judged(shape, found, known, are_least, confidence)


def _judged(
    shape: Shape, found: Profile, known: bool, are_least: bool, confidence: float
) -> DecayFit:
    data, course = found.data, found.course
    nu = data.values.size - data.fitted
    size = float(np.abs(data.values).max())
    exact = course.squares <= (EXACT * size) ** 2 * data.values.size and not known
    sd = None if known or nu <= 0 else 0.0 if exact else math.sqrt(course.squares / nu)
    law = math.inf if known else float(nu)
    start, end, tau = course.start, course.end, found.tau

    def answer(low: float | None, high: float | None, lacking: str) -> DecayFit:
        below, above = (None if x is None else x * math.log(2) for x in (low, high))
        return DecayFit(shape, start, end, tau, sd, law, below, above, confidence, lacking)

    if np.ptp(data.values) == 0:
        return _none(shape, confidence, "all values are equal")
    if not known and nu <= 0:
        return answer(None, None, "as many figures are fitted as there are readings")
    if exact:
        why = "the readings lie on a course exactly, without scatter to judge by: give their u"
        return answer(None, None, why)
    unit = 1.0 if known else course.squares / nu
    more = unit * t_factor(law, confidence) ** 2
    if are_least and nu > 0:
        more = max(more, course.squares / nu * t_factor(float(nu), confidence) ** 2)
    limit = course.squares + more
    low, high = found.limits(limit)
    half = tau * math.log(2)
    last = float(data.counts[np.isfinite(data.counts)].max())
    if known and not are_least and nu > 0 and chdtrc(nu, course.squares) < MISFIT:
        return answer(
            low, high, "no exponential course describes the readings within their uncertainty"
        )
    if are_least and nu < _FEWEST_TO_SPARE:
        return answer(None, None, _NO_SCATTER if nu <= 0 else _ONE_TO_SPARE)
    is_level = _level_chance(found, known, nu) > LEVEL
    if is_level or (are_least and _level_chance(found, False, nu) > LEVEL):
        return answer(low, high, _NO_CHANGE)
    if high is None:
        why = "no bend is shown: the course may as well go on as it began"
        if shape is Shape.TO_BARE:
            # Without an end in sight but the bare surface, no bend is no fall.
            why = _NO_FALL
        return answer(low, high, why)
    if low is None:
        return answer(low, high, _OVER)
    if half > last:
        return answer(low, high, f"{_STOPPED} {last:g}, before half was gone")
    return answer(low, high, "")


def washes_text(washes: float) -> str:
    """A number of washes to three digits."""
    return rounded(washes, washes / 10)


def _none(shape: Shape, confidence: float, why: str) -> DecayFit:
    return DecayFit(shape, None, None, None, None, 0.0, None, None, confidence, why)


def _freedom(data: Data, known: bool) -> int:
    return 1 if known else data.values.size - data.fitted


def _chance_of(tied: Profile, free: Profile, known: bool) -> float:
    """The chance of so much a better fit by one figure more."""
    gained = max(0.0, tied.course.squares - free.course.squares)
    if known:
        return float(chdtrc(1, gained))
    nu = free.data.values.size - free.data.fitted
    size = float(np.abs(free.data.values).max())
    rest = max(free.course.squares, (EXACT * size) ** 2)
    return float(fdtrc(1, nu, gained * nu / rest))


def _level_chance(found: Profile, known: bool, nu: int) -> float:
    """The chance of so much a better fit than by a level, if there were no change.

    Two figures more, the height of the fall and its tau; the law holds near enough, since the
    second means nothing where there is no fall.
    """
    gained = max(0.0, found.data.level_squares() - found.course.squares)
    if known:
        return float(chdtrc(2, gained))
    return float(fdtrc(2, nu, gained / 2 * nu / found.course.squares))


def _data(
    counts: Sequence[float],
    values: Sequence[float],
    us: Sequence[float] | None,
    bare: Sequence[float],
    u_bare: float | None,
    *,
    own_level: bool,
) -> Data:
    if len(counts) != len(values) or (us is not None and len(us) != len(values)):
        raise ValueError(
            f"as many counts and uncertainties as values: {len(counts)}, {len(values)}"
        )
    if us is not None and bare and u_bare is None:
        raise ValueError("the uncertainty of the bare readings is wanted, too")
    n = [*(checked(c) for c in counts), *(math.inf for _ in bare)]
    y = [checked(v) for v in (*values, *bare)]
    u = [1.0] * len(y) if us is None else [*us, *(u_bare or 0.0 for _ in bare)]
    if any(not checked(x) > 0 for x in u):
        raise ValueError("uncertainties above 0 are wanted")
    if any(c < 0 for c in n):
        raise ValueError(f"wash counts of 0 or more are wanted, got {min(n):g}")
    return Data(np.array(n), np.array(y), 1 / np.array(u), own_level)
