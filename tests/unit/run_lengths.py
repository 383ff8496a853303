"""Mean run length of sets of zone rules by a Markov chain, apart from how the product finds breaks.

C. W. Champ and W. H. Woodall, Technometrics 29 (1987) 393: the state is what the rules still
remember of the last points. Here a state is the zones of the last four points and the length of
the run on the present side.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np


class Zones(NamedTuple):
    """Which rules of zones are in use: counts, or None where a rule is not."""

    one_side: int | None = None
    far: tuple[int, int] | None = None
    off: tuple[int, int] | None = None


def _phi(z: float) -> float:
    return (1 + math.erf(z / math.sqrt(2))) / 2


def mean_run_length(rules: Zones, shift: float = 0.0) -> float:
    """Mean number of points until the first signal, limits of 3 sigma always in use."""
    chances = {}
    for zone in (1, 2, 3):
        chances[zone] = _phi(zone - shift) - _phi(zone - 1 - shift)
        chances[-zone] = _phi(1 - zone - shift) - _phi(-zone - shift)
    start: tuple[tuple[int, ...], int] = ((), 0)
    index, moves, todo = {start: 0}, [], [start]
    while todo:
        state = todo.pop()
        for zone, chance in chances.items():
            after = _after(state, zone, rules)
            if after is None:
                continue
            if after not in index:
                index[after] = len(index)
                todo.append(after)
            moves.append((index[state], index[after], chance))
    matrix = np.eye(len(index))
    for i, j, chance in moves:
        matrix[i, j] -= chance
    return float(np.linalg.solve(matrix, np.ones(len(index)))[0])


def _after(
    state: tuple[tuple[int, ...], int], zone: int, rules: Zones
) -> tuple[tuple[int, ...], int] | None:
    past, run = state
    seen = (*past, zone)
    side = 1 if zone > 0 else -1
    run = run + 1 if past and past[-1] * side > 0 else 1
    if rules.one_side is not None and run >= rules.one_side:
        return None
    for rule, least in ((rules.far, 3), (rules.off, 2)):
        if rule is not None and zone * side >= least:
            wanted, span = rule
            if sum(z * side >= least for z in seen[-span:]) >= wanted:
                return None
    keep = max((rules.far or (0, 2))[1], (rules.off or (0, 2))[1]) - 1
    return seen[-keep:], run if rules.one_side is not None else 0
