"""Rows of what a trial has beside readings: what a person says, with who and when."""

from __future__ import annotations

from typing import NamedTuple


class TrialKeyRow(NamedTuple):
    """Which product each code of a blind trial is, packed so that nobody reads it in passing.

    `digest` is the SHA-256 of the key's text, which the trial file has, too; so the key was
    settled when the plan was. `acquire.trial.key` packs and unpacks it.
    """

    id: int
    at_utc_ns: int
    trial: str
    digest: str
    sealed: bytes


class KeyOpeningRow(NamedTuple):
    """A key was shown to one person (who applies the products), or unsealed for everybody."""

    id: int
    at_utc_ns: int
    key_id: int
    how: str
    who: str
    why: str


class TrialClosingRow(NamedTuple):
    """A trial was closed: nothing of it is due any more. Or opened again (`is_closed` 0)."""

    id: int
    at_utc_ns: int
    trial: str
    is_closed: int
    why: str


class GivingUpRow(NamedTuple):
    """A stage is wanted no more of zones, or is again (`is_given_up` 0), with the reason.

    `zones` are ids with commas between. What was read there stays and counts as it does.
    """

    id: int
    at_utc_ns: int
    trial: str
    stage: str
    zones: str
    is_given_up: int
    why: str


class ApplicationRow(NamedTuple):
    """A product was put on a zone at `applied_utc_ns`; a later row of the zone is a new coat."""

    id: int
    at_utc_ns: int
    sitting_id: int | None
    trial: str
    zone: str
    applied_utc_ns: int
    amount: str
    haze_minutes: str | None
    text: str


class ApplicationVoidRow(NamedTuple):
    """An application that was written down wrongly is taken back, with the reason; it stays."""

    id: int
    at_utc_ns: int
    trial: str
    application_id: int
    reason: str


class WashRow(NamedTuple):
    """Zones were washed so many times more; less than none corrects a count, with the reason.

    `zones` are ids with commas between, those of the plan of then. `counted_by` is typed, key, or
    the instrument whose reading `reading_id` counted it.
    """

    id: int
    at_utc_ns: int
    sitting_id: int | None
    trial: str
    zones: str
    washes: int
    counted_by: str
    reading_id: int | None
    reason: str


class RatingRow(NamedTuple):
    """A person's judgement on a scale; a later one of the same thing takes its place, with reason.

    `zone` and `stage` are empty where a product is rated, `treatment` is always there. `is_blind`
    is 1 where the rater had not been told which product a code is.
    """

    id: int
    at_utc_ns: int
    sitting_id: int | None
    trial: str
    stage: str
    scale: str
    zone: str
    treatment: str
    rater: str
    step: int
    is_blind: int
    reason: str


class PhotoRow(NamedTuple):
    """A picture by path and hash; the file stays where it is."""

    id: int
    at_utc_ns: int
    sitting_id: int | None
    trial: str
    stage: str
    zone: str
    path: str
    sha256: str
    size_bytes: int
    text: str

    @property
    def picture(self) -> tuple[str, ...]:
        """What is one picture wherever it lies: one that was moved is recorded there again."""
        return (self.sha256, self.stage, self.zone, self.text)


class ScorecardRow(NamedTuple):
    """A version of a scorecard as it was first used: the file as written."""

    id: int
    at_utc_ns: int
    scorecard: str
    version: int
    text: str
    digest: str


class ScoreRow(NamedTuple):
    """The points of a trial by a scorecard. `rests_on` says what was in the store for it."""

    id: int
    at_utc_ns: int
    trial: str
    scorecard_id: int
    edition: str
    rests_on: str
    points_json: str


class PastImportRow(NamedTuple):
    """A file of past results, as it came, with the mapping by which it was read."""

    id: int
    at_utc_ns: int
    name: str
    sha256: str
    mapping: str
    bytes: bytes


class PastResultRow(NamedTuple):
    """One figure of a past trial, imported and unchecked; `line` is that of the file."""

    id: int
    import_id: int
    line: int
    trial: str
    treatment: str
    figure: str
    quantity: str
    channel: str
    stage: str
    value: str
    unit: str
    expanded_uncertainty: str | None
    conditions_json: str


WorkRow = (
    TrialKeyRow
    | KeyOpeningRow
    | TrialClosingRow
    | GivingUpRow
    | ApplicationRow
    | ApplicationVoidRow
    | WashRow
    | RatingRow
    | PhotoRow
    | ScorecardRow
    | ScoreRow
    | PastImportRow
    | PastResultRow
)

WORK_TABLES: dict[type[WorkRow], str] = {
    TrialKeyRow: "trial_key",
    KeyOpeningRow: "key_opening",
    TrialClosingRow: "trial_closing",
    GivingUpRow: "giving_up",
    ApplicationRow: "application",
    ApplicationVoidRow: "application_void",
    WashRow: "wash",
    RatingRow: "rating",
    PhotoRow: "photo",
    ScorecardRow: "scorecard",
    ScoreRow: "score",
    PastImportRow: "past_import",
    PastResultRow: "past_result",
}
