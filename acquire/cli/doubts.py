"""What speaks against looking at a stage now, told before a run begins. Main thread."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.spoken import say
from acquire.errors import CoatbenchError, Refused

if TYPE_CHECKING:
    from acquire.model import Plan
    from acquire.store.worked import Worked
    from acquire.trial.readiness import AtHand


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
        raise Refused(
            f"no run of {plan.id} is begun at {stage}",
            reason="not now",
            got="no",
            next_step="coatbench next says what is due",
        )


def at_hand_of(worked: Worked, trial: str) -> AtHand:
    """What the store has of the work on a trial."""
    from acquire.trial.readiness import AtHand  # noqa: PLC0415

    return AtHand(
        worked.washes(trial),
        worked.applications(trial),
        worked.looked_at(trial),
        worked.given_up(trial),
    )


def _doubts(store: Path, plan: Plan, stage: str) -> tuple[list[str], list[str]]:
    """What is to be asked about, and what was settled already."""
    from acquire.clock import SystemClock  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415
    from acquire.store.worked import Worked  # noqa: PLC0415
    from acquire.trial.readiness import doubts, given_up_words  # noqa: PLC0415

    try:
        with StoreReader(store) as reader:
            at_hand = at_hand_of(Worked(reader.rows), plan.id)
    except CoatbenchError:
        return [], []  # whoever begins the run is told of what is wrong with the store
    asked = doubts(plan, stage, at_hand, SystemClock().now().utc_ns)
    return asked, given_up_words(stage, at_hand.given_up)
