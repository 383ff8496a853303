"""One frozen row type per table of the store: what the single writer appends.

The fields of a row are the columns of its table, in order. Instants are nanoseconds; decimals
are text, exactly as normalised, and have a REAL copy where queries need one.
"""

from __future__ import annotations

from typing import NamedTuple

from acquire.store.array_rows import SpectrumRow, TraceBlockRow, TraceRow
from acquire.store.check_rows import (
    CheckBeginRow,
    CheckJudgementRow,
    ClimateRow,
    LinearityRow,
    PassEndRow,
    PieceJudgementRow,
    ReassessedLineRow,
    ReassessedPieceRow,
    ReassessmentRow,
)
from acquire.store.move_rows import MoveRow
from acquire.store.register_rows import CertificateFileRow, CertificateRow, PieceRow
from acquire.store.work_rows import WORK_TABLES, WorkRow


class InstrumentRow(NamedTuple):
    """An instrument as configured; a new row whenever its configuration changed."""

    id: int
    at_utc_ns: int
    instrument: str
    kind: str
    serial: str
    driver: str
    profile: str
    profile_text: str
    address: str


class ConnectionRow(NamedTuple):
    """A link opened to an instrument, on both clocks: its tape can be replayed from there.

    `after_tape` is the last row of the tape before it, here and at its end; None in rows from
    before it was kept.
    """

    id: int
    at_utc_ns: int
    at_mono_ns: int
    instrument: str
    opened_as: str
    adapter: str
    after_tape: int | None = None


class DisconnectionRow(NamedTuple):
    """The end of a connection and why."""

    id: int
    at_utc_ns: int
    connection_id: int
    message: str
    after_tape: int | None = None


class TapeRow(NamedTuple):
    """Raw bytes of a connection as they passed: the evidence. `direction` is received or sent."""

    id: int
    connection_id: int
    direction: str
    start: int
    at_utc_ns: int
    at_mono_ns: int
    bytes: bytes


class SittingRow(NamedTuple):
    """A stretch of work at the bench began."""

    id: int
    at_utc_ns: int
    bench: str


class SittingEndRow(NamedTuple):
    """It ended, and how."""

    id: int
    at_utc_ns: int
    sitting_id: int
    how: str


class TrialRow(NamedTuple):
    """A trial's plan as first used or as changed since: the file as written and its digest."""

    id: int
    at_utc_ns: int
    trial: str
    title: str
    unchecked: int
    text: str
    digest: str


class TrialZoneRow(NamedTuple):
    """What a version of a plan has on one zone."""

    id: int
    trial_id: int
    zone: str
    treatment: str
    treatment_name: str
    is_control: int


class RunRow(NamedTuple):
    """A measurement pass began: one measure at one stage with one instrument."""

    id: int
    at_utc_ns: int
    trial_id: int
    measure: str
    stage: str
    instrument: str
    serial: str
    sitting_id: int


class RunEndRow(NamedTuple):
    """A run was finished by a person; `open_slots` says how many places stayed empty."""

    id: int
    at_utc_ns: int
    run_id: int
    open_slots: int
    why: str


class ReadingRow(NamedTuple):
    """One value as sent, normalised, stamped and tagged.

    `role` is run (it fills a target), check (it reads a piece) or loose (it counts for nothing
    until a person assigns it; `loose_reason` says why).
    """

    id: int
    connection_id: int
    instrument: str
    serial: str
    at_utc_ns: int
    at_mono_ns: int
    quantity: str
    channel: str
    text: str
    sent_unit: str
    value: str | None
    value_real: float | None
    unit: str
    press: int | None
    flags: str
    raw: bytes
    raw_start: int
    raw_end: int
    role: str
    sitting_id: int | None
    run_id: int | None
    zone: str | None
    stage: str | None
    replicate: int | None
    check_id: int | None
    unchecked: int
    piece: str | None
    loose_reason: str | None


class NoiseRow(NamedTuple):
    """Bytes that were no reading, with the reason."""

    id: int
    connection_id: int
    at_utc_ns: int
    raw: bytes
    raw_start: int
    raw_end: int
    reason: str


class NoticeRow(NamedTuple):
    """Something the device told of itself."""

    id: int
    connection_id: int
    instrument: str
    at_utc_ns: int
    kind: str
    text: str
    raw: bytes
    raw_start: int
    raw_end: int
    serial: str = ""
    after_reading: int = 0


class GapRow(NamedTuple):
    """Bytes that arrived and could not be recorded."""

    id: int
    instrument: str
    since_utc_ns: int
    until_utc_ns: int
    lost_bytes: int


class IncidentRow(NamedTuple):
    """One trouble in words, with the next step."""

    id: int
    at_utc_ns: int
    instrument: str
    kind: str
    message: str


class VoidRow(NamedTuple):
    """A reading taken out of the results, with the reason. The reading stays."""

    id: int
    at_utc_ns: int
    reading_id: int
    reason: str


class AssignmentRow(NamedTuple):
    """A loose reading given its place by a person, under the pass that covered its moment."""

    id: int
    at_utc_ns: int
    reading_id: int
    run_id: int
    zone: str
    stage: str
    replicate: int
    check_id: int | None
    unchecked: int
    reason: str


class NoteRow(NamedTuple):
    """A remark of the person at the bench; `trial` and `stage` may be empty."""

    id: int
    at_utc_ns: int
    sitting_id: int | None
    trial: str
    stage: str
    text: str


Row = (
    InstrumentRow
    | CertificateRow
    | ConnectionRow
    | DisconnectionRow
    | TapeRow
    | SittingRow
    | SittingEndRow
    | TrialRow
    | TrialZoneRow
    | RunRow
    | RunEndRow
    | CheckBeginRow
    | CheckJudgementRow
    | PieceJudgementRow
    | PassEndRow
    | ReadingRow
    | NoiseRow
    | NoticeRow
    | GapRow
    | IncidentRow
    | VoidRow
    | AssignmentRow
    | NoteRow
    | SpectrumRow
    | TraceRow
    | TraceBlockRow
    | MoveRow
    | LinearityRow
    | ReassessmentRow
    | ReassessedPieceRow
    | ReassessedLineRow
    | ClimateRow
    | PieceRow
    | CertificateFileRow
    | WorkRow
)

TABLES: dict[type[Row], str] = {
    InstrumentRow: "instrument",
    CertificateRow: "certificate",
    ConnectionRow: "connection",
    TapeRow: "tape",
    SittingRow: "sitting",
    TrialRow: "trial",
    TrialZoneRow: "trial_zone",
    RunRow: "run",
    CheckBeginRow: "check_begin",
    CheckJudgementRow: "check_judgement",
    PieceJudgementRow: "piece_judgement",
    LinearityRow: "linearity_judgement",
    ReassessmentRow: "reassessment",
    ReassessedPieceRow: "reassessed_piece",
    ReassessedLineRow: "reassessed_line",
    PassEndRow: "pass_end",
    ReadingRow: "reading",
    NoiseRow: "noise",
    NoticeRow: "notice",
    VoidRow: "void",
    AssignmentRow: "assignment",
    RunEndRow: "run_end",
    SittingEndRow: "sitting_end",
    DisconnectionRow: "disconnection",
    GapRow: "gap",
    IncidentRow: "incident",
    NoteRow: "note",
    SpectrumRow: "spectrum",
    TraceRow: "trace",
    TraceBlockRow: "trace_block",
    MoveRow: "move",
    ClimateRow: "climate",
    PieceRow: "piece",
    CertificateFileRow: "certificate_file",
    **{kind: table for kind, table in WORK_TABLES.items()},
}
