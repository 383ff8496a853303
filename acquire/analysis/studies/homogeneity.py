"""Cochran's test: whether one cell of a study scatters more than the others.

The statistic is the share that one cell has in the sum of all squares; the limit comes from the
F law with the error probability over the number of cells. Source: W. G. Cochran, Annals of
Eugenics 11 (1941) 47, ISO 5725-2:1994, 7.3.3; cells with different numbers of readings after
R. U. E. 't Lam, Analytica Chimica Acta 659 (2010) 68 (all from memory). With equal numbers it is
the table of the standard within a unit of its third decimal. It flags, and removes nothing.
Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from acquire.analysis.laws.special import fdtrc, fdtri

STRAGGLER, OUTLIER = 0.05, 0.01
"""Beyond the first a cell is looked at, beyond the second it stands out (ISO 5725-2, 7.3.2)."""


class OddScatter(NamedTuple):
    """The cell that scatters most surprisingly.

    `suspect` counts from 0. `share` is its part of the sum of squares, `critical` the largest
    such part of a cell that is as the others, at 1 %; `p` the probability that any cell has one
    like it.
    """

    suspect: int
    share: float
    critical: float
    p: float

    @property
    def is_straggler(self) -> bool:
        return self.p <= STRAGGLER

    @property
    def is_outlier(self) -> bool:
        return self.p <= OUTLIER


def critical_share(nus: Sequence[float], suspect: int, alpha: float = OUTLIER) -> float:
    """The largest share of the sum of squares, at `alpha`, of one cell among cells alike.

    `nus` are the degrees of freedom of the cells. Raises ValueError with fewer than two cells.
    """
    if len(nus) < 2:
        raise ValueError(f"Cochran's test wants at least 2 cells, got {len(nus)}")
    own, others = nus[suspect], sum(nus) - nus[suspect]
    f = float(fdtri(own, others, 1 - alpha / len(nus)))
    return own * f / (own * f + others)


def odd_scatter(sds: Sequence[float], nus: Sequence[float]) -> OddScatter | None:
    """Test the cell that stands out most; None below two cells or without any scatter.

    `sds` are the standard deviations of the cells and `nus` their degrees of freedom, above zero.
    """
    squares = [sd * sd * nu for sd, nu in zip(sds, nus, strict=True)]
    total = sum(squares)
    if len(squares) < 2 or not total > 0:
        return None
    found = []
    for index, (square, nu) in enumerate(zip(squares, nus, strict=True)):
        rest, others = total - square, sum(nus) - nu
        tail = 0.0 if rest <= 0 else float(fdtrc(nu, others, (square / nu) / (rest / others)))
        found.append((min(1.0, len(squares) * tail), -square / total, index))
    p, share, suspect = min(found)
    return OddScatter(suspect, -share, critical_share(nus, suspect), p)
