"""Ratings in figures and sentences: by treatment, how far raters agree, what differs.

Steps of a written scale have an order and no distances: they are never averaged. Of several ratings
of a zone the middle one counts, of an even number the lower of the two. The page, the terminal and
the rows say the same. Pure; any thread.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from acquire.analysis.comparisons.pair import rank_test
from acquire.analysis.durability.outliving import ALPHA, holm
from acquire.analysis.figures import probability
from acquire.analysis.people.raters import Agreement, agreement_of
from acquire.model import Rated, Scale
from acquire.report.record.record import TrialRecord
from acquire.report.words.wording import counted, listed
from acquire.store.work_rows import RatingRow
from acquire.trial.people import shown_name
from acquire.trial.ratings import Rateable, raters, standing


@dataclass(frozen=True, slots=True)
class TreatmentRating:
    """One treatment on a scale at a stage: `median` of `things` zones, each by its middle rating.

    `least` and `most` are the outermost of all `ratings`; `apart` the most steps by which two
    people differ on one thing, None where only one rated.
    """

    treatment: str
    name: str
    things: int
    ratings: int
    median: int
    least: int
    most: int
    apart: int | None


@dataclass(frozen=True, slots=True)
class ScaleRatings:
    """One scale at one stage (empty for products), treatments from the best median downwards."""

    scale: Scale
    stage: str
    rows: tuple[TreatmentRating, ...]
    raters: tuple[str, ...]
    agreement: Agreement | None
    differences: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def title(self) -> str:
        return f"{self.scale.name}{f' at {self.stage}' if self.stage else ''}"


def ratings_of(record: TrialRecord) -> tuple[ScaleRatings, ...]:
    """Every scale and stage with a rating, in the order of the plan."""
    found = standing(record.work.ratings)
    result = []
    for scale in record.plan.scales:
        for stage in scale.stages if scale.rated is Rated.ZONE else ("",):
            own = {k: r for k, r in found.items()
                   if k[1].scale == scale.id and k[1].stage == stage
                   and 1 <= r.step <= len(scale.steps) and _is_planned(record, k[1])}  # fmt: skip
            if own:
                result.append(_of_scale(record, scale, stage, own))
    return tuple(result)


def middle_steps(own: Mapping[tuple[str, Rateable], RatingRow]) -> dict[Rateable, int]:
    """The middle rating of each thing."""
    by_thing: dict[Rateable, list[int]] = {}
    for (_, thing), row in own.items():
        by_thing.setdefault(thing, []).append(row.step)
    return {thing: statistics.median_low(steps) for thing, steps in by_thing.items()}


def _is_planned(record: TrialRecord, thing: Rateable) -> bool:
    if thing.zone:
        return any(z.id == thing.zone for z in record.plan.zones)
    return any(t.id == thing.treatment for t in record.plan.treatments)


def _treatment_of(record: TrialRecord, thing: Rateable) -> str:
    return record.plan.treatment_of(thing.zone).id if thing.zone else thing.treatment


def _of_scale(
    record: TrialRecord, scale: Scale, stage: str, own: Mapping[tuple[str, Rateable], RatingRow]
) -> ScaleRatings:
    middle = middle_steps(own)
    by_treatment: dict[str, list[int]] = {}
    for thing, step in middle.items():
        by_treatment.setdefault(_treatment_of(record, thing), []).append(step)
    rows = []
    for treatment in (t for t in record.plan.treatments if t.id in by_treatment):
        mine = [r for k, r in own.items() if _treatment_of(record, k[1]) == treatment.id]
        steps = [r.step for r in mine]
        rows.append(
            TreatmentRating(
                treatment.id,
                record.name_of(treatment.id),
                len(by_treatment[treatment.id]),
                len(mine),
                statistics.median_low(by_treatment[treatment.id]),
                min(steps),
                max(steps),
                _apart(own, treatment.id, record),
            )
        )
    people = raters(list(own.values()))
    by_rater: dict[str, dict[Rateable, int]] = {name: {} for name in people}
    for (rater, thing), row in own.items():
        by_rater[rater][thing] = row.step
    differences = _differences(record, by_treatment) if stage else ()
    return ScaleRatings(
        scale,
        stage,
        tuple(sorted(rows, key=lambda r: -r.median)),
        people,
        agreement_of(by_rater, len(scale.steps)),
        differences,
        tuple(_remarks(record, scale, stage, list(own.values()))),
    )


def _apart(
    own: Mapping[tuple[str, Rateable], RatingRow], treatment: str, record: TrialRecord
) -> int | None:
    by_thing: dict[Rateable, list[int]] = {}
    for (_, thing), row in own.items():
        if _treatment_of(record, thing) == treatment:
            by_thing.setdefault(thing, []).append(row.step)
    spreads = [max(steps) - min(steps) for steps in by_thing.values() if len(steps) > 1]
    return max(spreads, default=None)


def _differences(record: TrialRecord, by_treatment: Mapping[str, Sequence[int]]) -> tuple[str, ...]:
    """Each treatment against the control by ranks, where so few zones could show anything at all.

    Exact rank-sum test of the zones' middle ratings, ties by mid-ranks, adjusted by Holm.
    """
    control = record.plan.control.id
    base = by_treatment.get(control)
    others = {t: steps for t, steps in by_treatment.items() if t != control}
    if not base or not others:
        return ()
    # What the farthest parting could give, with the best place among the others.
    least = {t: 2 * len(others) / math.comb(len(s) + len(base), len(s)) for t, s in others.items()}
    name = {t: record.name_of(t) for t in by_treatment}
    if all(p > ALPHA for p in least.values()):
        fewest = min(len(s) for s in others.values())
        return (
            f"No difference is tested: {counted(fewest, 'zone')} of a treatment and "
            f"{counted(len(base), 'zone')} of the control could not show one, however they were "
            "rated.",
        )
    adjusted = holm({t: rank_test(steps, base).p_two_sided for t, steps in others.items()})
    said = []
    for treatment, p in adjusted.items():
        figure = f"p {probability(p)}" + (
            f", adjusted for {len(adjusted)} comparisons" if len(adjusted) > 1 else ""
        )
        if p > ALPHA:
            said.append(f"{name[treatment]}: no difference from {name[control]} shown ({figure}).")
            continue
        above = sum(x > y for x in others[treatment] for y in base)
        below = sum(x < y for x in others[treatment] for y in base)
        word = "higher" if above > below else "lower"
        said.append(f"{name[treatment]} is rated {word} than {name[control]} ({figure}).")
    return tuple(said)


def _remarks(
    record: TrialRecord, scale: Scale, stage: str, rows: Sequence[RatingRow]
) -> Iterator[str]:
    """Who was not blind, what was rated anew, what nobody rated."""
    if record.plan.is_blind:
        seeing = [r for r in rows if not r.is_blind]
        if seeing:
            who = listed(list(dict.fromkeys(shown_name(r.rater) for r in seeing)))
            yield (
                f"Not blind: {counted(len(seeing), 'rating')} by {who}, who had been told which "
                "product is which, or after that was told to all."
            )
        else:
            yield "All of them were given before the rater was told which product is which."
    anew = [r for r in rows if r.reason]
    for row in anew[:_MOST_ANEW]:
        what = row.zone or record.name_of(row.treatment)
        who, words = shown_name(row.rater), scale.words(row.step)
        yield f"{what} was rated anew by {who}, {words}: {row.reason}."
    if len(anew) > _MOST_ANEW:
        yield f"{len(anew) - _MOST_ANEW} more were rated anew, each with its reason in the store."
    if stage:
        rated = {r.zone for r in rows}
        left = [z.id for z in record.plan.zones if z.id not in rated]
        if left:
            yield f"Not rated by anybody: {listed(left, 12)}."


_MOST_ANEW = 12


def agreement_words(found: Agreement | None) -> str:
    """How far the raters agree, in a sentence."""
    if found is None:
        return "One person rated: how far another would agree is not known."
    if found.same is None:
        return f"{found.raters} people rated, and {found.lacking}."
    same = f"{100 * found.same:.0f} % of pairs of ratings of one thing are the same step"
    head = f"{found.raters} people rated {counted(found.things, 'thing')} together: {same}"
    if found.value is None:
        return f"{head}; {found.lacking}."
    figure = f"{found.measure} {found.value:.2f}"
    if found.low is None or found.high is None:
        return f"{head}, {figure}; {found.lacking}."
    return (
        f"{head}, {figure} (95 % interval {found.low:.2f} to {found.high:.2f}, for more things of "
        "these treatments)."
    )


def rating_lines(found: ScaleRatings) -> list[str]:
    """The answer for a terminal, a sentence a line."""
    lines = []
    for row in found.rows:
        spread = "" if row.least == row.most else f", from {row.least} to {row.most}"
        lines.append(
            f"{row.name}: {found.scale.words(row.median)} ({counted(row.ratings, 'rating')}"
            f"{spread})"
        )
    return [*lines, *found.differences, agreement_words(found.agreement), *found.remarks]
