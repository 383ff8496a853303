"""A scorecard applied to the results of one trial. Pure and deterministic; any thread."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.meter.onepiece import taken_off
from acquire.analysis.places.standing import percent
from acquire.analysis.scoring.changes import Found, change_scores
from acquire.analysis.scoring.errors import DRAWS, SEED
from acquire.analysis.scoring.keeping import Given, life_scores, rating_scores
from acquire.analysis.scoring.line import Line, no_points
from acquire.analysis.scoring.scored import (
    Condition,
    ItemScore,
    ProductScore,
    TrialScore,
)
from acquire.analysis.scoring.total import TIE_RULE, Total, ranks
from acquire.model import Plan, Treatment
from acquire.model.scorecard import Change, Judged, Lasting, Scorecard

Floats = NDArray[np.float64]
_MOST_DRAWN = 2_000_000
"""Draws of all products of an item together."""
_FEWEST_DRAWS = 5000
AT_LEAST = ", each life counted at its least"
"""What is said of a chance where a life may be longer than is counted."""
_OF_WHAT = (
    "The 95 % interval of points is of what the scorecard would make of these results had their "
    "errors fallen otherwise."
)
_OF_SHOWN = (
    " Where a change that earns points only if it is shown lies well beyond the limit from which "
    "it is, that is, as elsewhere, of the points of the true change. Near the limit it takes in "
    "that nothing might be shown, and holds those points in fewer than 95 of 100. Where nothing "
    "is shown and nothing else would be earned, there is none, though the true change may be worth "
    "points."
)
"""Drawn: four products, three zones of three readings; 240 products a line and more. Gains of 1,
2 and 4 ± 0.2 GU: the true points held in 94 to 96 of 100. Of 0.3 and 0.5 ± 0.2, 0.5 ± 0.5 and
0.75 ± 0.1: in 67 to 92, one that has no interval counted as missed, and in 93 to 100 of the others.
With one zone, gains of 0.3 ± 0.2: in 26, and in 82."""


@dataclass(frozen=True, slots=True)
class _Product:
    treatment: Treatment
    lines: tuple[Line, ...]

    @property
    def missing(self) -> tuple[str, ...]:
        return tuple(x.item for x in self.lines if x.points is None)

    @property
    def total(self) -> Total | None:
        told = [x for x in self.lines if x.points is not None]
        if not told:
            return None
        return Total(
            math.fsum(x.points for x in told if x.points is not None),
            np.sum([x.draws for x in told], axis=0),
            np.sum([x.unshifted for x in told], axis=0),
            math.fsum(x.slack for x in told),
            _by_meter(told),
        )


def _by_meter(told: Sequence[Line]) -> dict[str, tuple[Floats, ...]]:
    """What `Total` has of each meter that may be off in several ways."""
    found: dict[str, list[Line]] = {}
    for line in told:
        if line.ways:
            found.setdefault(line.meter, []).append(line)
    return {
        meter: tuple(
            np.sum(drawn, axis=0)
            for drawn in zip(*[(x.draws, x.unshifted, *x.ways) for x in lines], strict=True)
        )
        for meter, lines in found.items()
    }


def score(
    plan: Plan,
    found: Sequence[Found],
    ratings: Sequence[Given],
    card: Scorecard,
    conditions: Sequence[Condition] = (),
    draws: int = DRAWS,
) -> TrialScore:
    """The points of every product of a trial.

    `found` are the results of its measures, `ratings` those that stand; `conditions` are kept with
    the points.
    """
    treated = [t for t in plan.treatments if not t.is_control]
    # Of very many products fewer draws are kept, so that they fit into the memory.
    draws = min(draws, max(_FEWEST_DRAWS, _MOST_DRAWN // max(1, len(treated))))
    lines: dict[str, Mapping[str, Line]] = {}
    kept = list(conditions)
    changes = [i for i in card.items if isinstance(i.earns, Change)]
    told, seen = change_scores(plan, treated, found, changes, draws)
    lines |= told
    kept += seen
    for item in card.items:
        if isinstance(item.earns, Lasting):
            lines[item.id], more = life_scores(plan, treated, found, ratings, item, draws)
        elif isinstance(item.earns, Judged):
            lines[item.id], more = rating_scores(plan, treated, ratings, item, draws)
        else:
            continue
        kept += more
    products = [
        _Product(t, tuple(lines[i.id].get(t.id) or no_points(i.id, "") for i in card.items))
        for t in treated
    ]
    ranked, notes = _ranked(products, card)
    return TrialScore(
        plan.id, plan.title, card.id, card.version, card.digest, card.decimals,
        tuple((i.id, i.title) for i in card.items), tuple(ranked), tuple(kept),
        tuple(dict.fromkeys((*notes, *_notes(plan, products, card)))), plan.unchecked,
    )  # fmt: skip


def _ranked(products: Sequence[_Product], card: Scorecard) -> tuple[list[ProductScore], list[str]]:
    """Places among those that lack the same items, whole ones first; the highest total first."""
    groups: dict[tuple[str, ...], list[_Product]] = {}
    for p in products:
        groups.setdefault(p.missing, []).append(p)
    found: list[ProductScore] = []
    notes: list[str] = []
    for missing, group in sorted(groups.items(), key=lambda g: (len(g[0]), g[0])):
        totals = {p.treatment.id: t for p in group if (t := p.total) is not None}
        own = sorted(
            (p for p in group if p.treatment.id in totals),
            key=lambda p: (-totals[p.treatment.id].points, p.treatment.id),
        )
        found += [_score(p, None) for p in group if p.treatment.id not in totals]
        if not own:
            continue
        rows = [_score(p, totals[p.treatment.id]) for p in own]
        if len(own) > 1:
            every = [totals[p.treatment.id] for p in own]
            stand = ranks(every, card.decimals, SEED)
            unshifted = None
            if any(not np.array_equal(t.draws, t.unshifted) for t in every):
                moved = [replace(t, draws=t.unshifted) for t in every]
                unshifted = ranks(moved, card.decimals, SEED).chances
            rows = [
                replace(
                    row,
                    place=stand.places.text(i),
                    first=stand.chances.first[i],
                    first_unshifted=None if unshifted is None else unshifted.first[i],
                )
                for i, row in enumerate(rows)
            ]
            is_of_one = any(x.is_of_one for p in group for x in p.lines if x.points is not None)
            notes += _said(
                rows, stand.places.tied_first, missing, stand.chances.method, is_of_one=is_of_one
            )
        found += rows
    # Those without any points come last, whichever items they lack.
    found.sort(key=lambda p: p.total is None)
    return found, notes


def _said(
    rows: Sequence[ProductScore],
    tied: Sequence[int],
    missing: Sequence[str],
    method: str,
    *,
    is_of_one: bool,
) -> list[str]:
    without = f"Without {', '.join(missing)}: " if missing else ""
    names = [rows[i].name for i in tied]
    first = (
        f"{names[0]} is first, shown to be ahead of all others."
        if len(names) == 1
        else f"first together, a tie: {', '.join(names[:-1])} and {names[-1]}."
    )
    text = f"{without}{first}"
    chances = "; ".join(f"{r.name} {percent(r.first)}" for r in rows if r.first is not None)
    least = AT_LEAST if any(r.slack != 0 for r in rows) else ""
    said = [
        text[0].upper() + text[1:],
        TIE_RULE,
        f"Chance to be first{least}: {chances}. {method}",
    ]
    moved = [r for r in rows if r.first_unshifted is not None]
    if moved:
        chances = "; ".join(
            f"{r.name} {percent(r.first_unshifted)}" for r in moved if r.first_unshifted is not None
        )
        said.append(f"{taken_off(is_of_one=is_of_one)}: {chances}.")
    return said


def _notes(plan: Plan, products: Sequence[_Product], card: Scorecard) -> list[str]:
    said = list(dict.fromkeys(n for p in products for x in p.lines for n in x.notes))
    if any(x.points is not None for p in products for x in p.lines):
        wants_shown = any(isinstance(i.earns, Change) and i.earns.only_if_shown for i in card.items)
        said.insert(0, _OF_WHAT + _OF_SHOWN * wants_shown)
    if any(p.missing for p in products) and len({p.missing for p in products}) > 1:
        said.append(
            "A total without an item is not compared with one that has it: places hold among those "
            "that lack the same items."
        )
    if any(x.is_at_least for p in products for x in p.lines):
        said.append(
            "“At least” where washing stopped before a life had ended: the points are counted up "
            "to there, nothing is shown to be ahead of such a total by what its life may still be."
        )
    if plan.unchecked:
        said.append("Unchecked: the readings behind these points count without a valid check.")
    return said


def _score(product: _Product, total: Total | None) -> ProductScore:
    low, high = (None, None) if total is None else total.interval
    return ProductScore(
        product.treatment.id,
        product.treatment.name,
        tuple(_item(x) for x in product.lines),
        None if total is None else total.points,
        low,
        high,
        any(x.is_at_least for x in product.lines),
        None if total is None or math.isinf(total.slack) else total.slack,
        product.missing,
    )


def _item(line: Line) -> ItemScore:
    if line.points is None:
        return ItemScore(line.item, line.found, why=line.why)
    low, high = line.interval
    return ItemScore(
        line.item, line.found, line.points, low, high, line.is_at_least,
        None if math.isinf(line.slack) else line.slack, line.why, line.is_late,
    )  # fmt: skip
