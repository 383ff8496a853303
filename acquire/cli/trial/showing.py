"""`coatbench trial show`."""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE
from acquire.cli.listing import Cells, show_table
from acquire.cli.reach import bench_option, known_bench, store_of
from acquire.cli.spoken import say

if TYPE_CHECKING:
    from acquire.model import Bench, Plan
    from acquire.store.reader import StoreReader
    from acquire.trial.blinding import Blinding
    from acquire.trial.progress import Progress, Taken

COLUMNS = 80
"""Where no terminal says how wide it is."""
LEAST_COLUMNS = 40


@click.command()
@click.argument("trial", required=False)
@click.option("--all", "whole", is_flag=True, help="Every row of a long panel.")
@bench_option
def show(trial: str | None, whole: bool, bench: Path | None) -> int:
    """Draw the panels of TRIAL: zones, what is on them, what is measured, and what is next.

    A blind trial shows codes until its key is unsealed. Without TRIAL: all trials of the bench.
    Needs no daemon, and writes nothing.

    \b
    Example:  coatbench trial show
              coatbench trial show gelcoat-1
    Next:     coatbench next, for what is due in all trials
    """
    from acquire.store.reader import StoreReader  # noqa: PLC0415 - slow

    with StoreReader(store_of(bench)) as store:
        if trial is None:
            rows = trial_rows(store)
            if len(rows) == 1:
                say(["no trial is kept here", "next: coatbench trial new"])
            else:
                show_table(rows)
            return DONE
        columns = shutil.get_terminal_size().columns if sys.stdout.isatty() else COLUMNS
        own = known_bench(bench)
        # All of it before a line is out: whoever reads may have heard enough before the end.
        lines = list(_shown(store, trial, max(LEAST_COLUMNS, columns), own, whole=whole))
    say(lines)
    return DONE


_TRIALS = """
SELECT t.trial, t.title, t.at_utc_ns, t.unchecked,
    (SELECT count(*) FROM trial_zone AS z WHERE z.trial_id = t.id) AS zones,
    (SELECT r.stage FROM run AS r JOIN trial AS v ON v.id = r.trial_id WHERE v.trial = t.trial
     ORDER BY r.id DESC LIMIT 1) AS stage,
    (SELECT r.at_utc_ns FROM run AS r JOIN trial AS v ON v.id = r.trial_id WHERE v.trial = t.trial
     ORDER BY r.id DESC LIMIT 1) AS run_utc_ns,
    (SELECT c.is_closed FROM trial_closing AS c WHERE c.trial = t.trial
     ORDER BY c.id DESC LIMIT 1) AS is_closed,
    (SELECT count(*) FROM trial_key AS k WHERE k.trial = t.trial) AS keys,
    (SELECT count(*) FROM trial_key AS k JOIN key_opening AS o ON o.key_id = k.id
     WHERE k.trial = t.trial AND o.how = 'unsealed') AS unsealings
FROM trial AS t WHERE t.id IN (SELECT max(id) FROM trial GROUP BY trial)
    AND instr(t.text, '[study]') = 0
ORDER BY (SELECT min(id) FROM trial AS f WHERE f.trial = t.trial)
"""


def trial_rows(store: StoreReader) -> list[Cells]:
    """Headings, and a row a trial in the order in which they were planned. No plan is read."""
    from acquire.model import from_utc_ns  # noqa: PLC0415 - slow

    rows: list[Cells] = [("trial", "zones", "state", "last", "title")]
    for row in store.rows(_TRIALS):
        state = "closed" if row["is_closed"] else "planned"
        if not row["is_closed"] and row["stage"] is not None:
            state = f"at {row['stage']}"
        if row["keys"]:
            state += ", unsealed" if row["unsealings"] else ", blind"
        if row["unchecked"]:
            state += ", unchecked"
        last = from_utc_ns(row["run_utc_ns"] or row["at_utc_ns"]).astimezone()
        rows.append((row["trial"], str(row["zones"]), state, f"{last:%Y-%m-%d}", row["title"]))
    return rows


