"""The smallest true difference that a run would have shown, with each line as it is at that size.

What the meter does to a difference of films hangs on how large that is: a bent scale moves a film
by what it takes off its blank, and an error in percent of the beam weighs the more the darker the
slide; and readings and slides of a deep film scatter more than those of a slight one. So all lines,
and the known shifts, are those of a film that does just as little as is named, and not of the film
that was read: the coated slides are taken to let through what makes the difference that large, to
the side of the one that was found, and no more than the open beam, and to scatter as
`acquire.analysis.comparisons.depthscatter` has it. Of two films the deeper one is so moved. The
size is found in turns, from none upwards. Where no size within reach is shown by its own lines (a
very dark film by few readings; of one of 20 % in a fifth of runs with two slides of two treatments
each), those of the film that was read stand. By drawing, films of 80 to 1 %, readings of 0.03 and
0.1 %, slides that differ in thickness by nothing and by 5 %: of what the median run names 72 to 82
in 100 are shown with one, two, three and five slides, 73 to 92 beside two slight films. Of slight
films, at what true spreads name, it is 78 to 84. Of other quantities it is the same where an error
in proportion to the reading is known of the meter (`acquire.analysis.meter.metergain`); else their
lines do not hang on the size of the difference. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

from acquire.analysis.budget.reach import POWER, Reach
from acquire.analysis.budget.uncertainty import Bias, Term, total_bias
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import Contrast
from acquire.analysis.cells.relative import read_mean
from acquire.analysis.comparisons.depthscatter import DepthScatter, block_course, depth_scatter
from acquire.analysis.meter.common import with_common
from acquire.analysis.meter.systematic import systematic
from acquire.analysis.scale import MOST_LOGARITHM, PERCENT
from acquire.analysis.treatments.basis import Basis, Evaluation, evaluate
from acquire.analysis.treatments.ownspread import own_nu_of

_Lines = tuple[tuple[Term, ...], tuple[Bias, ...], float]
_LinesOf = Callable[[float], _Lines | None]
"""Lines, known shifts and own degrees of freedom (`acquire.analysis.treatments.ownspread`) of a
difference that is so large, with sign; None where it has none."""

_MOST_TURNS, _TURNED = 60, 1e-7
"""How many turns, and how little the last one changes the size."""
_TURNED_BY_GAIN = 1e-4
"""A part of a percent of the size changes it by that part of itself, and two digits are printed."""


def smallest_seen(
    reach: Reach, level: float, evaluation: Evaluation, treatment: str, basis: Basis
) -> float:
    """The true difference of `treatment` that is shown at `level` in 80 of 100 repeats.

    Also one that goes against the known shifts: these hide their own size twice, once in the
    difference and once in the limit. `reach` is that of the `evaluation`, in whose unit it is.
    """
    as_read = _shown(reach, level, evaluation.known.biases)
    if not (basis.scale.is_ratio or evaluation.known.is_of_gain):
        return as_read
    lines_of = (_lines_of_films if basis.scale.is_ratio else _lines_of_gain)(
        evaluation, treatment, basis
    )
    size = 0.0
    for _ in range(_MOST_TURNS):
        before = size
        found = lines_of(math.copysign(size, evaluation.contrast.estimate))
        if found is None:
            break
        lines, biases, own_nu = found
        if not any(line.contribution > 0 for line in lines):
            return 0.0
        size = _shown(replace(reach, terms=lines, own_nu=own_nu), level, biases)
        if abs(size - before) <= (_TURNED if basis.scale.is_ratio else _TURNED_BY_GAIN) * size:
            return size
        if not size < MOST_LOGARITHM:
            break
    return as_read


def _shown(reach: Reach, level: float, biases: tuple[Bias, ...]) -> float:
    return reach.smallest(level, POWER) + 2 * abs(total_bias(biases))


def _lines_of_films(evaluation: Evaluation, treatment: str, basis: Basis) -> _LinesOf:
    contrast, estimate = evaluation.contrast, evaluation.contrast.estimate
    # A film's after-stage cells count for or against the difference: the first or second side.
    side = next(w for c, w in contrast.parts if c.treatment == treatment and c.stage != basis.bare)
    is_within = evaluation.blocks > 0
    scatter = depth_scatter(contrast, treatment, basis, is_within=is_within)
    course = block_course(contrast, treatment, basis) if is_within else {}

    def lines(size: float) -> _Lines | None:
        by = math.copysign(1.0, side) * (size - estimate)
        moved = _of_depth(contrast, treatment, by, scatter, basis.bare, course)
        placed = {(c.treatment, c.zone, c.stage): c for c, _ in moved.parts}
        cells = tuple([placed.get((c.treatment, c.zone, c.stage), c) for c in basis.cells])
        found = evaluate(moved, replace(basis, cells=cells))
        if found.lacking or found.is_of_zones != evaluation.is_of_zones:
            return None
        return found.terms, found.known.biases, own_nu_of(found)

    return lines


def _lines_of_gain(evaluation: Evaluation, treatment: str, basis: Basis) -> _LinesOf:
    contrast, estimate = evaluation.contrast, evaluation.contrast.estimate
    of_scatter = evaluation.terms[: len(evaluation.terms) - len(evaluation.known.terms)]
    own_nu = own_nu_of(evaluation)

    def lines(size: float) -> _Lines:
        change = _of_size(contrast, treatment, size - estimate)
        found = systematic(change, basis.resolution, basis.unit, basis.unclosed, beside=of_scatter)
        if basis.common:
            found = with_common(found, change, basis.common)
        return (*of_scatter, *found.terms), found.biases, own_nu

    return lines


def _of_size(contrast: Contrast, treatment: str, by: float) -> Contrast:
    """The contrast with what was read of a treatment at its stage moved by `by`."""
    return Contrast(
        tuple(
            (_moved(cell, by), weight)
            if cell.treatment == treatment and weight > 0
            else (cell, weight)
            for cell, weight in contrast.parts
        )
    )


def _of_depth(
    contrast: Contrast,
    treatment: str,
    by: float,
    scatter: DepthScatter,
    bare: str,
    course: Mapping[str, float],
) -> Contrast:
    """The contrast with a film that does less by the logarithm `by`, and scatters as such a one.

    `course` is by how much the block of each zone is apart, which it stays. A slide that comes to
    lie above the open beam is left there, or where it was read.
    """
    depth = max(0.0, scatter.depth - by)
    changes: dict[str, float] = {}
    for cell, _ in contrast.parts:
        if cell.treatment == treatment and cell.mean is not None:
            sign = -1.0 if cell.stage == bare else 1.0
            changes[cell.zone] = (
                changes.get(cell.zone, -course.get(cell.zone, 0.0)) + sign * cell.mean
            )
    middle = math.fsum(changes.values()) / len(changes)
    nearer = scatter.of_slides(depth) - 1

    def moved(cell: Cell) -> Cell:
        if cell.treatment != treatment or cell.stage == bare:
            return cell
        if (sd := cell.summary.sd) is not None:
            cell = replace(cell, summary=replace(cell.summary, sd=scatter.of_readings(sd, depth)))
        return _within_beam(cell, by + nearer * (changes[cell.zone] - middle))

    return Contrast(tuple([(moved(cell), weight) for cell, weight in contrast.parts]))


def _moved(cell: Cell, by: float) -> Cell:
    """A cell as it would be if all of it were read higher by so much."""
    assert cell.mean is not None
    return replace(
        cell,
        holdings=tuple([h.moved(by) for h in cell.holdings]),
        summary=replace(cell.summary, mean=cell.mean + by),
    )


def _within_beam(cell: Cell, by: float) -> Cell:
    """A cell in logarithms as it would be if the slide let exp(`by`) times as much through."""
    assert cell.mean is not None
    by = min(by, max(0.0, math.log(PERCENT / read_mean(cell))))
    times = math.exp(by)
    return replace(
        cell,
        samples=tuple(replace(s, value=s.value * times) for s in cell.samples),
        holdings=tuple(h.let_through(times) for h in cell.holdings),
        summary=replace(cell.summary, mean=cell.mean + by),
        per_unit=cell.per_unit / times,
    )
