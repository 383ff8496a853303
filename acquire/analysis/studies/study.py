"""What a repeatability study says: spots, read by one person or several, several times each.

Every spot is a level of ISO 5725-2:1994 and is taken by itself first; then all spots together give
one repeatability, as long as the scatter does not rise or fall with the level. What stands out is
flagged by the standard's own tests at 1 % and stays in: only a person voids a reading.

The variance between people is the mean over the spots of what the standard takes for each. In a
full table that is the sum of the variances of people and of people by spot, as an analysis of
variance gives it. Its degrees of freedom are taken to be those of the people alone, one less than
their number, however many spots they read: a person who presses harder does so everywhere. Pure;
any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from acquire.analysis.samples.outlier import FEWEST, Grubbs, grubbs
from acquire.analysis.samples.summary import summarise
from acquire.analysis.specimens.scatter import Pooled, pooled_sd
from acquire.analysis.studies.consistency import h_of, k_of
from acquire.analysis.studies.dependence import Dependence, dependence_of
from acquire.analysis.studies.gauge import Gauge, gauge_of, p_by_means
from acquire.analysis.studies.homogeneity import OUTLIER, OddScatter, odd_scatter
from acquire.analysis.studies.precision import Precision, precision_of

if TYPE_CHECKING:
    from acquire.analysis.studies.roundedscatter import RoundedScatter

LEAST_NU = 9
"""Degrees of freedom from which a study's figure is lent to results (our choice).

Ten readings of one spot: the true standard deviation may then be 1.8 times what was found.
"""


@dataclass(frozen=True, slots=True)
class StudyCell:
    """What one person read on one spot, in the order of time; `ids` are the readings' numbers."""

    spot: str
    person: str
    values: tuple[float, ...]
    ids: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class OddValue:
    """A reading that stands out of its cell, or the mean of a person on a spot (`reading` None)."""

    cell: StudyCell
    value: float
    reading: int | None
    test: Grubbs


class Reproducibility(NamedTuple):
    """s_R, the degrees of freedom of the people in it, and 95 % limits of its true value.

    `own_nu` are those of s_R itself by Welch and Satterthwaite (JCGM 100:2008, G.4.1, from memory),
    for which two new people's readings follow Student's law: of drawn studies of two, three and six
    people, of five spots of ten readings, their differences were beyond R in 20, 14 and 9 of 100
    where people differ by three times the repeatability and in 9, 7 and 6 where by as much, and
    that law says 24, 16 and 9 and 9, 8 and 6 (medians of 300 studies).

    The limits are those of Graybill and Wang for a sum of mean squares (Journal of the American
    Statistical Association 75 (1980) 869, from memory): those of Welch and Satterthwaite held the
    true value in 89 of 100 simulated studies only.
    """

    sd: float
    nu: float
    low: float
    high: float
    own_nu: float


@dataclass(frozen=True, slots=True)
class Spot:
    """One spot with its components by ISO 5725-2."""

    name: str
    precision: Precision


@dataclass(frozen=True, slots=True)
class Study:
    """All a study says, in the unit of the readings.

    `repeatability` is None where no cell has two readings. `hidden` says that all readings of
    each cell agree to the last digit, so that only the display's step is known. `between` and
    `reproducibility` are None with one person. `h` and `k` are Mandel's, the first by person (of
    the spot-wise deviations), the second by cell. `worst` is the repeatability at the end of the
    line where the scatter depends on the level. `p_means` is that people do not differ, by the
    means of each spot alone: for a study that `gauge` cannot take, since it is uneven.
    """

    cells: tuple[StudyCell, ...]
    spots: tuple[Spot, ...]
    people: tuple[str, ...]
    resolution: float
    repeatability: Pooled | None
    between: float | None
    reproducibility: Reproducibility | None
    hidden: bool
    odd_cell: tuple[StudyCell, OddScatter] | None
    odd_values: tuple[OddValue, ...]
    dependence: Dependence | None
    gauge: Gauge | None
    h: tuple[float, ...] | None
    k: tuple[float, ...] | None
    p_means: float | None = None

    @property
    def usable(self) -> Pooled | None:
        """The figure to be lent: never below what the display's step scatters by itself.

        Where the scatter changes with the level it is that of the worse end.
        """
        found = self.repeatability
        if found is None or found.nu < LEAST_NU:
            return None
        sd = max(found.sd, self.resolution / math.sqrt(12))
        if self.dependence is not None and self.dependence.is_shown:
            sd = max(sd, self.dependence.sd_low, self.dependence.sd_high)
        return Pooled(sd, found.nu) if sd > 0 else None

    def rounded(self) -> RoundedScatter | None:
        """What is behind readings that the display rounds; None where it hides nothing, or all."""
        found = self.repeatability
        if found is None or self.hidden or not self.resolution > 0:
            return None
        # Arrays, which nobody needs to whom a study only lends its figure.
        from acquire.analysis.studies.roundedscatter import COARSE, scatter_of_rounded  # noqa: PLC0415

        if found.sd >= COARSE * self.resolution:
            return None
        return scatter_of_rounded([c.values for c in self.cells], self.resolution)


