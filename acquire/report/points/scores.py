"""A scorecard applied to a trial of the store: results, lives and ratings in, points out.

The page, the terminal and the table over all trials take the same object. The thread of the reader.
"""

from __future__ import annotations

from collections.abc import Sequence

from acquire.analysis.scoring.changes import Found
from acquire.analysis.scoring.errors import DRAWS
from acquire.analysis.scoring.keeping import Given
from acquire.analysis.scoring.score import score
from acquire.analysis.scoring.scored import Condition, TrialScore
from acquire.errors import Refused
from acquire.model import Plan
from acquire.model.scorecard import Scorecard
from acquire.report.answers.standings import late_of
from acquire.report.evidence.evidence import Evidence, evidence_of
from acquire.report.record.record import TrialRecord
from acquire.report.washing.washlife import WashAnswer, wash_answer
from acquire.store.work_rows import RatingRow
from acquire.trial.ratings import standing


def trial_score(
    record: TrialRecord,
    card: Scorecard,
    evidence: Sequence[tuple[Evidence, WashAnswer | None]] | None = None,
    draws: int = DRAWS,
) -> TrialScore:
    """The points of a trial; `evidence` with its wash lives where these were worked out already.

    Raises `Refused` for a study, which compares nothing.
    """
    if record.plan.study is not None:
        raise Refused(
            f"{record.plan.id} is a study and earns no points",
            reason="study",
            got="readings that look at a meter",
            wanted="a trial, which compares treatments",
            next_step=f"coatbench study --show {record.plan.id} says what it found",
        )
    if evidence is None:
        evidence = [(e, wash_answer(record, e)) for e in evidence_of(record)]
    found = [_found(record, e, wash) for e, wash in evidence]
    return score(
        record.plan, found, given(record.work.ratings), card, conditions(record.plan), draws
    )


def given(rows: Sequence[RatingRow]) -> list[Given]:
    """The ratings that stand, as the analysis takes them."""
    return [
        Given(r.scale, r.stage, r.zone, r.treatment, r.rater, r.step)
        for r in standing(rows).values()
    ]


def _found(record: TrialRecord, evidence: Evidence, wash: WashAnswer | None) -> Found:
    return Found(
        evidence.measure,
        evidence.channel,
        "" if evidence.friction is None else evidence.friction.friction.kind.value,
        evidence.what,
        evidence.deciding,
        wash.found if wash is not None and record.plan.washes else None,
        lambda stage, treatment: bool(
            late_of(record, evidence, stage, (treatment, evidence.result.control))
        ),
    )


def conditions(plan: Plan) -> list[Condition]:
    """What of the whole trial another one must have alike."""
    panels = sorted({p.material or p.name for p in plan.panels}) or [plan.panel]
    kept = [Condition("panel", "; ".join(panels))]
    if plan.washes:
        recipe = "; ".join(f"{what}: {how}" for what, how in plan.recipe if what != "notes")
        kept.append(Condition("wash recipe", recipe or "not written down"))
    return kept
