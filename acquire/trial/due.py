"""What is due of a trial, with the command that does it. Pure: it never asks the time.

The stages of a plan are gone through in their order up to the first one that waits for something:
a product to be put on, a cure time, washes, readings, ratings.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import tzinfo

from acquire.model import Rated
from acquire.store.progress import Taken
from acquire.store.work_rows import ApplicationRow
from acquire.trial.applications import cure_of, latest_coats
from acquire.trial.gone import washes_before
from acquire.trial.opened import Opened, open_at
from acquire.trial.people import NAME, shown_name, typed_name
from acquire.trial.ratings import left_to, raters, scales_at, things
from acquire.trial.readiness import give_up, may_correct, names, washed, when
from acquire.trial.uncounted import strokes_due
from acquire.trial.urgency import Due, Urgency
from acquire.trial.washes import counts_of
from acquire.trial.work import Work

METER = "METER"
OPEN = "open"
_MOST_ZONES = 12
"""So many zones are named in a command."""


def due_of(work: Work, now_utc_ns: int, zone: tzinfo | None = None) -> list[Due]:
    """What is due of an open trial, the most urgent first; hours are of `zone`."""
    found = [
        *_left_open(work, now_utc_ns, zone),
        *_closing(work),
        *_products(work),
        *strokes_due(work.plan, work.washes, work.applications, work.strokes, now_utc_ns, zone),
        *_stages(work, now_utc_ns, zone),
    ]
    # Nobody unseals or publishes while anything else is due: a check may find readings wanting.
    return sorted(found, key=lambda due: due.urgency) or [_done(work)]


def due_at(work: Work, stage: str, now_utc_ns: int, zone: tzinfo | None = None) -> list[Due]:
    """What is due at a stage that zones have come to, whatever else comes first; none if done."""
    opened = open_at(work, stage)
    runs = [run for run in work.left_open if run.stage == stage]
    found = [
        *_left_open(replace(work, left_open=runs), now_utc_ns, zone),
        *_closing(replace(work, taken=[t for t in work.taken if t.stage == stage])),
        *_measure(work, stage, opened.left),
        *_ratings_due(work, stage, opened, is_next=_is_rated_alone(work, stage)),
    ]
    return sorted(found, key=lambda due: due.urgency)


def _left_open(work: Work, now_utc_ns: int, zone: tzinfo | None) -> Iterator[Due]:
    for run in work.left_open:
        if run.trial == work.plan.id:
            since = when(run.begun_utc_ns, now_utc_ns, zone)
            yield Due(
                Urgency.RUN_OPEN, work.plan.id,
                f"run {run.run_id} ({run.measure}, {run.stage}) is open since {since}",
                f"coatbench run --resume (after coatbench check {run.instrument}, if that ended)",
            )  # fmt: skip


def _closing(work: Work) -> Iterator[Due]:
    """Readings that no later check has closed, by instrument."""
    found: dict[str, list[Taken]] = {}
    for taken in work.taken:
        if taken.state == OPEN:
            found.setdefault(taken.instrument, []).append(taken)
    for instrument, some in found.items():
        stages = ", ".join(dict.fromkeys(t.stage for t in some))
        number = sum(t.places for t in some)
        yield Due(
            Urgency.CLOSING, work.plan.id,
            f"no closing check of {instrument} yet after {_readings(number)} at {stages}",
            f"coatbench check {instrument}",
        )  # fmt: skip


def _products(work: Work) -> Iterator[Due]:
    """Products that were put on and that nobody has rated, or not everybody who began."""
    plan = work.plan
    if not work.applications:
        return
    coated = {plan.treatment_of(zone).id for zone in latest_coats(_planned(work))}
    wanted = [t for t in things(plan, None) if t.treatment in coated]
    own = {s.id for s in plan.scales if s.rated is Rated.TREATMENT}
    rows = [r for r in work.ratings if r.scale in own]
    for rater in raters(rows) or (NAME,):
        left = left_to(rater, wanted, rows)
        if left:
            yield Due(
                Urgency.RATE, plan.id,
                f"rate the products: {_ratings(len(left))} to give{_by(rater)}",
                f"coatbench rate {plan.id} --products --by {typed_name(rater)}",
            )  # fmt: skip


def _planned(work: Work) -> list[ApplicationRow]:
    known = {z.id for z in work.plan.zones}
    return [row for row in work.applications if row.zone in known]


def _stages(work: Work, now_utc_ns: int, zone: tzinfo | None) -> Iterator[Due]:
    for stage in work.plan.stages:
        opened = open_at(work, stage)
        yield from _gone(work, stage, opened)
        before = list(_before(work, stage, now_utc_ns, zone))
        is_next = _is_rated_alone(work, stage) and bool(opened.ratings)
        if is_next and before:
            yield from before
            return
        yield from _ratings_due(work, stage, opened, is_next=is_next)
        if is_next:
            return
        if opened.left:
            yield from before
            if not any(due.urgency in (Urgency.WASH, Urgency.WAITING, Urgency.APPLY)
                       for due in before) or _begun(work, stage):  # fmt: skip
                yield from _measure(work, stage, opened.left)
            return


def _gone(work: Work, stage: str, opened: Opened) -> Iterator[Due]:
    """What nobody can read or rate any more, until it is set down as given up."""
    parts = [
        f"{_readings(n)} of {m}{' that became suspect' if suspect == n else ''}"
        for m, (n, suspect) in opened.lost.items()
    ]
    if opened.ratings_lost:
        parts.append(_ratings(opened.ratings_lost))
    if not parts:
        return
    where = "; ".join(f"of {names(g.zones)}, since {g.why}" for g in opened.gone)
    zones = [z.id for z in work.plan.zones if any(z.id in g.zones for g in opened.gone)]
    counts, wanted = counts_of(work.plan, work.washes), washes_before(work.plan, stage)
    over = [z for z in zones if wanted is not None and counts[z] > wanted]
    if over and may_correct(work.plan, stage, over, work.looked_at()):
        where += f" (a wrong count is put right by coatbench wash {work.plan.id} --correct)"
    is_first = stage == work.plan.stages[0]
    without = (
        "no change can be told of what has no bare reading"
        if is_first
        else "results go without them"
    )
    yield Due(
        Urgency.GONE, work.plan.id,
        f"{stage} is gone {where}: {' and '.join(parts)} cannot be taken any more, and {without}",
        give_up(work.plan, stage, zones),
    )  # fmt: skip


def _begun(work: Work, stage: str) -> bool:
    return any(t.stage == stage for t in work.taken)


def _is_rated_alone(work: Work, stage: str) -> bool:
    """Whether at a stage nothing is measured, only rated, and nobody has begun to."""
    measured = any(stage in m.stages for m in work.plan.measures)
    if measured or not scales_at(work.plan, stage):
        return False
    return not any(r.stage == stage for r in work.ratings)


def _before(work: Work, stage: str, now_utc_ns: int, zone: tzinfo | None) -> Iterator[Due]:
    """What has to come before the readings of a stage."""
    plan = work.plan
    place = plan.stages.index(stage)
    if place == 0:
        return
    wanted = dict(plan.washes).get(stage, 0)
    if wanted:
        counts = counts_of(plan, work.washes)
        short = {z: wanted - n for z, n in counts.items() if n < wanted}
        if short:
            most = max(short.values())
            who = "" if len(short) == len(counts) else f" of {names(tuple(short))}"
            some = "" if len(short) == len(counts) else f" --zones {','.join(short)}"
            yield Due(
                Urgency.WASH, plan.id, f"{washed(most)}{who} to go to {stage}",
                f"coatbench wash {plan.id}{some}",
            )  # fmt: skip
        return
    coats = latest_coats(work.applications)
    treated = [z.id for z in plan.zones if not plan.treatment_of(z.id).is_control]
    bare = [z for z in treated if z not in coats]
    cure = cure_of(plan, stage, work.applications, now_utc_ns)
    # Where the plan waits for no cure, whoever records no application is not held up for ever.
    if bare and (cure is not None or not coats) and not _begun(work, stage):
        example = " ".join(bare) if len(bare) <= _MOST_ZONES else "ZONE..."
        told = f"; who does is told the codes by coatbench trial key {plan.id} --to {NAME}"
        hidden = told if plan.is_blind and not work.is_unsealed else ""
        yield Due(
            Urgency.APPLY, plan.id, f"put the products on {names(bare)}, for {stage}{hidden}",
            f"coatbench apply {plan.id} {example}",
        )  # fmt: skip
    if cure is not None and cure.ready_utc_ns is not None:
        at = when(cure.ready_utc_ns, now_utc_ns, zone)
        yield Due(
            Urgency.WAITING, plan.id, f"{stage} waits for its cure time, until {at} "
            f"({names(cure.waiting)})",
        )  # fmt: skip


def _measure(work: Work, stage: str, left: Mapping[str, tuple[int, int]]) -> Iterator[Due]:
    plan = work.plan
    under_way = {(r.measure, r.stage) for r in work.left_open if r.trial == plan.id}
    failed = work.failed() if left else ()
    for measure, (number, suspect) in left.items():
        meter = work.meters.get(measure, METER)
        some = f" --measure {measure}" if len(plan.measures) > 1 else ""
        if scales_at(plan, stage):
            command = f"coatbench checkpoint {plan.id} {stage} --with {meter}{some} --by {NAME}"
        else:
            command = f"coatbench run {plan.id} {stage} --with {meter}{some}"
        if (measure, stage) in under_way:
            command = "coatbench run --resume"
        first = (
            f"; {meter} FAILED its last check: see to it, then coatbench check {meter} comes first"
            if meter in failed
            else ""
        )
        if suspect:
            yield Due(
                Urgency.SUSPECT, plan.id,
                f"read again at {stage}: {_readings(suspect)} of {measure} became suspect{first}",
                command,
            )  # fmt: skip
        if number > suspect and (measure, stage) not in under_way:
            urgency, why = Urgency.MEASURE, ""
            if dict(plan.washes).get(stage):
                urgency, why = Urgency.CHECKPOINT, "CHECKPOINT reached: "
            elif stage in dict(plan.cure_hours):
                urgency, why = Urgency.CURED, "cure time over: "
            yield Due(
                urgency, plan.id,
                f"{why}measure {stage}, {measure}: {_readings(number - suspect)} to take{first}",
                command,
            )  # fmt: skip


def _ratings_due(work: Work, stage: str, opened: Opened, *, is_next: bool) -> Iterator[Due]:
    """Ratings that are missing at a stage that was read or begun, or is come to by rating alone."""
    plan = work.plan
    wanted = opened.ratings
    rows = [r for r in work.ratings if r.stage == stage]
    measured = any(stage in m.stages for m in plan.measures)
    is_read = measured and not opened.left
    if not wanted or not (is_read or rows or is_next):
        return
    for rater in raters(rows) or (NAME,):
        left = left_to(rater, wanted, rows)
        if left:
            yield Due(
                Urgency.RATE, plan.id, f"rate {stage}: {_ratings(len(left))} to give{_by(rater)}",
                f"coatbench rate {plan.id} {stage} --by {typed_name(rater)}",
            )  # fmt: skip


def _done(work: Work) -> Due:
    plan = work.plan
    if plan.is_blind and not work.is_unsealed:
        what, command = (
            "all is measured; unseal it",
            f"coatbench trial unseal {plan.id} --by {NAME}",
        )
    else:
        what = "all is measured; publish it, then close it"
        command = f"coatbench report {plan.id}, then coatbench trial close {plan.id}"
    return Due(Urgency.DONE, plan.id, what, command)


def _by(rater: str) -> str:
    return "" if rater == NAME else f" by {shown_name(rater)}"


def _readings(number: int) -> str:
    return f"{number} reading{'' if number == 1 else 's'}"


def _ratings(number: int) -> str:
    return f"{number} rating{'' if number == 1 else 's'}"
