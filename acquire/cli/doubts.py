"""What speaks against a stage now, or against an entry, told and asked before. Main thread."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.spoken import say
from acquire.errors import CoatbenchError, Refused

if TYPE_CHECKING:
    from acquire.model import Plan
    from acquire.store.worked import Query
    from acquire.trial.readiness import AtHand
    from acquire.trial.work import Work

_DUE = "coatbench next says what is due"


def tell_doubts(store: Path, plan: Plan, stage: str, *, asks: bool) -> None:
    """Tell of what does not fit the stage, and ask where somebody is there to answer.

    Raises `Refused` where the answer is no. It is no matter of the gate: a yes is enough.
    """
    found, known = _doubts(store, plan, stage)
    say(f"NOTE: {text}" for text in (*known, *found))
    # The screen covers what was told before it; whoever reads lines has it above them.
    if (
        found
        and asks
        and sys.stdin.isatty()
        and not click.confirm("Take the readings all the same?")
    ):
        raise _not_now(f"no run of {plan.id} is begun at {stage}")


def settle(found: Sequence[str], what: str, *, yes: bool, ahead: str = _DUE) -> None:
    """Tell of what is out of order with an entry and ask once whether it is to be recorded.

    `what` says in the fault that it was not, and `ahead` what is next then. `yes` is the answer
    beforehand. Raises `Refused` where the answer is no, and where nobody is there to give one.
    """
    say(f"NOTE: {text}" for text in found)
    if not found or yes:
        return
    if not sys.stdin.isatty():
        raise Refused(
            what,
            reason="out of order",
            got="an entry that wants a yes, and nobody to ask",
            wanted="a yes, since this may be a slip",
            next_step="look at it again; if it is as meant, the same command with --yes",
        )
    if not click.confirm("Record it all the same?"):
        raise _not_now(what, ahead)


def work_doubts(
    bench: Path | None, trial: str, doubts: Callable[[Work], Sequence[str]]
) -> Sequence[str]:
    """The doubts about the work on a trial as the store has it.

    None where the trial is not kept or closed or the store cannot be read: whoever records is told
    of that.
    """
    from acquire.cli.reach import store_of  # noqa: PLC0415
    from acquire.cli.works import Works  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415
    from acquire.store.worked import Worked  # noqa: PLC0415
    from acquire.trial.stored import stored_plan  # noqa: PLC0415

    try:
        with StoreReader(store_of(bench)) as reader, reader.snapshot():
            if Worked(reader.rows).is_closed(trial):
                return ()
            return doubts(Works(reader, None).of(stored_plan(reader.rows, trial)))
    except CoatbenchError:
        return ()


def _not_now(what: str, ahead: str = _DUE) -> Refused:
    return Refused(what, reason="not now", got="no", next_step=ahead)


def at_hand_of(query: Query, plan: Plan, stage: str) -> AtHand:
    """What the store has of the work on a trial, for a stage of it."""
    from acquire.store.progress import Progress  # noqa: PLC0415 - slow
    from acquire.store.worked import Worked  # noqa: PLC0415
    from acquire.trial.readiness import AtHand  # noqa: PLC0415

    worked, progress = Worked(query), Progress(query)
    wanted = [m for m in plan.measures if stage in m.stages]
    taken = [
        (m.replicates * len(m.channels), progress.filled(plan.id, m.id, stage)) for m in wanted
    ]
    return AtHand(
        worked.washes(plan.id),
        worked.applications(plan.id),
        worked.looked_at(plan.id),
        worked.given_up(plan.id),
        [z.id for z in plan.zones if taken and all(n <= own.get(z.id, 0) for n, own in taken)],
    )


def _doubts(store: Path, plan: Plan, stage: str) -> tuple[list[str], list[str]]:
    """What is to be asked about, and what was settled already."""
    from acquire.clock import SystemClock  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415
    from acquire.trial.readiness import doubts, given_up_words  # noqa: PLC0415

    try:
        with StoreReader(store) as reader:
            at_hand = at_hand_of(reader.rows, plan, stage)
    except CoatbenchError:
        return [], []  # whoever begins the run is told of what is wrong with the store
    asked = doubts(plan, stage, at_hand, SystemClock().now().utc_ns)
    return asked, given_up_words(stage, at_hand.given_up)
