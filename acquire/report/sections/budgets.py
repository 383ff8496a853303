"""Uncertainty budgets as tables that can be checked with a pocket calculator. Pure; any thread."""

from __future__ import annotations

import math
from typing import NamedTuple

from acquire.analysis.budget.budgettable import table_of
from acquire.analysis.budget.uncertainty import Budget, degrees
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.durability.washresult import WashResult
from acquire.analysis.figures import rounded, signed, suffix, with_reach
from acquire.analysis.results import MeasureResult
from acquire.analysis.treatments.change import Change
from acquire.report.evidence.evidence import Evidence
from acquire.report.record.record import TrialRecord
from acquire.report.washing.washwords import kept_figures
from acquire.units import symbol

MOST = 60
"""Budgets shown of one kind: beyond, they are all alike and only make the page heavy."""


class TermRow(NamedTuple):
    """One line: figures to four significant digits, so that the sum can be followed."""

    name: str
    kind: str
    distribution: str
    u: str
    sensitivity: str
    contribution: str
    nu: str
    share: str
    note: str
    is_dominant: bool


class ShiftRow(NamedTuple):
    """A known shift that is not corrected; figures with their signs, since shifts add up."""

    name: str
    found: str
    sensitivity: str
    contribution: str
    note: str


class BudgetTable(NamedTuple):
    """A budget. `short` is the result with its uncertainty, `result` the equation behind it.

    `random` is k times the combined standard uncertainty, `shift` the sum of the known `shifts`;
    `expanded` is the one plus the size of the other. `dominates` names the lines that make most of
    it, the same that are marked.
    """

    title: str
    short: str
    result: str
    rows: tuple[TermRow, ...]
    combined: str
    nu: str
    factor: str
    rule: str
    expanded: str
    printed: str
    cancels: tuple[str, ...]
    random: str
    shifts: tuple[ShiftRow, ...]
    shift: str
    unit: str
    dominates: str


class BudgetGroup(NamedTuple):
    """Budgets of one kind; `hidden` counts those beyond the limit."""

    title: str
    tables: tuple[BudgetTable, ...]
    hidden: int


def budget_groups(
    record: TrialRecord, evidence: Evidence, washed: WashResult | None = None
) -> list[BudgetGroup]:
    """Net changes latest stage first, then changes of zones, then means; empty kinds left out.

    Between them and the net changes stands what is kept after washing, where there is `washed`.
    """
    titles = (
        "Net changes against the control",
        "Changes of single zones",
        "Means of single zones",
    )
    kinds = list(zip(titles, _kinds(record, evidence.result), strict=True))
    if evidence.corrected is not None and evidence.corrected.result is not None:
        more = _kinds(record, evidence.corrected.result)
        kinds = [
            *((f"{t}, corrected for drift", k) for t, k in zip(titles, more, strict=True)),
            *((f"{t}, as read", k) for t, k in kinds),
        ]
    if washed is not None:
        kinds.insert(1, ("What is kept after washing", _kept(washed)))
    return [
        BudgetGroup(title, tuple(tables[:MOST]), max(0, len(tables) - MOST))
        for title, tables in kinds
        if tables
    ]


def _kinds(record: TrialRecord, result: MeasureResult) -> list[list[BudgetTable]]:
    """Tables of the net changes, the changes of zones and the means of one result."""
    unit = result.symbol
    order = {stage: k for k, stage in enumerate(result.stages)}
    nets = [
        _table(
            c.budget,
            f"{record.name_of(c.treatment)}, {c.stage}",
            with_reach(c.estimate, c.budget.expanded),
            _net(c, result),
            _of(result),
        )
        for c in sorted(result.comparisons, key=lambda c: -order[c.stage])
        if isinstance(c, Comparison)
    ]
    changes = [
        _table(
            c.budget,
            f"Zone {c.zone} ({record.name_of(c.treatment)}), {c.bare} to {c.stage}",
            with_reach(c.estimate, c.budget.expanded),
            _change(c, c.estimate, c.budget, result),
            _of(result),
        )
        for c in sorted(result.changes, key=lambda c: -order[c.stage])
        if c.budget is not None and c.estimate is not None
    ]
    means = [
        _table(
            v.budget,
            f"Zone {v.cell.zone} ({record.name_of(v.cell.treatment)}), {v.cell.stage}",
            (rounded(v.cell.mean, v.budget.expanded), _half(v.budget)),
            f"mean of {v.cell.n} = {_fine(v.cell.mean, v.budget).lstrip('+')} {unit}",
            _of(result),
        )
        for v in result.levels
        if v.budget is not None and v.cell.mean is not None
    ]
    return [nets, changes, means]


