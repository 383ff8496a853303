"""A budget of a net change checked by other roads than the one it was made by.

Three of them. Its sums are taken anew from its lines (`acquire.analysis.budget.budgettable`). The
model is shaken: the net change is taken from single readings by plain arithmetic, each reading (or,
where the spread of zones decides, the change of each zone) is moved by a hundredth of its scatter,
and what comes of it must be the scatter that the budget has (JCGM 100:2008, 5.1.4). And all errors
are drawn, each line by its own law with a fixed seed (JCGM 101:2008, clauses 6 and 7), which says
how many of them the interval holds. Costs about 0.1 s a budget. Pure; any thread.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from acquire.analysis.budget.budgettable import BudgetTable, table_of
from acquire.analysis.budget.propagation import DRAWS, SEED, Drawn, drawn, shaken_u
from acquire.analysis.cells.cell import Cell
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.figures import rounded, suffix
from acquire.analysis.results import MeasureResult
from acquire.analysis.specimens.blocks import WITHIN
from acquire.analysis.specimens.depthlaw import is_at_depth
from acquire.analysis.specimens.depthtrial import tried_spread
from acquire.analysis.specimens.roundedspread import rounded_spread, rounding_half
from acquire.analysis.specimens.scatter import SCATTER_BY_STUDY, SCATTER_IN
from acquire.analysis.specimens.zonelines import SPREAD_OF_ZONES

WELL_KNOWN = 30
"""Degrees of freedom from which on Student's law is the normal one but for a few percent."""
HELD = 0.945
"""Nineteen of twenty, less what 200,000 draws and a law of 30 degrees of freedom leave open."""
HELD_OF_FEW = 0.75
"""Of lines of one degree of freedom each the limit of one treatment holds 81 % (sum of Cauchy laws,
2/pi atan(U/2u)); below this something else is wrong."""
_ALIKE = 1e-6
_OF_ZONES = (
    SCATTER_IN, SCATTER_BY_STUDY, "spread of the zones of ", SPREAD_OF_ZONES, WITHIN,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Proof:
    """What the other roads say of the budget of one treatment at one stage.

    `scatter` is what the lines of the zones' own scatter or spread come to, `shaken` the same from
    the model; None where `not_shaken` says why. `drawn` is from the draws. `holds` is whether all
    agree, as `sentences` say. Figures are in the measure's unit.
    """

    treatment: str
    stage: str
    table: BudgetTable
    scatter: float
    shaken: float | None
    not_shaken: str
    drawn: Drawn
    holds: bool
    sentences: tuple[str, ...]


def proof_of(found: Comparison, result: MeasureResult, draws: int = DRAWS) -> Proof:
    """Check the budget of a comparison of `result`. Raises ValueError where sums are not lines."""
    table = table_of(found.budget)
    # Kind A alone would not do: how well a check was read is of that kind, too.
    scatter = math.hypot(
        *(t.contribution for t in found.budget.terms if t.name.startswith(_OF_ZONES))
    )
    not_shaken = _hindrance(result)
    shaken = None if not_shaken else _shaken(found, result)
    is_alike = shaken is None or math.isclose(shaken, scatter, rel_tol=_ALIKE, abs_tol=1e-12)
    errors = drawn(found.budget, draws)
    few = [t for t in found.budget.terms if t.nu < WELL_KNOWN and t.contribution > 0]
    is_held = errors.held >= (HELD_OF_FEW if few else HELD)
    place, unit = found.budget.expanded, suffix(result.basis.scale.unit)
    half, random = rounded(errors.half_width, place), rounded(table.random, place)
    said = [
        "The sums were taken anew from the lines and are those of the budget.",
        f"Not shaken: {not_shaken}."
        if shaken is None
        else f"Shaken reading by reading, the model gives a scatter of "
        f"{rounded(shaken, shaken / 10)}{unit}, its lines come to "
        f"{rounded(scatter, scatter / 10)}{unit}: "
        f"{'the same' if is_alike else 'NOT THE SAME'}.",
        f"Of {draws} drawn errors (each line by its own law, JCGM 101, seed {SEED}) 95 % lie "
        f"within ±{half}{unit}; the budget's ±{random}{unit} holds "
        f"{100 * errors.held:.1f} % of them"
        f"{_judged(errors.held, is_held=is_held)}.",
    ]
    return Proof(found.treatment, found.stage, table, scatter, shaken, not_shaken, errors,
                 is_alike and is_held, tuple(said))  # fmt: skip


def _judged(held: float, *, is_held: bool) -> str:
    if not is_held:
        return ": FEWER THAN IT SHOULD"
    if held >= HELD:
        return ""
    return (
        ". That is fewer than 95 % because a line rests on few readings: Student's law of such a "
        "line says what is known of its error and reaches further than the errors of repeated "
        "trials, which the limit holds at 95 %"
    )


def _hindrance(result: MeasureResult) -> str:
    """Why the model cannot be shaken by its readings; empty where it can."""
    if result.basis.blanks is not None:
        return "the spread of blanks stands for more than these readings"
    if result.basis.known is not None:
        return "the scatter that a study lends does not come from these readings"
    return ""


def _shaken(found: Comparison, result: MeasureResult) -> float:
    """What the scatter of the readings does to the net change, from differences of its values."""
    cells = {(v.cell.zone, v.cell.stage): v.cell for v in result.levels}
    if found.blocks:
        return _by_blocks(found, cells, result)
    if found.is_of_zones:
        return _by_zones(found, cells, result)
    places = [
        (cells[zone, stage], of_side * of_stage / len(side))
        for of_side, side in ((1, found.zones), (-1, found.control_zones))
        for zone in side
        for of_stage, stage in ((-1, result.bare), (1, found.stage))
    ]
    counts = [cell.n for cell, _ in places]
    ends = list(itertools.accumulate(counts))

    said = _terms(result)

    def net_change(values: Sequence[float]) -> float:
        return math.fsum(
            weight * said(math.fsum(values[end - n : end]) / n)
            for (_, weight), n, end in zip(places, counts, ends, strict=True)
        )

    values = [s.value for cell, _ in places for s in cell.samples]
    us = [cell.summary.sd or 0.0 for cell, _ in places for _ in cell.samples]
    return shaken_u(net_change, values, us)


def _terms(result: MeasureResult) -> Callable[[float], float]:
    """What a mean is in the terms of the net change: its logarithm where that is a ratio."""
    return math.log if result.basis.scale.is_ratio else float


def _by_blocks(
    found: Comparison, cells: Mapping[tuple[str, str], Cell], result: MeasureResult
) -> float:
    """The same where the difference in a block is what is repeated."""
    said, blocks = _terms(result), result.basis.blocks
    by_block: dict[int, list[tuple[float, float, float]]] = {}
    for sign, zones in ((1.0, found.zones), (-1.0, found.control_zones)):
        for zone in zones:
            after, bare = cells[zone, found.stage], cells[zone, result.bare]
            change = said(_mean(after)) - said(_mean(bare))
            hidden = _hidden(after, result) + _hidden(bare, result)
            by_block.setdefault(blocks[zone], []).append((sign, change, hidden))
    values, halves = [], []
    for parts in by_block.values():
        sides = {s: [p for p in parts if p[0] == s] for s in (1.0, -1.0)}
        values.append(
            math.fsum(s * math.fsum(c for _, c, _ in own) / len(own) for s, own in sides.items())
        )
        halves.append(math.fsum(math.fsum(h for *_, h in own) / len(own) for own in sides.values()))
    sd = max(rounded_spread(values, halves).sd, _left_of_blocks(found, cells, result))
    return shaken_u(lambda own: math.fsum(own) / len(own), values, [sd] * len(values))


def _is_at_depth(found: Comparison) -> bool:
    """Whether the budget has the spread of slides at the depth of its film."""
    return any(is_at_depth(line) for line in found.budget.terms)


def _left_of_blocks(
    found: Comparison, cells: Mapping[tuple[str, str], Cell], result: MeasureResult
) -> float:
    """How differences within blocks spread by all treatments together; 0 where two stand alone.

    Each change less the mean of its treatment, less that of its block, plus that of all.
    """
    said, blocks = _terms(result), result.basis.blocks
    table: dict[str, dict[int, float]] = {}
    counts: dict[str, int] = {}
    for (zone, stage), cell in cells.items():
        bare = cells.get((zone, result.bare))
        if stage == found.stage and cell.n and bare is not None and bare.n:
            row = table.setdefault(cell.treatment, {})
            row[blocks[zone]] = said(_mean(cell)) - said(_mean(bare))
            counts[cell.treatment] = counts.get(cell.treatment, 0) + 1
    wanted = {blocks[zone] for zone in found.zones}
    rows = {t: row for t, row in table.items() if set(row) >= wanted and counts[t] == len(row)}
    if len(rows) <= 2 or not {found.treatment, result.control} <= set(rows):
        return 0.0
    values = np.array([[row[b] for b in sorted(wanted)] for row in rows.values()])
    if _is_at_depth(found):
        means = dict(zip(rows, values.mean(axis=1), strict=True))
        clearest = int(np.argmax(values.mean(axis=1)))
        below = values[clearest] - np.delete(values, clearest, axis=0)
        return tried_spread(
            below.mean(axis=1).tolist(),
            np.std(below, axis=1, ddof=1).tolist(),
            [len(wanted) - 1] * len(below),
            sum(float(max(means.values()) - means[t]) ** 2
                for t in (found.treatment, result.control)),
        )  # fmt: skip
    left = values - values.mean(axis=0) - values.mean(axis=1, keepdims=True) + values.mean()
    nu = (len(values) - 1) * (len(wanted) - 1)
    return math.sqrt(2 * float((left**2).sum()) / nu)


def _by_zones(
    found: Comparison, cells: Mapping[tuple[str, str], Cell], result: MeasureResult
) -> float:
    """The same where the change of a zone is what is repeated."""
    said = _terms(result)
    sides = [
        [said(_mean(cells[z, found.stage])) - said(_mean(cells[z, result.bare])) for z in zones]
        for zones in (found.zones, found.control_zones)
    ]
    treated = len(sides[0])

    def net_change(values: Sequence[float]) -> float:
        own, control = values[:treated], values[treated:]
        return math.fsum(own) / len(own) - math.fsum(control) / len(control)

    spread, zones = _spreads(found, cells, result)
    of_own = [spread.get(t, 0.0) for t in (found.treatment, result.control)]
    us = [sd for sd, side in zip(of_own, sides, strict=True) for _ in side]
    is_single = min(map(len, sides)) == 1
    if is_single or len(spread) > 2:  # from three treatments on all of them tell it together
        nus = {treatment: len(zones[treatment]) - 1 for treatment in spread}
        of_all = math.sqrt(
            math.fsum(nus[t] * sd**2 for t, sd in spread.items()) / math.fsum(nus.values())
        )
        n, m = (1 / len(side) for side in sides)
        own = math.sqrt((n * of_own[0] ** 2 + m * of_own[1] ** 2) / (n + m))
        if _is_at_depth(found):
            of_both = [math.fsum(side) / len(side) for side in sides]
            changes = {
                t: math.fsum(
                    said(_mean(cells[z, found.stage])) - said(_mean(cells[z, result.bare]))
                    for z in own_zones
                )
                / len(own_zones)
                for t, own_zones in zones.items()
            }
            clear = max(changes.values())
            off = [max(0.0, clear - own) for own in of_both]
            of_all = tried_spread(
                [clear - changes[t] for t in spread],
                list(spread.values()),
                list(nus.values()),
                (n * off[0] ** 2 + m * off[1] ** 2) / (n + m),
            )
        us = [of_all if is_single else max(of_all, own)] * len(us)
    return shaken_u(net_change, [*sides[0], *sides[1]], us)


def _spreads(
    found: Comparison, cells: Mapping[tuple[str, str], Cell], result: MeasureResult
) -> tuple[dict[str, float], dict[str, list[str]]]:
    """How the changes of zones spread, by treatment that has several, and which zones were read."""
    said = _terms(result)
    zones: dict[str, list[str]] = {}
    for (zone, stage), cell in cells.items():
        bare = cells.get((zone, result.bare))
        if stage == found.stage and cell.n and bare is not None and bare.n:
            zones.setdefault(cell.treatment, []).append(zone)
    spread = {}
    for treatment, own in zones.items():
        if len(own) > 1:
            changes = [
                said(_mean(cells[z, found.stage])) - said(_mean(cells[z, result.bare])) for z in own
            ]
            hidden = [
                math.fsum(_hidden(cells[z, stage], result) for stage in (result.bare, found.stage))
                for z in own
            ]
            spread[treatment] = rounded_spread(changes, hidden).sd
    return spread, zones


def _hidden(cell: Cell, result: MeasureResult) -> float:
    """How far the display can have shifted a mean, in the terms of the net change."""
    half = rounding_half([(cell, 1.0)], result.resolution)
    return half / _mean(cell) if result.basis.scale.is_ratio else half


def _mean(cell: Cell) -> float:
    return math.fsum(s.value for s in cell.samples) / cell.n
