"""`coatbench trial show`."""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE
from acquire.cli.listing import Cells, show_table
from acquire.cli.reach import bench_option, store_of
from acquire.cli.spoken import say

if TYPE_CHECKING:
    from acquire.model import Plan
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
        say(_shown(store, trial, max(LEAST_COLUMNS, columns), whole=whole))
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


def _shown(store: StoreReader, trial: str, columns: int, *, whole: bool) -> Iterator[str]:
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
        yield from _treatments(plan, columns)
        yield ""
        yield from _taken(plan, progress, columns)
        yield from _next(store, plan, progress)


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
    from acquire.cli.trial.drawing import drawn  # noqa: PLC0415 - slow
    from acquire.trial.places import on_panels  # noqa: PLC0415

    stage = progress.next_stage or plan.stages[-1]
    short = {t.id: _short(plan, t.id) for t in plan.treatments}
    on = {zone.id: short[zone.treatment] for zone in plan.zones}
    wanted = progress.places.get(stage, 0)

    def state(zone: str) -> str:
        done = progress.by_zone.get((zone, stage), 0)
        return f"{stage} {'done' if done >= wanted else f'{done}/{wanted}'}"

    def lines(zone: str) -> list[str]:
        found = [zone, on[zone], state(zone)]
        if plan.washes:
            count = progress.washes.get(zone, 0)
            found.append(f"{count} wash{'' if count == 1 else 'es'}")
        return found

    def brief(zone: str) -> list[str]:
        done = progress.by_zone.get((zone, stage), 0)
        sign = "#" if done >= wanted else "+" if done else "."
        return [f"{zone} {on[zone]} {sign}"]

    is_brief = False
    for panel in on_panels(plan):
        name = next(str(p) for p in plan.panels if p.id == panel.panel)
        yield ""
        yield f"{panel.panel}: {name}" if panel.panel else name
        yield from drawn(panel, lines, brief, columns, whole=whole)
        is_brief |= not panel.spots or panel.rows > _tallest()
    if is_brief:
        yield f"at {stage}: # all read, + partly, . not yet"


def _tallest() -> int:
    from acquire.cli.trial.drawing import TALLEST  # noqa: PLC0415 - slow

    return TALLEST


def _short(plan: Plan, treatment: str) -> str:
    """What stands in a cell: the code of a blind trial, else the name; the control by its word."""
    found = next(t for t in plan.treatments if t.id == treatment)
    if found.is_control:
        return "control"
    return found.id if plan.is_blind else found.name


def _treatments(plan: Plan, columns: int) -> Iterator[str]:
    """Where names are not in the cells, or not all of each: which is which."""
    from acquire.cli.trial.drawing import LEAST_CELL, cut  # noqa: PLC0415 - slow

    yield ""
    for treatment in plan.treatments:
        mine = [z.id for z in plan.zones if z.treatment == treatment.id]
        where = f"{len(mine)} zone{'' if len(mine) == 1 else 's'}"
        label = f"{'control' if treatment.is_control else '':<{LEAST_CELL}}  {where:<9}"
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


def _part(taken: Taken) -> str:
    return f"{taken.what} {taken.done} of {taken.wanted}{' rated' if taken.is_scale else ''}"


def _next(store: StoreReader, plan: Plan, progress: Progress) -> Iterator[str]:
    from acquire.clock import SystemClock  # noqa: PLC0415 - slow
    from acquire.store.worked import Worked  # noqa: PLC0415
    from acquire.trial.readiness import doubts  # noqa: PLC0415

    stage = progress.next_stage
    worked = Worked(store.rows)
    if worked.is_closed(plan.id):
        yield f"next: coatbench report {plan.id}"
        return
    if stage is None:
        seals = " (unseal it first: coatbench trial unseal)" if plan.is_blind and not any(
            o.how == "unsealed" for o in worked.key_openings(plan.key_digest)
        ) else ""  # fmt: skip
        yield f"every place is filled. next: coatbench report {plan.id}{seals}"
        return
    if stage != plan.stages[0] and not worked.applications(plan.id):
        yield f"next: coatbench apply {plan.id}, when the products are on"
    now_utc_ns = SystemClock().now().utc_ns
    for doubt in doubts(plan, stage, worked.washes(plan.id), worked.applications(plan.id),
                        now_utc_ns):  # fmt: skip
        yield f"wait: {doubt}"
    measures = [t.what for t in progress.open_at(stage) if not t.is_scale]
    for measure in measures:
        yield f"next: coatbench run FILE {stage} --measure {measure} --with INSTRUMENT"
    if any(t.is_scale for t in progress.open_at(stage)):
        yield f"next: coatbench rate {plan.id} {stage} --by NAME"