def _kept(washed: WashResult) -> list[BudgetTable]:
    """Tables of the shares kept, latest count first."""
    found = []
    for look in reversed(washed.washing.washed):
        for t in washed.treatments:
            k = next((k for at, k in t.wear.kept if at == look), None)
            first = t.wear.gain.estimate
            if k is None or k.budget is None or k.share is None or first is None:
                continue
            if k.low is None or k.high is None:
                continue
            u = (k.high - k.low) / 2
            criterion = washed.criterion.share if washed.criterion is not None else 0.0
            share, low, high = kept_figures(k.share, k.low, k.high, criterion)
            found.append(
                _table(
                    k.budget,
                    f"{t.shown}, {look.stage}, {share} % of its gain kept",
                    ("gain less this share of the first gain: 0", _half(k.budget)),
                    f"share kept = gain at {look.stage} / gain at {washed.washing.start}, of the "
                    f"zones read at both = {share} %, from {low} to {high} %: every share r for "
                    "which gain − r × first gain lies within its own uncertainty of 0 (Fieller). "
                    f"Here for r = {rounded(k.share, u / 10)}: 0",
                    _of(washed.result),
                )
            )
    return found


def _net(c: Comparison, result: MeasureResult) -> str:
    """The equation of a net change."""
    sides = f"({_fine(c.treated_change, c.budget)}) − ({_fine(c.control_change, c.budget)})"
    net = _decided(c.estimate, c.budget)
    if c.film is None:
        return (
            f"net change = change of its zones − change of the control = {sides} = "
            f"{net} {result.symbol}"
        )
    what = (
        f"mean of ln(T at {c.stage} / T at {result.bare}) of its slides − that of the control's"
        if result.basis.blanks is None
        else "mean of ln(T in %) of its slides − that of the blanks"
    )
    scale, u = result.basis.scale, c.budget.expanded
    low, high = (_fine(end, c.budget) for end in c.interval)
    return (
        f"{scale.what}: the film lets through exp({net}) = {scale.figure(c.estimate, u)} %, from "
        f"exp({low}) to exp({high}), {scale.span(*c.interval, u)} %. All figures here are "
        f"relative (GUM 5.1.6): ln(film) = {what} = {sides} = {net}"
    )


def _change(c: Change, change: float, budget: Budget, result: MeasureResult) -> str:
    if not result.basis.scale.is_ratio:
        return f"change = {_decided(change, budget)} {result.symbol}"
    return (
        f"T at {c.stage} / T at {c.bare} = {result.basis.scale.figure(change, budget.expanded)} %; "
        f"relative: ln of it = {_decided(change, budget)}"
    )


def _of(result: MeasureResult) -> str:
    """What figures without a unit are of."""
    return "relative" if result.basis.scale.is_ratio else "as a coefficient"


def _half(budget: Budget) -> str:
    return rounded(budget.expanded, budget.expanded)


def _table(
    budget: Budget, title: str, found_with: tuple[str, str], result: str, of: str
) -> BudgetTable:
    """`found_with` is the figure and its half width, as printed.

    `of` says what its figures are of where they have no unit.
    """
    # Taken anew from the lines: a page with a sum that is not that of its lines is not made.
    found, (value, half) = table_of(budget), found_with
    rows = tuple(
        TermRow(
            row.name,
            row.kind.value,
            row.distribution.value,
            rounded(row.u, None),
            rounded(abs(row.sensitivity), None),
            rounded(row.contribution, None),
            "∞" if math.isinf(row.nu) else degrees(row.nu),
            f"{100 * row.share:.0f} %",
            row.note,
            row.is_dominant,
        )
        for row in found.rows
    )
    return BudgetTable(
        title,
        f"{value} ± {half}{suffix(budget.unit)}",
        result,
        rows,
        rounded(found.combined, None),
        "∞" if math.isinf(found.nu) else degrees(found.nu),
        f"{budget.coverage_factor:.3f}",
        budget.coverage_rule,
        rounded(found.expanded, None),
        half,
        budget.cancels,
        rounded(found.random, None),
        tuple(
            ShiftRow(
                b.name,
                signed(b.found, None),
                signed(b.sensitivity, None),
                signed(b.contribution, None),
                b.note,
            )
            for b in budget.biases
        ),
        signed(found.bias, None),
        of if budget.unit == "one" else symbol(budget.unit),
        found.sentence,
    )


def _fine(value: float, budget: Budget) -> str:
    """One digit more than is printed in the results, so that the sum can be followed."""
    return signed(value, budget.expanded / 10)


def _decided(value: float, budget: Budget) -> str:
    """The same, and as many as show on which side of its half width it lies."""
    return max(_fine(value, budget), with_reach(value, budget.expanded)[0], key=len)
