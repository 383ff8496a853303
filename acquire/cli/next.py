"""`coatbench next`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE
from acquire.cli.reach import bench_option, load, store_of
from acquire.cli.spoken import say
from acquire.errors import CoatbenchError, NotFound

if TYPE_CHECKING:
    from acquire.cli.works import Works
    from acquire.model import Bench, Plan
    from acquire.store.reader import StoreReader
    from acquire.trial.urgency import Due

RESTS_AFTER_DAYS = 60
_DAY_NS = 86_400 * 1_000_000_000


@click.command("next")
@click.argument("trial", required=False)
@click.option("--all", "everything", is_flag=True, help="Trials that rest, too.")
@click.option("--json", "as_json", is_flag=True, help="As JSON, for a program.")
@bench_option
def next_due(trial: str | None, everything: bool, as_json: bool, bench: Path | None) -> int:
    """Say what is due today for all open trials, or for TRIAL, each with the command to type.

    Runs that were left open, readings to be taken again, closing checks, checkpoints, cure times
    that are over, ratings that are missing, washes to go, certificates that end; the most urgent
    first. Needs no daemon. A trial for which nothing was done in 60 days rests, and is named in one
    line; coatbench trial close ends it.

    \b
    Example:  coatbench next
              coatbench next gelcoat-1
    Next:     the command that stands behind what is due
    """
    found, resting = _found(bench, trial, everything=everything or trial is not None)
    if as_json:
        rows = [
            {"trial": d.trial, "urgency": d.urgency.name.lower(), "what": d.what,
             "command": d.command}
            for d in found
        ]  # fmt: skip
        click.echo(json.dumps({"due": rows, "resting": resting}, ensure_ascii=True, indent=2))
        return DONE
    say(due_lines(found))
    if resting:
        say([f"{', '.join(resting)}: nothing done in {RESTS_AFTER_DAYS} days. Next: coatbench "
             "next --all, or coatbench trial close TRIAL"])  # fmt: skip
    return DONE


def dues(bench: Path | None) -> list[Due]:
    """What is due of all trials that are open and do not rest, the most urgent first."""
    return _found(bench, None, everything=False)[0]


def due_lines(found: list[Due]) -> list[str]:
    """A line each: whose it is, what it is, what to type."""
    if not found:
        return ["nothing is due. Next: plan a trial with coatbench trial new"]
    lines = []
    for due in found:
        whose = f"{due.trial}: " if due.trial else ""
        what = f"{whose}{due.what}"
        lines.append(f"{what}. Next: {due.command}" if due.command else what)
    return lines


def _found(
    bench: Path | None, trial: str | None, *, everything: bool
) -> tuple[list[Due], list[str]]:
    from acquire.cli.works import Works  # noqa: PLC0415
    from acquire.clock import SystemClock  # noqa: PLC0415
    from acquire.settings import parse_plan  # noqa: PLC0415
    from acquire.store.progress import Progress  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415

    now = SystemClock().now()
    try:
        own = load(bench)
    except NotFound:
        raise
    except CoatbenchError:
        own = None  # a bench file that is half-way to a change hides no trial
    found: list[Due] = []
    resting: list[str] = []
    with StoreReader(store_of(bench)) as store, store.snapshot():
        known = Progress(store.rows).trials()
        if trial is not None and trial not in {k.trial for k in known}:
            raise NotFound(
                f"no trial {trial!r} is kept here",
                got=repr(trial),
                wanted=", ".join(k.trial for k in known) or "a trial; none is kept yet",
                next_step="name one of these",
            )
        gone = _withdrawn(store)
        works = Works(store, own)
        left_open = {run.trial for run in works.left_open}
        for one in known:
            if trial not in (None, one.trial) or one.is_closed:
                continue
            rests = now.utc_ns - one.last_utc_ns > RESTS_AFTER_DAYS * _DAY_NS
            if rests and not everything and one.trial not in left_open:
                resting.append(one.trial)
                continue
            plan = parse_plan(one.text, f"trial {one.trial} as stored")
            found += dues_of(works, plan, now.utc_ns)
            found += [due for due in gone if due.trial == one.trial]
    if own is not None and trial is None:
        found += _certificates(own, now.utc_ns)
    # Of one urgency in the order in which the trials were planned.
    return sorted(found, key=lambda due: due.urgency), resting


def dues_of(works: Works, plan: Plan, now_utc_ns: int) -> list[Due]:
    """What is due of one trial that is not closed."""
    from acquire.trial.due import due_of  # noqa: PLC0415
    from acquire.trial.urgency import Urgency  # noqa: PLC0415

    found = due_of(works.of(plan), now_utc_ns)
    if plan.study is not None:  # coatbench study leads through its own
        return [due for due in found if due.urgency is Urgency.RUN_OPEN]
    return found


def strokes_of(works: Works, plan: Plan, now_utc_ns: int) -> list[Due]:
    """Strokes that no wash was counted for and that may have been washes of a trial."""
    from acquire.trial.uncounted import strokes_due  # noqa: PLC0415

    work = works.of(plan)
    return list(strokes_due(plan, work.washes, work.applications, work.strokes, now_utc_ns))


def _withdrawn(store: StoreReader) -> list[Due]:
    """Readings that are suspect since a certificate was withdrawn, and not taken again."""
    from acquire.report.record.withdrawn import Withdrawals  # noqa: PLC0415 - slow
    from acquire.trial.urgency import Due, Urgency  # noqa: PLC0415

    return [
        Due(Urgency.SUSPECT, one.trial, one.what, f"coatbench report {one.trial}")
        for one in Withdrawals(store).suspected()
    ]


def _certificates(bench: Bench, now_utc_ns: int) -> list[Due]:
    from acquire.calibration.due import DueState, to_renew  # noqa: PLC0415
    from acquire.model import from_utc_ns  # noqa: PLC0415
    from acquire.trial.urgency import Due, Urgency  # noqa: PLC0415

    today = from_utc_ns(now_utc_ns).date()
    used = [c for piece in bench.pieces for c in piece.on(today).current]
    return [
        Due(
            Urgency.OVERDUE if due.state is DueState.OVERDUE else Urgency.SOON,
            "",
            due.words,
            "coatbench pieces",
        )
        for due in to_renew(used, today, bench.due_soon_days)
    ]