def _shown(
    store: StoreReader, trial: str, columns: int, bench: Bench | None, *, whole: bool
) -> Iterator[str]:
    from acquire.trial.blinding import blinding_of, shown_plan  # noqa: PLC0415 - slow
    from acquire.trial.progress import progress_of  # noqa: PLC0415
    from acquire.trial.stored import stored_plan  # noqa: PLC0415

    with store.snapshot():
        plan = stored_plan(store.rows, trial)
        blinding = blinding_of(store.rows, plan)
        plan = shown_plan(store.rows, plan)
        progress = progress_of(store.rows, plan)
        yield from _head(store, plan, blinding)
        yield from _panels(plan, progress, columns, whole=whole)
        yield ""
        yield from _taken(plan, progress, columns)
        yield from _applications(store, plan, columns)
        yield from _next(store, plan, bench)


def _head(store: StoreReader, plan: Plan, blinding: Blinding | None) -> Iterator[str]:
    from acquire.cli.trial.words import blinding_lines  # noqa: PLC0415 - slow
    from acquire.store.worked import Worked  # noqa: PLC0415
    from acquire.trial.dealing import layout_words  # noqa: PLC0415

    yield f"{plan.id}: {plan.title}"
    closing = Worked(store.rows).closing(plan.id)
    if closing is not None and closing.is_closed:
        yield f"CLOSED  {closing.why or 'nothing of it is due any more'}"
    if plan.unchecked:
        yield "UNCHECKED  its readings count without a valid check; all results say so"
    yield from blinding_lines(blinding)
    if words := layout_words(plan):
        yield f"layout  {words}"


def _panels(plan: Plan, progress: Progress, columns: int, *, whole: bool) -> Iterator[str]:
    from acquire.cli.trial.drawing import (  # noqa: PLC0415 - slow
        Content,
        drawn,
        is_brief,
        marks,
        needs_marks,
    )
    from acquire.trial.places import on_panels  # noqa: PLC0415

    stage = progress.next_stage or plan.stages[-1]
    wanted = progress.places.get(stage, 0)
    letters = marks([t.id for t in plan.treatments], plan.control.id)

    def content(zone: str, treatment: str) -> Content:
        done = progress.by_zone.get((zone, stage), 0)
        is_away = done < wanted and (zone, stage) in progress.given_up
        sign = "#" if done >= wanted else "x" if is_away else "+" if done else "."
        on = _short(plan, treatment)
        how = "done" if done >= wanted else "given up" if is_away else f"{done}/{wanted}"
        lines = [zone, on, f"{stage} {how}"]
        if plan.washes:
            count = progress.washes.get(zone, 0)
            lines.append(f"{count} wash{'' if count == 1 else 'es'}")
        mark = letters.get(treatment, "")
        return Content(lines, f"{zone} {on} {sign}", f"{mark}{sign}" if mark else "")

    zones = {zone.id: content(zone.id, zone.treatment) for zone in plan.zones}
    panels = on_panels(plan)
    for panel in panels:
        name = next(str(p) for p in plan.panels if p.id == panel.panel)
        yield ""
        yield f"{panel.panel}: {name}" if panel.panel else name
        yield from drawn(panel, zones, columns, whole=whole)
    with_marks = any(needs_marks(panel, columns) for panel in panels)
    if with_marks or any(map(is_brief, panels)):
        away = ", x given up" if any(at == stage for _, at in progress.given_up) else ""
        yield f"at {stage}: # all read, + partly, . not yet{away}"
    yield ""
    yield from _treatments(plan, columns, letters if with_marks else {})


def _short(plan: Plan, treatment: str) -> str:
    """What stands in a cell: the code of a blind trial, else the name; the control by its word."""
    found = next(t for t in plan.treatments if t.id == treatment)
    if found.is_control:
        return "control"
    return found.id if plan.is_blind else found.name