def study_of(cells: Sequence[StudyCell], resolution: float = 0.0) -> Study:
    """Judge the cells of a study; those without readings say nothing.

    `resolution` is the step of the display in their unit.
    """
    read = tuple(c for c in cells if c.values)
    names = list(dict.fromkeys(c.spot for c in read))
    people = tuple(dict.fromkeys(c.person for c in read))
    spots = tuple(
        Spot(name, precision_of([c.values for c in read if c.spot == name])) for name in names
    )
    repeatability = _pooled(spots)
    hidden = repeatability is not None and repeatability.sd == 0
    between = _between(spots)
    twice = [(c, s.sd, s.n - 1) for c in read if (s := summarise(c.values)).sd is not None]
    known = [
        (s.precision.mean, s.precision.repeatability)
        for s in spots
        if s.precision.mean is not None and s.precision.repeatability is not None
    ]
    return Study(
        read,
        spots,
        people,
        resolution,
        repeatability,
        None if between is None else math.sqrt(max(0.0, between)),
        _reproducibility(repeatability, between, len(people), spots),
        hidden,
        _odd_cell([(c, sd or 0.0, nu) for c, sd, nu in twice], resolution),
        tuple(_odd_values(read, spots, resolution)),
        dependence_of(
            [m for m, _ in known], [p.sd for _, p in known], [p.nu for _, p in known], resolution
        ),
        gauge_of(_table(read, names, people)),
        h_of(_deviations(read, spots, people)) if len(people) > 1 else None,
        k_of([sd or 0.0 for _, sd, _ in twice], repeatability.sd) if repeatability else None,
        p_by_means(_table(read, names, people)),
    )


def _pooled(spots: Sequence[Spot]) -> Pooled | None:
    known = [s.precision.repeatability for s in spots if s.precision.repeatability is not None]
    return pooled_sd([p.sd for p in known], [p.nu for p in known]) if known else None


def _between(spots: Sequence[Spot]) -> float | None:
    """The variance between people, of all spots, each by what it knows; may be below zero."""
    found = [
        (p.between_square, p.n_bar * (p.cells - 1))
        for s in spots
        if (p := s.precision).between_square is not None and p.n_bar is not None
    ]
    if not found:
        return None
    weight = math.fsum(w for _, w in found)
    return math.fsum(v * w for v, w in found) / weight


def _reproducibility(
    repeatability: Pooled | None, between: float | None, people: int, spots: Sequence[Spot]
) -> Reproducibility | None:
    """s_R with its limits, of the two mean squares that it is made of."""
    if repeatability is None or between is None or people < 2:
        return None
    bars = [s.precision.n_bar for s in spots if s.precision.n_bar is not None]
    n_bar = math.fsum(bars) / len(bars)
    # s_R^2 = M/n + (1 - 1/n) s_r^2, with M = n s_L^2 + s_r^2 the mean square between people.
    of_people = max(0.0, between + repeatability.sd**2 / n_bar)
    of_readings = max(0.0, 1 - 1 / n_bar) * repeatability.sd**2
    parts = ((of_people, people - 1), (of_readings, repeatability.nu))
    down = up = 0.0
    for square, nu in parts:
        low, high = Pooled(1.0, nu).interval()
        down += ((1 - low**2) * square) ** 2
        up += ((high**2 - 1) * square) ** 2
    found = of_people + of_readings
    sd = math.hypot(repeatability.sd, math.sqrt(max(0.0, between)))
    return Reproducibility(
        sd,
        people - 1,
        min(sd, math.sqrt(max(0.0, found - math.sqrt(down)))),
        max(sd, math.sqrt(found + math.sqrt(up))),
        found**2 / math.fsum(square**2 / nu for square, nu in parts) if found > 0 else people - 1,
    )


def _odd_cell(
    cells: Sequence[tuple[StudyCell, float, int]], resolution: float
) -> tuple[StudyCell, OddScatter] | None:
    found = odd_scatter([sd for _, sd, _ in cells], [nu for _, _, nu in cells])
    if found is None or not found.is_straggler:
        return None
    cell, sd, _ = cells[found.suspect]
    # A last digit that flips among cells that agree is no scatter to speak of.
    return None if sd <= resolution else (cell, found)


def _odd_values(
    cells: Sequence[StudyCell], spots: Sequence[Spot], resolution: float
) -> list[OddValue]:
    """Readings that stand out of their cells, then means that stand out among the people's."""
    found = []
    for cell in cells:
        s = summarise(cell.values)
        if s.mean is None or s.sd is None:
            continue
        test = grubbs(cell.values, s.mean, s.sd, alpha=OUTLIER, resolution=resolution)
        if test is not None and test.is_outlier:
            number = cell.ids[test.suspect] if cell.ids else None
            found.append(OddValue(cell, cell.values[test.suspect], number, test))
    for spot in spots:
        mine = [c for c in cells if c.spot == spot.name]
        means = [math.fsum(c.values) / len(c.values) for c in mine]
        s = summarise(means)
        if len(means) >= FEWEST and s.mean is not None and s.sd:
            test = grubbs(means, s.mean, s.sd, alpha=OUTLIER, resolution=resolution)
            if test is not None and test.is_outlier:
                found.append(OddValue(mine[test.suspect], means[test.suspect], None, test))
    return found


def _table(
    cells: Sequence[StudyCell], spots: Sequence[str], people: Sequence[str]
) -> list[list[tuple[float, ...]]]:
    values = {(c.spot, c.person): c.values for c in cells}
    return [[values.get((s, p), ()) for p in people] for s in spots]


def _deviations(
    cells: Sequence[StudyCell], spots: Sequence[Spot], people: Sequence[str]
) -> list[float]:
    """How far each person reads from the middle of each spot, on average over the spots."""
    found = []
    for person in people:
        mine = [
            math.fsum(c.values) / len(c.values) - s.precision.mean
            for s in spots
            for c in cells
            if c.spot == s.name and c.person == person and s.precision.mean is not None
        ]
        found.append(math.fsum(mine) / len(mine) if mine else 0.0)
    return found
