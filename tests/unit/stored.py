"""A small store's worth of rows: at least one in every table, in the order in which they happen."""

from __future__ import annotations

from acquire.store import rows as r
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
from acquire.store.register_rows import CertificateFileRow, CertificateRow, PieceRow
from acquire.store.rows import Row
from acquire.store.work_rows import (
    ApplicationRow,
    ApplicationVoidRow,
    GivingUpRow,
    KeyOpeningRow,
    PastImportRow,
    PastResultRow,
    PhotoRow,
    RatingRow,
    ScorecardRow,
    ScoreRow,
    TrialClosingRow,
    TrialKeyRow,
    WashRow,
)

S = 1_000_000_000


def reading(reading_id: int, at_s: int, role: str, **tags: object) -> r.ReadingRow:
    """A reading of 82.4 GU at 20 degrees by shore; tags as in `ReadingRow`."""
    raw = b"R,0001,20,82.4,GU*50"
    base = r.ReadingRow(
        reading_id, 1, "shore", "SH-0417", at_s * S, at_s * S, "gloss", "20", "82.4", "gloss_unit",
        "82.4", 82.4, "gloss_unit", 1, "", raw, 0, len(raw), role, 1,
        None, None, None, None, None, 0, None, None,
    )  # fmt: skip
    return base._replace(**tags)


def spine_rows() -> list[Row]:
    """Check 1 passes at 20 s, a run takes a reading at 30 s, check 2 fails at 50 s."""
    return [
        r.InstrumentRow(1, 0, "shore", "gloss", "SH-0417", "line", "gloss-press", "", "port"),
        CertificateRow(
            1, 0, "T1", "gloss-tile", "gloss", "20", "93.2", "gloss_unit", "0.3", "2",
            "2026-01-31", "2027-01-31", "Harbour Metrology",
        ),
        r.ConnectionRow(1, 1 * S, 1 * S, "shore", "/dev/shore", ""),
        r.TapeRow(1, 1, "received", 0, 30 * S, 30 * S, b"R,0001,20,82.4,GU*50\r\n"),
        r.SittingRow(1, 5 * S, "boatyard"),
        r.TrialRow(1, 5 * S, "gelcoat", "Protectants on gelcoat", 0, "", ""),
        r.TrialZoneRow(1, 1, "A1", "wax", "Grebe wax", 0),
        CheckBeginRow(1, 10 * S, "shore", "SH-0417", "gloss", "20", 1, "gloss-20", "{}"),
        reading(1, 12, "check", check_id=1, piece="T1"),
        CheckJudgementRow(1, 20 * S, 1, "pass", "inside", "run", 1000 * S),
        PieceJudgementRow(
            1, 1, "T1", "20", "pass", 3, "93.2", "0.1", "93.2", "0", "0.3", "1.0", "0.5",
            "gloss_unit", 1, "inside",
        ),
        LinearityRow(
            1, 1, "T2", "20", "Z0", "T1", "pass", "0.12", "0.31", "0.5", "gloss_unit", "inside"
        ),
        ReassessmentRow(1, 21 * S, 1, "pass", "inside", "{}", 0, 1),
        ReassessedPieceRow(1, 1, 1, "T1", "20", "pass", "93.2", "0", "0.3", 1, "inside"),
        ReassessedLineRow(1, 1, 1, "T2", "20", "pass", "0.12", "0.31", "inside"),
        ClimateRow(1, 9 * S, 1, "21.4", "48", "typed"),
        r.RunRow(1, 25 * S, 1, "gloss20", "bare", "shore", "SH-0417", 1),
        reading(4, 30, "run", run_id=1, zone="A1", stage="bare", replicate=1, check_id=1),
        reading(5, 31, "loose", loose_reason="no run is open"),
        r.AssignmentRow(1, 35 * S, 5, 1, "A2", "bare", 1, 1, 0, "pressed too early"),
        r.VoidRow(1, 36 * S, 5, "meter slipped"),
        reading(6, 32, "loose", loose_reason="repeat", flags="repeat"),
        r.NoiseRow(1, 1, 33 * S, b"??", 100, 102, "no line of the profile"),
        r.NoticeRow(1, 1, "shore", 2 * S, "identity", "SH-0417", b"I,SH-0417*51", 0, 12),
        r.RunEndRow(1, 40 * S, 1, 0, "complete"),
        CheckBeginRow(2, 45 * S, "shore", "SH-0417", "gloss", "20", 1, "gloss-20", "{}"),
        CheckJudgementRow(2, 50 * S, 2, "fail", "outside", "adjust", None),
        PassEndRow(1, 50 * S, 1, "failed check", "a later check failed", 10_000),
        r.SittingEndRow(1, 60 * S, 1, "closed at the bench"),
        r.DisconnectionRow(1, 61 * S, 1, "unplugged"),
        r.GapRow(1, "shore", 62 * S, 63 * S, 12),
        r.IncidentRow(1, 61 * S, "shore", "link lost", "unplugged"),
        r.MoveRow(
            1, 26 * S, 1, "skip", "A1", 1, "A2", 1, 3, None, None, "[]", '[["A1", 1]]', 0, 1
        ),
        r.NoteRow(1, 55 * S, 1, "gelcoat", "bare", "sun on the bench"),
        SpectrumRow(
            1, 1, "shore", "SH-0417", 34 * S, 34 * S, "transmittance", "percent", "binary32",
            300.0, 5.0, None, bytes(8), None, "", 110, 118, 1,
        ),
        TraceRow(
            1, 1, "shore", "SH-0417", 34 * S, 34 * S, "force", "", "newton", "0.001", "1000", 1
        ),
        PieceRow(1, 0, "T1", "gloss-tile", "HT 4711", "high tile", "{}"),
        CertificateFileRow(1, 0, "T1-2026.pdf", "0" * 64, b"%PDF"),
        TraceBlockRow(1, 1, 34 * S, 34 * S, 0, 2, bytes(8), 118, 150, 1, "A1", "bare", 1),
        TrialKeyRow(1, 0, "gelcoat", "1" * 64, b"packed"),
        KeyOpeningRow(1, 56 * S, 1, "shown", "Ada", "to put the products on"),
        ApplicationRow(1, 56 * S, 1, "gelcoat", "A1", 55 * S, "4 ml", "3", "thin coat"),
        WashRow(1, 57 * S, 1, "gelcoat", "A1,A2", 5, "typed", None, ""),
        RatingRow(1, 58 * S, 1, "gelcoat", "wash-5", "water", "A1", "plover", "Ada", 3, 1, ""),
        PhotoRow(1, 58 * S, 1, "gelcoat", "wash-5", "A1", "a1.jpg", "2" * 64, 1234, "drops"),
        ScorecardRow(1, 59 * S, "yard", 1, "[scorecard]", "3" * 64),
        ScoreRow(1, 59 * S, "gelcoat", 1, "1", "reading 3", "{}"),
        PastImportRow(1, 59 * S, "2024.csv", "4" * 64, "[import]", b"a,b"),
        PastResultRow(
            1, 1, 2, "spring", "Grebe wax", "change", "gloss", "20", "applied", "1.5", "GU", "0.4",
            "{}",
        ),
        TrialClosingRow(1, 60 * S, "gelcoat", 1, "outlasted us"),
        GivingUpRow(1, 61 * S, "gelcoat", "wash-5", "A1,A2", 1, "washed on"),
        ApplicationVoidRow(1, 62 * S, "gelcoat", 1, "it was A2"),
    ]  # fmt: skip
