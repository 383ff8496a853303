"""`coatbench trial check`: looking through a plan before it is used."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE
from acquire.cli.reach import bench_option, load
from acquire.cli.spoken import say
from acquire.errors import CoatbenchError

if TYPE_CHECKING:
    from acquire.model import Measure, Plan

SHOWN_TARGETS = 12


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@bench_option
def check(file: Path, bench: Path | None) -> int:
    """Look through the trial file FILE: every fault at once, or the plan in short.

    Where a bench file is at hand, it is told which certificates for it are due soon or overdue,
    and what the plan could show with the scatter of its instruments.
    Needs no daemon and no instrument, and writes nothing.

    \b
    Example:  coatbench trial check config/boatyard/trial.toml
    Next:     coatbench check INSTRUMENT, then coatbench run FILE STAGE --with INSTRUMENT
    """
    from acquire.settings import load_plan  # noqa: PLC0415 - slow

    plan = load_plan(file)
    say(plan_lines(plan))
    say(_wash_lines(plan))
    say(_slide_lines(plan))
    say(_zone_lines(plan))
    say(_register_lines(plan, bench))
    say(_planning_lines(plan, bench))
    return DONE


def _draw_lines(plan: Plan) -> list[str]:
    """How products were dealt, and whether the zones are those of the draw that the file names."""
    from acquire.trial.dealing import layout_words  # noqa: PLC0415 - slow
    from acquire.trial.redrawn import is_as_drawn  # noqa: PLC0415

    if plan.layout is None:
        return []
    found = {
        True: "the zones are those of this draw",
        False: "the zones are NOT those of this draw; they were changed by hand",
        None: "zones without row and column cannot be held against it",
    }[is_as_drawn(plan)]
    return [f"layout  {layout_words(plan)}; {found}"]


def _wash_lines(plan: Plan) -> list[str]:
    """Where the name of a stage promises a count of washes that the plan has not."""
    from acquire.settings.washes import wash_hints  # noqa: PLC0415 - slow

    return wash_hints(plan) if plan.study is None else []


def _slide_lines(plan: Plan) -> list[str]:
    """What few slides cost where films are held against blanks of a box."""
    from acquire.analysis.plans.planslides import slide_hints  # noqa: PLC0415 - slow

    return slide_hints(plan) if plan.study is None else []


def _zone_lines(plan: Plan) -> list[str]:
    """What one zone of a treatment costs where others have several."""
    from acquire.analysis.rules.lonezones import lone_zone_hints  # noqa: PLC0415 - slow

    return lone_zone_hints(plan) if plan.study is None else []


def _planning_lines(plan: Plan, bench: Path | None) -> list[str]:
    """What the plan could show on the bench at hand; nothing where none is."""
    from acquire.cli.planning import planning_lines  # noqa: PLC0415 - slow

    try:
        return planning_lines(plan, load(bench))
    except CoatbenchError:
        return []


def _register_lines(plan: Plan, bench: Path | None) -> list[str]:
    """What is due or not plausible of the certificates that the measures of a plan rest on."""
    from acquire.calibration.due import to_renew  # noqa: PLC0415 - slow
    from acquire.calibration.plausibility import findings  # noqa: PLC0415
    from acquire.clock import SystemClock  # noqa: PLC0415

    try:
        found = load(bench)
    except CoatbenchError:
        # A plan can be looked through without a bench; one that was named is meant.
        if bench is not None:
            raise
        return []
    wanted = {(m.quantity, channel) for m in plan.measures for channel in m.channels}
    today = SystemClock().now().utc().date()
    pieces = [
        (piece, [c for c in piece.on(today).current if (c.quantity, c.channel) in wanted])
        for piece in found.pieces
    ]
    used = [c for _, own in pieces for c in own]
    lines = [due.words for due in to_renew(used, today, found.due_soon_days)]
    lines += [f"NOT PLAUSIBLE: {text}" for piece, own in pieces for text in findings(piece, own)]
    return [*lines, "next: coatbench pieces"] if lines else []


def plan_lines(plan: Plan) -> list[str]:
    """A plan in short, for a person."""
    lines = [
        f"trial   {plan.id}: {plan.title}",
        f"panel   {plan.panel}",
        f"stages  {', '.join(plan.stages)}  (changes are taken against {plan.stages[0]})",
    ]
    if plan.washes:
        counts = ", ".join(f"{stage} after {count}" for stage, count in plan.washes)
        lines.append(f"washes  {counts}")
    lines += _draw_lines(plan)
    if plan.is_blind:
        lines.append("BLIND   treatments are codes; the key that tells them is sealed in the store")
    if plan.unchecked:
        lines.append("UNCHECKED: its readings count without a valid check; all results say so")
    lines += ["", f"{len(plan.zones)} zones"]
    room = max(len(zone.id) for zone in plan.zones)
    for zone in plan.zones:
        treatment = plan.treatment_of(zone.id)
        control = "  (the control)" if treatment.is_control else ""
        lines.append(f"  {zone.id:<{room}}  {treatment.name}{control}")
    for measure in plan.measures:
        lines += ["", *_measure_lines(plan, measure)]
    return [*lines, "", "no faults"]


def _measure_lines(plan: Plan, measure: Measure) -> list[str]:
    from acquire.model import arrange, channel_labels  # noqa: PLC0415 - slow
    from acquire.units import symbol  # noqa: PLC0415

    channels = channel_labels(measure.channels)
    per_stage = len(plan.zones) * measure.replicates
    values = per_stage * len(measure.channels)
    seed = f", seed {measure.seed}" if measure.order == "shuffled" else ""
    margin = (
        "no margin of equivalence"
        if measure.margin is None
        else f"equivalent within {measure.margin} {symbol(measure.result_unit)}".rstrip()
    )
    lines = [
        f"measure {measure.id}: {measure.quantity}{f' at {channels}' if channels else ''}, "
        f"{'higher' if measure.higher_is_better else 'lower'} is better, {margin}",
        f"  {measure.replicates} of each zone, {per_stage} targets and {values} readings a stage, "
        f"{values * len(measure.stages)} in all",
    ]
    if measure.sled is not None:
        wanted = ", ".join(measure.sled.corrections) or "none"
        lines.append(
            f"  pulled on a sled of {measure.sled.as_weighed}: results are coefficients of "
            f"friction; corrections: {wanted}"
        )
    if measure.end_of_life is not None:
        lines.append(f"  {_criterion(measure)}")
    if measure.drift_correction != "none":
        lines.append(
            f"  results as read and corrected for drift by {measure.drift_correction}, between a "
            "passed check before and one after; the corrected ones decide"
        )
    for stage in measure.stages:
        targets = arrange(plan, measure, stage)
        shown = " ".join(t.zone for t in targets[:SHOWN_TARGETS])
        more = " ..." if len(targets) > SHOWN_TARGETS else ""
        lines.append(f"  {stage}, {measure.order}{seed}: {shown}{more}")
    return lines


def _criterion(measure: Measure) -> str:
    from acquire.analysis.durability.criterion import criterion_words  # noqa: PLC0415 - slow

    assert measure.end_of_life is not None
    is_film = measure.quantity == "transmittance"
    return criterion_words(measure.end_of_life, measure.result_unit, is_film=is_film)
