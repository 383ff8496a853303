"""Points of trials reckoned out of the store, with what they rest on, and which scorecard is meant.

Reads and writes nothing. The thread of the caller.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from acquire.analysis.scoring.scored import TrialScore, as_text
from acquire.errors import NotFound, Refused
from acquire.model.scorecard import Scorecard
from acquire.report.points.resting import marks, with_open
from acquire.report.points.scores import trial_score
from acquire.report.record.loading import load_trial
from acquire.report.record.record import TrialRecord
from acquire.schema import unlike_id
from acquire.settings.scorecard import load_scorecard, parse_scorecard
from acquire.store.reader import StoreReader
from acquire.store.worked import Worked
from acquire.study.found import study_plans

NOT_CLOSED = "open"
"""The bracket of a reading whose pass no check has closed yet."""


class Scored(NamedTuple):
    """The points of a trial, as facts and as they are kept, and what they rest on."""

    score: TrialScore
    points: str
    rests_on: str


def card_of(store: Path, named: str) -> Scorecard:
    """The scorecard of a file, or the highest version that the store has under this id.

    Raises `SettingsError` for a file with faults and `NotFound` where neither is there.
    """
    path = Path(named)
    if path.exists() or unlike_id(named) or path.suffix:
        return load_scorecard(path)
    with StoreReader(store) as reader:
        worked = Worked(reader.rows)
        known = worked.scorecards(named)
        if known:
            last = max(known, key=lambda row: row.version)
            return parse_scorecard(last.text, f"scorecard {named} as stored")
        ids = sorted({row.scorecard for row in worked.every_scorecard()})
    raise NotFound(
        f"there is no scorecard {named}",
        got="no such file, and no such id in the store",
        wanted=f"a file, or one of {', '.join(ids)}" if ids else "the file of a scorecard",
        next_step="coatbench rescore --scorecard FILE",
    )


def trials_of(store: Path) -> list[str]:
    """The trials of a store that are no studies, in the order in which they were begun."""
    with StoreReader(store) as reader:
        of_studies = {plan.id for plan, _ in study_plans(reader)}
        rows = reader.rows("SELECT trial FROM trial GROUP BY trial ORDER BY min(id)")
    return [row[0] for row in rows if row[0] not in of_studies]


def scored(store: Path, trial: str, card: Scorecard) -> Scored:
    """The points of one trial as the store is now.

    Raises as `load_trial`, and `Refused` for a study and where a row that the trial rests on was
    changed after it was recorded: kept points outlive the page that would say so.
    """
    # Marks first: whatever comes in between makes the points out of date, and never the reverse.
    with StoreReader(store) as reader:
        before = marks(reader).get(trial)
        record = load_trial(store, trial)
        # Whoever has a record has a plan, and each plan its marks.
        assert before is not None
        if record.misfit:
            raise Refused(
                f"{trial} earns no points",
                reason="store changed",
                got=record.misfit,
                wanted="a store as it was recorded",
                next_step="coatbench store verify says what was changed",
            )
        rests_on = with_open(reader, before, _open_serials(record))
    found = trial_score(record, card)
    return Scored(found, as_text(found), rests_on.text())


def _open_serials(record: TrialRecord) -> set[str]:
    return {r.serial for r in record.readings if r.bracket == NOT_CLOSED}
