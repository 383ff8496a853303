"""By how much a zone reads otherwise from stage to stage, by zones that should not.

The readings of a zone at a stage share what befell it there: it was washed less evenly, dried with
a spot, the meter was set down elsewhere. That is in no scatter of readings, so of one zone nothing
tells it. Several zones of the control do: nothing is on them, and what befalls all of them alike is
in no difference, so what is left of their means without the level of each zone and the step of each
stage (the interaction of zones and stages of the analysis of variance, R. A. Fisher, The Design of
Experiments (1935), from memory) is just that, the scatter of readings included. Where the control
has one zone the several zones of treatments tell it, each treatment by itself: they differ in
wearing, too, so that they say rather too much. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple

import numpy as np

from acquire.analysis.cells.cell import Cell


class Unsteady(NamedTuple):
    """The standard deviation of the mean of one zone at one stage, with `nu` degrees of freedom.

    `sd` is in the unit of the differences. `is_of_control` is whether the control's zones tell it.
    """

    sd: float
    nu: int
    is_of_control: bool


def unsteady_of(control: Iterable[str], cells: Iterable[Cell]) -> Unsteady | None:
    """By the zones named in `control`, else those of all other treatments; None of single zones.

    A treatment counts with those of its zones that were read at all of its stages, or with the
    stages at which all of its zones were, whichever leaves more degrees of freedom.
    """
    own = frozenset(control)
    ours: dict[str, dict[str, float]] = {}
    others: dict[str, dict[str, dict[str, float]]] = {}
    for cell in cells:
        if cell.n and cell.mean is not None:
            side = ours if cell.zone in own else others.setdefault(cell.treatment, {})
            side.setdefault(cell.zone, {})[cell.stage] = cell.mean
    squares, nu = _left(ours)
    if nu:
        return Unsteady(math.sqrt(squares / nu), nu, is_of_control=True)
    every = [_left(zones) for zones in others.values()]
    nu = sum(n for _, n in every)
    if not nu:
        return None
    return Unsteady(math.sqrt(math.fsum(s for s, _ in every) / nu), nu, is_of_control=False)


def _left(zones: Mapping[str, Mapping[str, float]]) -> tuple[float, int]:
    """The sum of squares of what zone and stage leave of the means, and its degrees of freedom."""
    stages = list(dict.fromkeys(stage for row in zones.values() for stage in row))
    rows = list(zones.values())
    tables = (
        [[row[s] for s in stages] for row in rows if len(row) == len(stages)],
        [[row[s] for s in stages if all(s in other for other in rows)] for row in rows],
    )
    found = (0.0, 0)
    for whole in tables:
        nu = (len(whole) - 1) * (len(whole[0]) - 1) if whole else 0
        if nu > found[1]:
            table = np.array(whole)
            rest = table - table.mean(axis=1, keepdims=True) - table.mean(axis=0) + table.mean()
            found = float((rest**2).sum()), nu
    return found
