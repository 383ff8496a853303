"""Whether what a trial's results rest on is what was recorded: its rows held against their seals.

Reads the store; writes nothing. The thread of the reader.
"""

from __future__ import annotations

from pathlib import Path

from acquire.store.misfit import Misfit
from acquire.store.reader import StoreReader
from acquire.store.verify import Span, misfit_since, misfit_within

_MINE = "SELECT r.id FROM run AS r JOIN trial AS t ON t.id = r.trial_id WHERE t.trial = ?1"
_SITTINGS = f"SELECT sitting_id FROM run WHERE id IN ({_MINE})"  # noqa: S608 - our own names

# The first sitting of the trial's runs, and the first check that covers one of its readings, be it
# of an earlier sitting: whatever is told of a trial was recorded from there on.
_FIRST = f"""
SELECT (SELECT min(id) FROM trial WHERE trial = ?1) AS trial,
    (SELECT min(sitting_id) FROM run WHERE id IN ({_MINE})) AS sitting,
    (SELECT min(check_id) FROM reading WHERE run_id IN ({_MINE})) AS check_begin,
    (SELECT min(reading_id) FROM assignment WHERE run_id IN ({_MINE})) AS reading"""  # noqa: S608

# The last of what comes in bulk: readings of its runs, those that were assigned or are loose in its
# sittings, and those of the checks that closed its passes.
_LAST = f"""
SELECT (SELECT max(id) FROM run_end WHERE run_id IN ({_MINE})) AS run_end,
    (SELECT max(id) FROM sitting_end WHERE sitting_id IN ({_SITTINGS})) AS sitting_end,
    max((SELECT coalesce(max(id), 0) FROM reading WHERE run_id IN ({_MINE})),
        (SELECT coalesce(max(reading_id), 0) FROM assignment WHERE run_id IN ({_MINE})),
        (SELECT coalesce(max(id), 0) FROM reading WHERE role = 'loose'
         AND sitting_id IN ({_SITTINGS}))) AS reading,
    (SELECT j.id FROM check_judgement AS j WHERE j.check_id = (
        SELECT max(closing_check_id) FROM readings WHERE reading_id IN (
            SELECT max(id) FROM reading WHERE run_id IN ({_MINE}) GROUP BY check_id)))
        AS check_judgement"""  # noqa: S608

_OPEN = f"""
SELECT 1 FROM run WHERE id IN ({_MINE}) AND id NOT IN (SELECT run_id FROM run_end) LIMIT 1"""  # noqa: S608
_STUDIES = "SELECT DISTINCT trial FROM trial WHERE instr(text, '[study]') > 0"


def misfit_of(reader: StoreReader, trial: str | None, *, with_studies: bool = False) -> str:
    """What does not fit its seals of all that a trial rests on, in a sentence; empty if all does.

    Of the whole store for None. `with_studies`: figures of studies are used, too, and these may be
    older. Opens no snapshot of its own. Raises `StoreError`.
    """
    if trial is None:
        found = misfit_since(reader, {})
    else:
        names = {trial}
        if with_studies:
            names |= {row[0] for row in reader.rows(_STUDIES)}
        found = misfit_within(reader, [_span(reader, name) for name in sorted(names)])
    return "" if found is None else words(found)


def _span(reader: StoreReader, trial: str) -> Span:
    """Where the readings of a trial and of its checks lie; open while it has an open run."""
    first, last = (_ids(reader, sql, trial) for sql in (_FIRST, _LAST))
    return Span(first, None if reader.rows(_OPEN, (trial,)) else last)


def _ids(reader: StoreReader, sql: str, trial: str) -> dict[str, int]:
    (row,) = reader.rows(sql, (trial,))
    return {name: row[name] for name in row.keys() if row[name] is not None}  # noqa: SIM118


def words(found: Misfit) -> str:
    """A misfit as every page and file says it."""
    return (
        f"THE STORE WAS CHANGED AFTER IT WAS RECORDED: {found}. Figures that rest on it may not be "
        "what was measured. Next: coatbench store verify; go on with a copy from before"
    )


def misfit_in(store: Path, trial: str | None) -> str:
    """The same of a file, at one moment of it."""
    with StoreReader(store) as reader, reader.snapshot():
        return misfit_of(reader, trial, with_studies=True)
