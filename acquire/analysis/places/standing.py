"""How the treatments of one stage stand to one another: pairs, places with ties, and chances.

The decisions come from the pairs (`acquire.analysis.comparisons.among`); the chances say beside
them how likely each treatment is truly the best, given what was read. For them the lines of each
treatment's own scatter are drawn by Student's t, and everything else with the covariance that
follows from the budgets of the pairs: an error that two treatments share cancels in their pair, so
its share in the covariance is found without being named, and what all share (the control) is
nowhere. From variances V_ij of the differences the covariance but for a common shift is -J V J / 2,
J taking off the mean.

A known shift of the meter that is left in the readings is no random error: the chances are given as
read, and again with the shift taken off where there is one. Pure and deterministic; any thread.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.budget.uncertainty import Combined, Term, welch_satterthwaite
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import Contrast, change_of
from acquire.analysis.comparisons.among import Pair, among
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.meter.onepiece import taken_off
from acquire.analysis.places.drawing import DRAWS, drawn_chances_of
from acquire.analysis.places.ranking import Chances, Places, chance_ahead, places
from acquire.analysis.results import MeasureResult
from acquire.analysis.samples.repeatability import Repeatability
from acquire.analysis.specimens.blocks import own_spreads
from acquire.analysis.specimens.scatter import lacking, scatter_terms
from acquire.analysis.specimens.slidespread import slide_terms
from acquire.analysis.specimens.zonelines import OwnLine, own_lines
from acquire.analysis.specimens.zones import told_by_zones
from acquire.analysis.treatments.basis import Basis
from acquire.analysis.treatments.decision import Decision
from acquire.analysis.treatments.pairing import arm_of

Floats = NDArray[np.float64]
NEGLIGIBLE_BIAS = 1e-9
_MOST_NAMED = 12


@dataclass(frozen=True, slots=True)
class Standing:
    """The treatments of one stage, best net change first.

    `pairs` holds each against each other one, `places` where each may stand by these decisions.
    `chances` are those of the places as read, `chances_unshifted` the same with the known shifts of
    the meter taken off, None where there are none. Where two treatments cannot be held against each
    other there are no places and no chances, and `lacking` says why. `sentences` say all this: who
    is first, the places, the chances, and these without the known shifts where there are any.
    """

    stage: str
    treatments: tuple[str, ...]
    pairs: tuple[Pair, ...]
    places: Places | None
    chances: Chances | None
    chances_unshifted: Chances | None
    lacking: str
    sentences: tuple[str, ...]
    taken_off: str = ""


def standing(
    result: MeasureResult, names: Mapping[str, str], stage: str, *, draws: int = DRAWS
) -> Standing | None:
    """How the treatments stand at `stage`; None where fewer than two of them are judged.

    `names` gives the name of each treatment by its id.
    """
    basis = result.basis
    sign = 1.0 if basis.higher_is_better else -1.0
    found = [c for c in result.comparisons if c.stage == stage and isinstance(c, Comparison)]
    found.sort(key=lambda c: -sign * c.estimate)
    if len(found) < 2:
        return None
    cells: dict[str, list[Cell]] = {}
    for cell in result.judged:
        cells.setdefault(cell.treatment, []).append(cell)
    order = tuple(c.treatment for c in found)
    pairs = among(found, names, cells, basis, [x.pair for x in result.leads if x.stage == stage])
    lacking = next((p.lacking for p in pairs if p.lacking), "")
    if lacking:
        said = f"{stage}: no places and no chances, because {lacking}."
        return Standing(stage, order, pairs, None, None, None, lacking, (said,))
    at = {treatment: n for n, treatment in enumerate(order)}
    held = places(len(order), [edge for p in pairs if (edge := _ahead(p, at)) is not None])
    arms = [arm_of(t, names[t], cells[t], stage, basis.bare) for t in order]
    is_within = all(p.evaluation.blocks for p in pairs)
    own = _own_lines([change_of(arm.pairs) for arm in arms], result, is_within=is_within)
    differences = [[sign * p.estimate for p in pairs]]
    if any(abs(p.bias) > NEGLIGIBLE_BIAS * p.half_width for p in pairs):
        differences.append([sign * (p.estimate - p.bias) for p in pairs])
    as_read, *rest = _chances(differences, pairs, own, draws)
    unshifted = rest[0] if rest else None
    without = taken_off(is_of_one=any(p.bias and p.evaluation.known.is_of_one for p in pairs))
    named = [names[t] for t in order]
    texts = (
        _first(stage, named, held, pairs, basis),
        *_sentences(named, held, as_read, unshifted, without),
    )
    return Standing(stage, order, pairs, held, as_read, unshifted, "", texts, without)


def _ahead(pair: Pair, at: Mapping[str, int]) -> tuple[int, int] | None:
    """(better, worse) where the two are shown to differ."""
    first, second = at[pair.first], at[pair.second]
    if pair.decision is Decision.BETTER:
        return first, second
    return (second, first) if pair.decision is Decision.WORSE else None


def _own_lines(
    changes: Sequence[Contrast], result: MeasureResult, *, is_within: bool
) -> list[list[OwnLine]]:
    """The type A lines of each treatment: the spread of its zones, where all have several.

    `is_within` where all pairs were held against one another within blocks.
    """
    blanks, known = result.basis.blanks, result.basis.known
    if blanks is not None:
        stage = changes[0].parts[0][0].stage
        return [_lines(slide_terms(change, blanks[stage], known)) for change in changes]
    together = changes[0]
    for change in changes[1:]:
        together = together.minus(change)
    within = own_spreads(changes, result.basis.blocks) if is_within else None
    if within is not None:
        return [[line] for line in within]
    told = told_by_zones(together, result.resolution, result.basis.cells)
    if told is not None:
        return [
            _farther(line, change, known)
            for line, change in zip(
                own_lines(told, is_relative=together.is_relative), changes, strict=True
            )
        ]
    return [_lines(scatter_terms(change, known)) for change in changes]


def _farther(line: OwnLine, change: Contrast, known: Repeatability | None) -> list[OwnLine]:
    """The line that zones tell; of one zone its readings where they scatter more."""
    if len({cell.zone for cell, _ in change.parts}) > 1 or lacking(change, known):
        return [line]
    readings = _lines(scatter_terms(change, known))
    return readings if math.hypot(*(x.u for x in readings)) > line.u else [line]


def _lines(terms: Sequence[Term]) -> list[OwnLine]:
    return [OwnLine(t.contribution, t.nu) for t in terms]


def _chances(
    several: Sequence[Sequence[float]],
    pairs: Sequence[Pair],
    own: Sequence[Sequence[OwnLine]],
    draws: int,
) -> tuple[Chances, ...]:
    """Chances by each of `several` lists of the differences of the pairs, better upwards."""
    k = len(own)
    if k == 2:
        terms = pairs[0].evaluation.terms
        both = welch_satterthwaite([t.contribution for t in terms], [t.nu for t in terms])
        return tuple(_of_two(differences[0], both) for differences in several)
    rows, columns = np.triu_indices(k, 1)
    shared = np.zeros((k, k))
    shared[rows, columns] = [
        # Not by kind: how well a check was read is of kind A, and no line of one treatment alone.
        math.fsum(t.contribution**2 for t in p.evaluation.known.terms)
        for p in pairs
    ]
    shared += shared.T

    def values(differences: Sequence[float]) -> list[float]:
        between = np.zeros((k, k))
        between[rows, columns], between[columns, rows] = differences, [-d for d in differences]
        found: list[float] = between.mean(axis=1).tolist()
        return found

    return drawn_chances_of(
        [values(differences) for differences in several],
        own,
        _covariance(shared).tolist(),
        draws=draws,
    )


def _of_two(difference: float, both: Combined) -> Chances:
    ahead = chance_ahead(difference, both.u, both.nu)
    return Chances(
        ((ahead, 1 - ahead), (1 - ahead, ahead)), (0.0, 0.0), 0.0,
        "Two treatments: Student's t of their difference at its effective degrees of freedom.",
    )  # fmt: skip


def _covariance(of_differences: Floats) -> Floats:
    """The covariance, but for a common shift, of errors whose differences have these variances."""
    k = len(of_differences)
    centring = np.eye(k) - 1 / k
    found = -0.5 * centring @ of_differences @ centring
    values, vectors = np.linalg.eigh((found + found.T) / 2)
    # A line known as a bound only, like the course of a drift, need not fit the others exactly.
    fitted: Floats = (vectors * np.maximum(values, 0.0)) @ vectors.T
    return (fitted + fitted.T) / 2


def _first(
    stage: str, names: Sequence[str], held: Places, pairs: Sequence[Pair], basis: Basis
) -> str:
    """Who is first: one alone, or several together and what was not shown between them."""
    tied = held.tied_first
    if len(tied) == 1:
        return f"{stage}: {names[tied[0]]} is first, shown to be ahead of all others."
    # Best first, so the pairs are those of positions in that order.
    numbered = dict(zip(itertools.combinations(range(len(names)), 2), pairs, strict=True))
    found = {numbered[both].decision for both in itertools.combinations(tied, 2)}
    between = "them" if len(tied) == 2 else "any two of them"
    if found == {Decision.NOT_SHOWN}:
        why = f"no difference was shown between {between}"
    elif found == {Decision.EQUAL}:
        why = f"they are shown equal within {basis.margin_text}"
    else:
        why = f"no difference beyond the plan's margin was shown between {between}"
    return f"{stage}: first together: {_listed([names[i] for i in tied])}; {why}."


def _sentences(
    names: Sequence[str],
    held: Places,
    chances: Chances,
    unshifted: Chances | None,
    without: str,
) -> tuple[str, ...]:
    spans = "; ".join(f"{name} {held.text(i)}" for i, name in enumerate(names))
    said = [
        f"Places, all together at 95 %: {spans}.",
        f"Chance to be truly the best: {_likely(names, chances)}. {chances.method}",
    ]
    if unshifted is not None:
        said.append(f"{without}: {_likely(names, unshifted)}.")
    return tuple(said)


def _likely(names: Sequence[str], chances: Chances) -> str:
    return "; ".join(f"{name} {percent(p)}" for name, p in zip(names, chances.first, strict=True))


def _listed(names: Sequence[str]) -> str:
    """``a, b and c``; beyond `_MOST_NAMED` the rest as a number."""
    if len(names) > _MOST_NAMED:
        kept = names[: _MOST_NAMED - 1]
        return f"{', '.join(kept)} and {len(names) - len(kept)} more"
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else "".join(names)


def percent(p: float) -> str:
    """A chance in whole percent; the ends are never called certain."""
    if p < 0.005:
        return "below 1 %"
    return "above 99 %" if p > 0.995 else f"{100 * p:.0f} %"
