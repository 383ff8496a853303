"""Plans out of a store. The thread of whoever owns the query."""

from __future__ import annotations

from collections.abc import Sequence

from acquire.errors import NotFound
from acquire.model import Plan
from acquire.schema import unlike_id
from acquire.settings import parse_plan
from acquire.store.worked import Query


def stored_plan(query: Query, trial: str) -> Plan:
    """The latest plan of a trial. Raises `NotFound` with those there are."""
    # What could be no id is the name of nothing, and may be no text that SQLite would take.
    rows = not unlike_id(trial) and query(
        "SELECT text FROM trial WHERE trial = ? ORDER BY id DESC LIMIT 1", (trial,)
    )
    if not rows:
        known = [r["trial"] for r in query("SELECT DISTINCT trial FROM trial ORDER BY id", ())]
        raise NotFound(
            f"no trial {trial!r} is kept here",
            got=repr(trial),
            wanted=", ".join(known) or "a trial; none is kept yet",
            next_step=_next_step(trial, known),
        )
    return parse_plan(rows[0]["text"], f"trial {trial} as stored")


def _next_step(trial: str, known: Sequence[str]) -> str:
    if trial.endswith(".toml"):
        return "name the trial by the id that stands in the file; its first run keeps it here"
    return "name one of these" if known else "plan one: coatbench trial new"
