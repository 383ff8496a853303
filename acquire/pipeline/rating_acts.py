"""Ratings on the written scales of a plan. Runs on the desk's thread."""

from __future__ import annotations

from acquire.errors import NotFound, Refused
from acquire.model import Instant, Plan, Rated, Scale
from acquire.pipeline.asking import Answer
from acquire.pipeline.at_work import plan_at_work
from acquire.pipeline.desk import Desk
from acquire.store.work_rows import RatingRow
from acquire.trial.ratings import Rateable, is_blind, not_blind_words, same_rater, standing
from acquire.visible import says_something


class RatingActs:
    """Ratings as people give them. A later one by the same person needs a reason; both stay."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def rate(
        self,
        trial: str,
        scale: str,
        stage: str,
        zone: str,
        treatment: str,
        rater: str,
        step: int,
        reason: str,
        at: Instant,
    ) -> Answer:
        """Keep one judgement: of a zone at a stage, or of a product."""
        desk = self._desk
        plan = plan_at_work(desk, trial)
        found = plan.scale(scale)
        if found is None:
            raise NotFound(
                f"trial {trial} has no scale {scale!r}",
                got=repr(scale),
                wanted=", ".join(s.id for s in plan.scales) or "a scale; the plan has none",
                next_step="name one of these, or write a [[scale]] into the trial file",
            )
        if not says_something(rater):
            raise _refused(trial, "nobody named", "no name", "who rates", "say it: --by NAME")
        if not 1 <= step <= len(found.steps):
            raise _refused(
                trial, "no such step", f"step {step}", f"a step of {found.id}, 1 to "
                f"{len(found.steps)}", "look at the steps: coatbench rate " + trial,
            )  # fmt: skip
        stage, zone, treatment = _thing(plan, found, stage, zone, treatment)
        worked = desk.shelf.worked
        before = worked.ratings(trial)
        who = same_rater(before, rater)
        thing = Rateable(scale, stage, zone) if zone else Rateable(scale, treatment=treatment)
        earlier = standing(before).get((who, thing))
        if earlier is not None and not says_something(reason):
            raise _refused(
                trial, "rated already", f"{zone or treatment} rated {found.words(earlier.step)} by "
                f"{who} before", "a reason for another rating", "give it: --reason TEXT",
            )  # fmt: skip
        openings = worked.key_openings(plan.key_digest) if plan.is_blind else []
        row = RatingRow(
            desk.ids.take(RatingRow), at.utc_ns, desk.sitting_id, trial, stage, scale, zone,
            treatment, who, step, int(is_blind(plan, openings, who)), reason,
        )  # fmt: skip
        return Answer(
            {
                "rating_id": row.id,
                "rater": who,
                "thing": zone or treatment,
                "words": found.words(step),
                "is_blind": bool(row.is_blind),
                "not_blind": not_blind_words(plan, openings, who),
                "before": None if earlier is None else found.words(earlier.step),
            },
            [row],
        )


def _thing(plan: Plan, scale: Scale, stage: str, zone: str, treatment: str) -> tuple[str, str, str]:
    """Stage, zone and treatment of a rating as they are stored. Raises `NotFound`, `Refused`."""
    if scale.rated is Rated.TREATMENT:
        rated = [t.id for t in plan.treatments if not t.is_control]
        if treatment not in rated or zone or stage:
            raise _refused(
                plan.id, "no such product", repr(treatment or zone or stage),
                f"a product for scale {scale.id}: {', '.join(rated)}",
                f"coatbench rate {plan.id} --products",
            )  # fmt: skip
        return "", "", treatment
    zones = [z.id for z in plan.zones]
    if zone not in zones:
        raise _refused(
            plan.id, "no such zone", repr(zone), f"a zone for scale {scale.id}: {', '.join(zones)}",
            f"coatbench rate {plan.id} STAGE",
        )  # fmt: skip
    on_it = plan.treatment_of(zone).id
    if stage not in scale.stages or treatment not in ("", on_it):
        raise _refused(
            plan.id,
            "no such stage" if stage not in scale.stages else "another treatment",
            repr(stage if stage not in scale.stages else treatment),
            f"a stage of scale {scale.id}: {', '.join(scale.stages)}"
            if stage not in scale.stages
            else f"{on_it}, which the plan has on {zone}",
            f"coatbench rate {plan.id} STAGE",
        )
    return stage, zone, on_it


def _refused(trial: str, reason: str, got: str, wanted: str, next_step: str) -> Refused:
    return Refused(
        f"the rating is not kept for {trial}",
        reason=reason,
        got=got,
        wanted=wanted,
        next_step=next_step,
    )
