"""What dwell and first pull do to static friction, fitted and tested for significance.

Static friction grows with the logarithm of the time of contact (J. H. Dieterich, Pure and Applied
Geophysics 116 (1978) 790), and the first pull over a lane is often the highest. Pulls over one lane
at one stage are a series; all series share the growth per decade and the excess of the first pull,
and each has its own height:

    mu = height of the series + B log10(t / 1 s) + C [first of its series] + scatter

by least squares, with Student's t for B and C. That scatter is the same everywhere is not sure:
first pulls may scatter more than those behind them, and lanes may differ in both effects, which
showed an effect that was none in up to 33 of 100 drawn trials. So where three lanes or more tell of
an effect, each is left out in turn with all of its stages, and the wider of both intervals holds
(`acquire.analysis.slickness.lanes`): a lane that is pulled over again after a wash is the same
lane, and to take each stage for another one showed an effect that was none in up to 37 of 100
drawn trials of four stages. With fewer lanes nothing says how first pulls themselves
scatter, so their excess is told and not tested, and a growth is that of these lanes. A first
pull mostly has the longest dwell, too: fitted together, neither counts for the other, and
what cannot be told apart is said and not guessed. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.laws.student import t_factor, two_sided_p
from acquire.analysis.samples.summary import checked, summarise
from acquire.analysis.slickness.lanes import Apart, lanes_apart

ONE_FIRST_EACH = (
    "fewer than three lanes tell of it, and of the one first pull of a lane nobody knows how first "
    "pulls scatter"
)
FEWEST_DWELLS = 3
"""Different dwell times: two of them make any line look straight."""
SIGNIFICANT = 0.05
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Effect:
    """How large an effect is (`size`, coefficient), `u` its standard uncertainty at `nu` degrees.

    `low` to `high` is the interval of 95 %, `p` two-sided. All None with `lacking` saying why,
    where it cannot be told; `size` alone where there is no scatter to test it against.
    """

    size: float | None
    u: float | None = None
    nu: float | None = None
    low: float | None = None
    high: float | None = None
    p: float | None = None
    lacking: str = ""

    @property
    def is_shown(self) -> bool:
        return self.p is not None and self.p <= SIGNIFICANT


@dataclass(frozen=True, slots=True)
class DwellFit:
    """mu = `at_1_s` + `per_decade` log10(t / 1 s) over `count` pulls; `sd` is the scatter about it.

    `at_1_s` and `sd` are None where there is no fit.
    """

    at_1_s: float | None
    per_decade: Effect
    sd: float | None
    count: int

    def at(self, dwell_s: float) -> float:
        """The static coefficient after a dwell. ValueError without a fit, or at 0 s and less."""
        if self.at_1_s is None or self.per_decade.size is None:
            raise ValueError(f"there is no fit: {self.per_decade.lacking}")
        if not dwell_s > 0:
            raise ValueError(f"a dwell above 0 s is wanted, got {dwell_s}")
        return self.at_1_s + self.per_decade.size * math.log10(dwell_s)


@dataclass(frozen=True, slots=True)
class FirstPull:
    """The first pull of one series against the rest: never dropped, always shown.

    `mean`, `sd` (n - 1) and `cv_percent` are of all pulls, the first among them. `over_rest` is
    first / mean of the rest; None where there is no rest, or its mean is not above zero.
    """

    mean: float | None
    sd: float | None
    cv_percent: float | None
    rest: float | None
    over_rest: float | None
    excess: Effect


@dataclass(frozen=True, slots=True)
class Series:
    """Pulls over one lane in their order: `mu` and how long each stood before, None if unknown.

    Series of the same `lane` are of one surface at several stages; without a name each is of its
    own.
    """

    mu: Sequence[float]
    dwell_s: Sequence[float | None]
    lane: str = ""


@dataclass(frozen=True, slots=True)
class Effects:
    """Both effects, fitted together over all series; `sd` is the scatter that is left."""

    per_decade: Effect
    first: Effect
    sd: float | None
    count: int


def dwell_fit(dwell_s: Sequence[float], mu: Sequence[float]) -> DwellFit:
    """Fit the growth with the logarithm of the dwell to pulls of one series.

    Raises ValueError for lists of different length, a dwell of 0 s or less, or figures that are
    not finite. Fewer than three different dwells give no fit and a reason.
    """
    if len(dwell_s) != len(mu):
        raise ValueError(f"as many dwells as coefficients: {len(dwell_s)} for {len(mu)}")
    x, y = _logs(dwell_s), np.array([checked(m) for m in mu], dtype=float)
    if reason := _too_few(x):
        return DwellFit(None, Effect(None, lacking=reason), None, len(mu))
    # Centred, so that height and growth do not hang together.
    middle = float(x.mean())
    fit = _fit(np.column_stack((np.ones_like(x), x - middle)), y)
    growth = fit.effect(1)
    assert growth.size is not None
    return DwellFit(float(fit.solution[0]) - growth.size * middle, growth, fit.sd, len(mu))


def first_pull(mu: Sequence[float]) -> FirstPull:
    """The first pull against the rest, by t with the scatter of the rest (n - 2 degrees).

    Raises ValueError for figures that are not finite.
    """
    all_of, rest = summarise(mu), summarise(mu[1:])
    cv = None
    if all_of.mean is not None and all_of.sd is not None and all_of.mean > 0:
        cv = 100 * all_of.sd / all_of.mean
    over = mu[0] / rest.mean if rest.mean is not None and rest.mean > 0 else None
    if len(mu) < 3:
        lacking = f"{len(mu)} pulls; a first one and two more are wanted"
        return FirstPull(all_of.mean, all_of.sd, cv, rest.mean, over, Effect(None, lacking=lacking))
    y = np.array(mu, dtype=float)
    fit = _fit(np.column_stack((np.ones_like(y), np.arange(y.size) == 0)).astype(float), y)
    return FirstPull(all_of.mean, all_of.sd, cv, rest.mean, over, fit.effect(1))


def effects_of(series: Sequence[Series]) -> Effects:
    """Growth with dwell and excess of the first pull, over all series at once.

    Pulls whose dwell is not known take no part where the growth is fitted. Where fewer than three
    different dwells are known the first pull is fitted alone, and its figure says so. Raises
    ValueError for lists of different length, a dwell of 0 s or less, figures that are not finite.
    """
    rows = [row for place, one in enumerate(series) for row in _rows(place, one)]
    lanes = _lanes(series)
    known = [row for row in rows if row[3] is not None]
    reason = _too_few(_logs([row[3] for row in known if row[3] is not None]))
    if reason:
        first, sd, count = _of_first(rows, lanes)
        return Effects(Effect(None, lacking=reason), first, sd, count)
    y = np.array([row[1] for row in known])
    x = _logs([row[3] for row in known if row[3] is not None])
    columns = _heights([row[0] for row in known])
    is_first = np.array([float(row[2]) for row in known])
    design = np.column_stack((*columns, x - x.mean(), is_first))
    rank = int(np.linalg.matrix_rank(design))
    if rank < design.shape[1]:
        without_first = np.column_stack((*columns, x - x.mean()))
        if np.linalg.matrix_rank(without_first) < without_first.shape[1]:
            why = "the dwell differs between series only, so that it is not told from their height"
            first, sd, count = _of_first(rows, lanes)
            return Effects(Effect(None, lacking=why), first, sd, count)
        if not is_first.any() or np.linalg.matrix_rank(np.column_stack((*columns, is_first))) < (
            len(columns) + 1
        ):
            fit = _fit(without_first, y)
            why = "no pull with a known dwell is first of a series of two or more"
            (each,) = _apart(known, lanes, without_first[:, len(columns) :], y)
            growth = _wider(fit.effect(len(columns)), each)
            return Effects(growth, Effect(None, lacking=why), fit.sd, y.size)
        why = "first pulls and dwell go together in these pulls: neither is told from the other"
        return Effects(Effect(None, lacking=why), Effect(None, lacking=why), None, y.size)
    fit = _fit(design, y)
    place = len(columns)
    both = _apart(known, lanes, design[:, place:], y)
    growth = _wider(fit.effect(place), both[0])
    return Effects(growth, _tested(fit.effect(place + 1), both[1]), fit.sd, y.size)


_Row = tuple[int, float, bool, float | None]


def _rows(place: int, one: Series) -> list[_Row]:
    if len(one.mu) != len(one.dwell_s):
        raise ValueError(f"as many dwells as coefficients: {len(one.dwell_s)} for {len(one.mu)}")
    return [
        (place, checked(m), i == 0, t)
        for i, (m, t) in enumerate(zip(one.mu, one.dwell_s, strict=True))
    ]


def _lanes(series: Sequence[Series]) -> list[int]:
    """The lane of each series: the place of the first one of it."""
    first: dict[str, int] = {}
    return [first.setdefault(s.lane, k) if s.lane else k for k, s in enumerate(series)]


def _apart(
    rows: Sequence[_Row], lanes: Sequence[int], effects: Floats, y: Floats
) -> tuple[Apart | None, ...]:
    """How sure effects are by the lanes of these pulls."""
    series = np.array([row[0] for row in rows])
    return lanes_apart(np.array([lanes[row[0]] for row in rows]), series, effects, y)


def _of_first(rows: Sequence[_Row], lanes: Sequence[int]) -> tuple[Effect, float | None, int]:
    """The excess of first pulls alone, over all pulls."""
    if not rows:
        return Effect(None, lacking="no pull"), None, 0
    y = np.array([row[1] for row in rows])
    first = np.array([float(row[2]) for row in rows])
    design = np.column_stack((*_heights([row[0] for row in rows]), first))
    if np.linalg.matrix_rank(design) < design.shape[1]:
        return Effect(None, lacking="no series has a pull behind its first"), None, y.size
    fit = _fit(design, y)
    (apart,) = _apart(rows, lanes, design[:, -1:], y)
    return _tested(fit.effect(design.shape[1] - 1), apart), fit.sd, y.size


def _tested(first: Effect, lanes: Apart | None) -> Effect:
    """The excess of first pulls, tested where the lanes say how first pulls scatter."""
    if lanes is None and first.p is not None:
        return Effect(first.size, lacking=ONE_FIRST_EACH)
    return _wider(first, lanes)


def _wider(pulls: Effect, lanes: Apart | None) -> Effect:
    """The effect with its interval by the pulls or by how the lanes differ, whichever is wider."""
    if lanes is None or pulls.size is None or pulls.u is None or pulls.nu is None:
        return pulls
    half = t_factor(lanes.nu) * lanes.u
    if not half > t_factor(pulls.nu) * pulls.u:
        return pulls
    size = pulls.size
    p = two_sided_p(size / lanes.u, lanes.nu)
    return Effect(size, lanes.u, lanes.nu, size - half, size + half, p)


def _heights(places: Sequence[int]) -> list[Floats]:
    """One column a series, 1 where a pull is of it."""
    at = np.array(places)
    return [(at == place).astype(float) for place in np.unique(at).tolist()]


def _logs(dwell_s: Sequence[float]) -> Floats:
    if any(not checked(t) > 0 for t in dwell_s):
        raise ValueError(f"dwells above 0 s are wanted, got {min(dwell_s):g}")
    return np.array([math.log10(t) for t in dwell_s], dtype=float)


def _too_few(logs: Floats) -> str:
    different = len(set(np.round(logs, 6).tolist()))
    if different >= FEWEST_DWELLS:
        return ""
    return f"{different} different dwells; {FEWEST_DWELLS} are wanted"


@dataclass(frozen=True, slots=True)
class _Fit:
    solution: Floats
    inverse: Floats
    sd: float | None
    nu: int

    def effect(self, column: int) -> Effect:
        size = float(self.solution[column])
        if self.sd is None:
            why = "as many figures are fitted as there are pulls: no scatter is left to test by"
            return Effect(size, lacking=why)
        if self.sd == 0:
            why = "the pulls lie on the fit exactly: there is no scatter to test by"
            return Effect(size, 0.0, float(self.nu), size, size, None, why)
        u = self.sd * math.sqrt(float(self.inverse[column, column]))
        half = t_factor(self.nu) * u
        p = two_sided_p(size / u, self.nu)
        return Effect(size, u, float(self.nu), size - half, size + half, p)


def _fit(design: Floats, y: Floats) -> _Fit:
    """Least squares of full rank. A scatter below the rounding of the figures counts as none."""
    found, *_ = np.linalg.lstsq(design, y, rcond=None)
    inverse = np.asarray(np.linalg.inv(design.T @ design), dtype=np.float64)
    scale = float(np.abs(y).max())
    nu = int(y.size - design.shape[1])
    solution = np.asarray(np.where(np.abs(found) < 1e-12 * scale, 0.0, found), dtype=np.float64)
    if nu <= 0:
        return _Fit(solution, inverse, None, 0)
    rest = y - design @ solution
    sd = math.sqrt(float(rest @ rest) / nu)
    return _Fit(solution, inverse, 0.0 if sd <= 1e-12 * scale else sd, nu)
