"""Which instrument of the bench takes a measure, where only one can. Main thread."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from acquire.model import Bench, Measure, Plan


def fitting(bench: Bench | None, measure: Measure) -> list[str]:
    """The instruments whose check policy covers a channel of a measure."""
    return [
        i.id
        for i in (bench.instruments if bench is not None else ())
        if i.kind is measure.quantity and set(i.policy.channels) & set(measure.channels)
    ]


def chosen_meter(
    bench: Bench, plan: Plan, stage: str, measure: str | None
) -> tuple[str, Sequence[str]]:
    """The instrument that a run is begun with where none was named, and what is said of it.

    Raises UsageError where several may be meant, with what to say. What fits nothing is left to
    the daemon to refuse, which says why.
    """
    if len(bench.instruments) == 1:
        return bench.instruments[0].id, ()
    wanted = [m for m in plan.measures if m.id == measure or (not measure and stage in m.stages)]
    if len(wanted) > 1:
        raise click.UsageError(
            f"several things are measured at {stage}: say which, with --measure: "
            + ", ".join(m.id for m in wanted)
        )
    found = fitting(bench, wanted[0]) if wanted else []
    if len(found) == 1:
        return found[0], [f"with {found[0]}, the one instrument here that measures {wanted[0].id}"]
    names = ", ".join(found or [i.id for i in bench.instruments])
    raise click.UsageError(f"say which instrument measures, with --with: {names}")
