"""Whether what a trial's results rest on is what was recorded: its rows held against their seals.

Reads the store; writes nothing. The thread of the reader.
"""

from __future__ import annotations

from pathlib import Path

from acquire.store.reader import StoreReader
from acquire.store.verify import Misfit, misfit_since

# The first sitting of the trial's runs, and the first check that covers one of its readings, be it
# of an earlier sitting: whatever is told of a trial was recorded from there on.
_FIRST = """
SELECT (SELECT min(id) FROM trial WHERE trial = ?1) AS trial,
    (SELECT min(run.sitting_id) FROM run JOIN trial AS t ON t.id = run.trial_id
     WHERE t.trial = ?1) AS sitting,
    (SELECT min(q.check_id) FROM reading AS q JOIN run ON run.id = q.run_id
     JOIN trial AS t ON t.id = run.trial_id WHERE t.trial = ?1) AS check_begin,
    (SELECT min(a.reading_id) FROM assignment AS a JOIN run ON run.id = a.run_id
     JOIN trial AS t ON t.id = run.trial_id WHERE t.trial = ?1) AS reading"""


def misfit_of(reader: StoreReader, trial: str | None, *, with_studies: bool = False) -> str:
    """What does not fit its seals of all that a trial rests on, in a sentence; empty if all does.

    Of the whole store for None. `with_studies`: figures of studies are used, too, and these may be
    older. Opens no snapshot of its own. Raises `StoreError`.
    """
    first: dict[str, int] = {}
    if trial is not None:
        (row,) = reader.rows(_FIRST, (trial,))
        first = {name: row[name] for name in row.keys() if row[name] is not None}  # noqa: SIM118
        if with_studies:
            oldest = reader.one("SELECT min(id) FROM trial WHERE instr(text, '[study]') > 0")
            first["trial"] = min(first.get("trial", oldest), oldest) if oldest else first["trial"]
    found = misfit_since(reader, first)
    return "" if found is None else words(found)


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