def _treatments(plan: Plan, columns: int, letters: Mapping[str, str]) -> Iterator[str]:
    """Which is which, with the letter of each where the panel has letters alone."""
    from acquire.cli.trial.drawing import cut  # noqa: PLC0415 - slow

    on = [zone.treatment for zone in plan.zones]
    for treatment in plan.treatments:
        count = on.count(treatment.id)
        where = f"{count} zone{'' if count == 1 else 's'}"
        letter = f"{letters[treatment.id]}  " if treatment.id in letters else ""
        label = f"{letter}{'control' if treatment.is_control else '':<7}  {where:<9}"
        yield f"{label}  {cut(treatment.name, columns - len(label) - 2).rstrip()}"


def _taken(plan: Plan, progress: Progress, columns: int) -> Iterator[str]:
    """A paragraph a stage: what is taken of what; the next one has an arrow."""
    room = max(len(stage) for stage in (*plan.stages, "products"))
    washes = dict(plan.washes)
    for stage in (*plan.stages, ""):
        parts = [_part(t) for t in progress.taken if t.stage == stage]
        if not parts:
            continue
        if washes.get(stage):
            parts.insert(0, f"after {washes[stage]} washes")
        arrow = "->" if stage == progress.next_stage else "  "
        yield from textwrap.wrap(
            ", ".join(parts),
            columns,
            initial_indent=f"{arrow} {stage or 'products':<{room}}  ",
            subsequent_indent=" " * (room + 5),
        )
    if washes:
        counts = sorted(set(progress.washes.values())) or [0]
        many = f"{counts[0]}" if len(counts) == 1 else f"{counts[0]} to {counts[-1]}"
        yield f"   {'washes':<{room}}  {many} counted so far"


def _applications(store: StoreReader, plan: Plan, columns: int) -> Iterator[str]:
    """How many zones have their product on, and what was taken back of it."""
    from acquire.store.worked import Worked  # noqa: PLC0415 - slow
    from acquire.trial.applications import latest_coats  # noqa: PLC0415

    worked = Worked(store.rows)
    every, back = worked.every_application(plan.id), worked.taken_back(plan.id)
    if not every:
        return
    treated = [z.id for z in plan.zones if not plan.treatment_of(z.id).is_control]
    on = latest_coats(worked.applications(plan.id))
    yield f"   applied: {sum(z in on for z in treated)} of {len(treated)} zones"
    zones = {row.id: row.zone for row in every}
    for void in back:
        yield from textwrap.wrap(
            f"taken back: the application of {zones[void.application_id]} ({void.reason})",
            columns,
            initial_indent="   ",
            subsequent_indent=" " * 6,
        )


def _part(taken: Taken) -> str:
    away = f", {taken.given_up} given up" if taken.given_up else ""
    return f"{taken.what} {taken.done} of {taken.wanted}{' rated' if taken.is_scale else ''}{away}"


def _next(store: StoreReader, plan: Plan, bench: Bench | None) -> Iterator[str]:
    """What coatbench next says of this trial."""
    from acquire.cli.next import due_lines, dues_of  # noqa: PLC0415 - slow
    from acquire.cli.works import Works  # noqa: PLC0415 - slow
    from acquire.clock import SystemClock  # noqa: PLC0415
    from acquire.store.worked import Worked  # noqa: PLC0415
    from acquire.trial.stored import stored_plan  # noqa: PLC0415

    if Worked(store.rows).is_closed(plan.id):
        yield f"next: coatbench report {plan.id}"
        return
    # The plan as it is kept: what is to be typed has its ids.
    kept = stored_plan(store.rows, plan.id)
    for due in dues_of(Works(store, bench), kept, SystemClock().now().utc_ns):
        (line,) = due_lines([replace(due, trial="")])
        yield f"due: {line}"
