"""Degrees of freedom of how two sides spread, beside those of all treatments together.

Where zones of all treatments tell together how zones differ, the spread of the two that are
compared is taken where it is the larger one (`acquire.analysis.specimens.zones`,
`acquire.analysis.specimens.blocks`). How often that comes out larger than the truth says how much a
true difference must be to be shown (`acquire.analysis.laws.limitlaw`). Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence

from acquire.analysis.specimens.depthlaw import is_at_depth
from acquire.analysis.treatments.basis import Evaluation


def is_pooled(evaluation: Evaluation) -> bool:
    """Whether zones of all treatments together say how sure a difference is, as if all alike."""
    return evaluation.is_of_zones and evaluation.terms[0].is_common


def is_by_depth(evaluation: Evaluation) -> bool:
    """Whether they do so by how deep its films are (`acquire.analysis.specimens.depthlaw`)."""
    return evaluation.is_of_zones and is_at_depth(evaluation.terms[0])


def own_nu_of(evaluation: Evaluation) -> float:
    """Of the difference of two treatments; 0 where no spread of all treatments alike is in it."""
    if not is_pooled(evaluation):
        return 0.0
    if evaluation.blocks:
        return own_nu([evaluation.blocks])
    zones: dict[str, set[str]] = {}
    for cell, _ in evaluation.contrast.parts:
        zones.setdefault(cell.treatment, set()).add(cell.zone)
    return own_nu([len(side) for side in zones.values()])


def own_nu(counts: Sequence[int]) -> float:
    """Of sides with so many zones, or of differences in so many blocks.

    The variance of a difference of means is a weighted sum of both; with zones unlike in number it
    has effective degrees of freedom (JCGM 100:2008, G.4.1). 0 where a side has one zone: its own
    spread is not known then, and that of all stands as it is.
    """
    if min(counts) < 2:
        return 0.0
    return sum(1 / n for n in counts) ** 2 / sum(1 / n**2 / (n - 1) for n in counts)
