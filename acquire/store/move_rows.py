"""The row type of moves among the places of a run."""

from __future__ import annotations

from typing import NamedTuple


class MoveRow(NamedTuple):
    """Something other than a reading moved the cursor of a run, which now stands as it says here.

    `how` is skip, back or go to (a hand), void, assign, check (it made readings suspect) or resume.
    The places are None where all were filled. `reopened` and `skipped` are lists of places as JSON;
    after the reopened ones the run goes on at the place to resume. `after_reading` as in
    `CheckJudgementRow`; of voids and judgements, too, the last ones before are named.
    """

    id: int
    at_utc_ns: int
    run_id: int
    how: str
    left_zone: str | None
    left_replicate: int | None
    zone: str | None
    replicate: int | None
    after_reading: int
    resume_zone: str | None
    resume_replicate: int | None
    reopened: str
    skipped: str
    after_void: int
    after_judgement: int
