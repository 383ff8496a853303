"""How far trials are: what is taken, what is open, when something was done last.

Every query goes by an index to one trial, or over a row a trial: a store of years answers as soon
as a new one. Reads; the thread of whoever asks, with a query of its own.
"""

from __future__ import annotations

from collections import Counter
from typing import NamedTuple

from acquire.store.placed import FILLED, PROGRESS
from acquire.store.worked import Query


class Taken(NamedTuple):
    """Places of a measure at a stage that are taken with one instrument, as their checks stand.

    `state` is that of the bracket: open, bracketed, not closed, suspect or unchecked.
    """

    measure: str
    stage: str
    instrument: str
    state: str
    places: int


class LeftOpen(NamedTuple):
    """A run without an end."""

    run_id: int
    begun_utc_ns: int
    trial: str
    measure: str
    stage: str
    instrument: str


class Known(NamedTuple):
    """A trial with its latest plan, and when something was done for it last."""

    trial: str
    text: str
    is_closed: bool
    last_utc_ns: int


_LAST_OF = """coalesce((SELECT at_utc_ns FROM {table} AS w WHERE w.trial = p.trial
    ORDER BY w.id DESC LIMIT 1), 0)"""
_WORK = ", ".join(
    _LAST_OF.format(table=t)
    for t in ("application", "application_void", "wash", "rating", "trial_closing", "giving_up")
)
_TRIALS = f"""
WITH p AS MATERIALIZED (SELECT trial, max(id) AS id FROM trial GROUP BY trial)
SELECT p.trial, t.text,
    coalesce((SELECT is_closed FROM trial_closing AS c WHERE c.trial = p.trial
        ORDER BY c.id DESC LIMIT 1), 0) AS is_closed,
    max(t.at_utc_ns,
        coalesce((SELECT max(r.at_utc_ns) FROM trial AS v JOIN run AS r ON r.trial_id = v.id
            WHERE v.trial = p.trial), 0),
        {_WORK}
    ) AS last_utc_ns
FROM p JOIN trial AS t ON t.id = p.id ORDER BY p.id"""  # noqa: S608 - our own texts alone
_LEFT_OPEN = """
SELECT r.id, r.at_utc_ns, t.trial, r.measure, r.stage, r.instrument
FROM run AS r JOIN trial AS t ON t.id = r.trial_id
WHERE NOT EXISTS (SELECT 1 FROM run_end AS e WHERE e.run_id = r.id) ORDER BY r.id"""

_FAILED_LAST = """
SELECT c.instrument FROM (
    SELECT max(b.id) AS id FROM check_begin AS b
    JOIN check_judgement AS j ON j.check_id = b.id GROUP BY b.instrument
) AS l JOIN check_begin AS c ON c.id = l.id JOIN check_judgement AS j ON j.check_id = c.id
WHERE j.outcome = 'fail'"""


class Progress:
    """Look-ups of how far trials are."""

    def __init__(self, query: Query) -> None:
        self._query = query

    def trials(self) -> list[Known]:
        """Every trial, in the order in which their plans came last."""
        rows = self._query(_TRIALS, ())
        return [Known(r["trial"], r["text"], bool(r["is_closed"]), r["last_utc_ns"]) for r in rows]

    def taken(self, trial: str) -> list[Taken]:
        """What is taken of one trial."""
        return [Taken(*row) for row in self._query(PROGRESS, (trial,))]

    def filled(self, trial: str, measure: str, stage: str) -> dict[str, int]:
        """How many places of each zone a reading holds that counts, of a measure at a stage."""
        held = {
            (row["zone"], row["replicate"], row["channel"])
            for row in self._query(FILLED, (trial, measure, stage))
        }
        return dict(Counter(zone for zone, _, _ in held))

    def failed_last(self) -> frozenset[str]:
        """The instruments whose latest judged check failed."""
        rows = self._query(_FAILED_LAST, ())
        return frozenset(str(row["instrument"]) for row in rows)

    def left_open(self) -> list[LeftOpen]:
        """Runs without an end, the oldest first."""
        return [LeftOpen(*row) for row in self._query(_LEFT_OPEN, ())]
