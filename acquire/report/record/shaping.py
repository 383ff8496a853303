"""Rows of the store's views as the records of a report. Pure; any thread."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence, Set
from dataclasses import replace
from decimal import Decimal

from acquire.analysis.samples.summary import MEASURED
from acquire.model import TOLD_BY_PERSON, NoticeKind
from acquire.report.record.checkrecord import (
    CertificateRecord,
    CheckReading,
    CheckRecord,
    PieceRecord,
)
from acquire.report.record.record import ReadingRecord, Standing, TroubleRecord

Place = tuple[str, str, str, str]
"""Measure, zone, stage and channel: what a plan wants read."""

_LARGEST = Decimal(MEASURED)

_TOLD = {
    NoticeKind.POWER_UP: "it was switched on",
    NoticeKind.ADJUSTED: "it was re-adjusted by its own button: earlier checks say nothing of it "
    "any more",
    NoticeKind.TROUBLE: "it reports a trouble of its own",
    NoticeKind.LAPSED: "a first entry was left alone",
    NoticeKind.OTHER_RATE: "the rate of its samples",
}
_OF_PERSON = {
    NoticeKind.POWER_UP: "it was switched off and on, as a person says",
    NoticeKind.ADJUSTED: "it was re-adjusted, as a person says: earlier checks say nothing of it "
    "any more",
}


CERTIFIED = """SELECT p.*, c.piece_kind, c.expanded_uncertainty AS certificate_u,
    c.coverage_factor, c.issued, c.due, c.issuer, c.number, f.name AS file_name, f.sha256
FROM {table} AS p LEFT JOIN certificate AS c ON c.id = p.certificate_id
LEFT JOIN certificate_file AS f ON f.id = c.file_id"""
"""Rows about pieces, each with its certificate."""


_READ = (
    "reading_id", "at_utc_ns", "instrument", "serial", "quantity", "channel", "value", "unit",
    "sent_text", "typed", "sent_unit", "flags", "measure", "zone", "stage", "replicate", "run_id",
    "check_id", "bracket", "closing_check_id", "loose_reason", "assigned_reason", "void_reason",
    "counts", "connection_id", "raw_start", "raw_end", "adjusted_id",
    "reassessment_id",
)  # fmt: skip
READ = ", ".join(_READ)
"""The columns of the view ``readings`` that `reading_record` takes, in their order."""


def reading_record(row: sqlite3.Row, places: Set[Place]) -> ReadingRecord:
    """A row of `READ`; `places` are those of the latest plan."""
    # Taken apart at once: to look up a column by its name takes longer than all else here.
    (
        reading_id, at_utc_ns, instrument, serial, quantity, channel, sent, unit,
        sent_text, typed, sent_unit, flags, measure, zone, stage, replicate, run_id,
        check_id, bracket, closing_check_id, loose_reason, assigned_reason, void_reason,
        counts, connection_id, raw_start, raw_end, adjusted_id,
        reassessment_id,
    ) = row  # fmt: skip
    value = None if sent is None else Decimal(sent)
    if void_reason is not None:
        standing = Standing.VOID
    elif bracket == "suspect":
        standing = Standing.SUSPECT
    elif (measure, zone, stage, channel) not in places:
        standing = Standing.UNPLACED
    elif value is not None and abs(value) > _LARGEST:
        standing = Standing.IMPOSSIBLE
    else:
        standing = Standing.COUNTS
    return ReadingRecord(
        reading_id,
        at_utc_ns,
        instrument,
        serial,
        quantity,
        channel,
        value,
        unit,
        sent_text,
        bool(typed),
        sent_unit,
        flags,
        measure or "",
        zone or "",
        stage or "",
        replicate or 0,
        run_id,
        check_id,
        bracket or "",
        closing_check_id,
        loose_reason or "",
        assigned_reason or "",
        void_reason or "",
        bool(counts) and standing is Standing.COUNTS,
        connection_id,
        f"{connection_id}:{raw_start}–{raw_end}",
        standing,
        adjusted_id,
        reassessment_id,
    )


def check_record(
    row: sqlite3.Row,
    policy: Mapping[str, object],
    pieces: Sequence[PieceRecord],
    readings: Sequence[CheckReading],
    *,
    is_typed: bool,
) -> CheckRecord:
    """A row of ``checks`` with the policy it followed; whether its readings were typed."""
    return CheckRecord(
        id=row["check_id"],
        instrument=row["instrument"],
        serial=row["serial"],
        policy=row["policy"],
        resolution=Decimal(str(policy.get("resolution", 0))),
        unit=str(policy.get("unit", "")),
        outcome=row["outcome"],
        message=row["message"] or "",
        begun_utc_ns=row["begun_utc_ns"],
        judged_utc_ns=row["judged_utc_ns"],
        expires_utc_ns=row["expires_utc_ns"],
        ended_utc_ns=row["ended_utc_ns"],
        end_reason=row["end_reason"] or "",
        end_message=row["end_message"] or "",
        pieces=tuple(pieces),
        readings=tuple(readings),
        is_typed=is_typed,
    )


def check_reading(row: sqlite3.Row) -> CheckReading:
    """A row of ``readings`` that was taken in a check."""
    return CheckReading(
        id=row["reading_id"],
        at_utc_ns=row["at_utc_ns"],
        piece=row["piece"],
        channel=row["channel"],
        value=None if row["value"] is None else Decimal(row["value"]),
        unit=row["unit"],
        flags=row["flags"],
        void_reason=row["void_reason"] or "",
    )


def certificate_record(row: sqlite3.Row) -> CertificateRecord | None:
    """The certificate of a row about a piece (`CERTIFIED`); None where it had none."""
    if row["certificate_id"] is None:
        return None
    return CertificateRecord(
        row["piece_kind"],
        Decimal(row["certificate_u"]),
        Decimal(row["coverage_factor"]),
        row["issued"],
        row["due"],
        row["issuer"],
        row["number"] or "",
        row["file_name"] or "",
        row["sha256"] or "",
    )


def piece_record(row: sqlite3.Row) -> PieceRecord:
    """A row of ``piece_judgement`` with the columns of its certificate (`CERTIFIED`)."""
    return PieceRecord(
        piece=row["piece"],
        channel=row["channel"],
        outcome=row["outcome"],
        count=row["readings"],
        mean=Decimal(row["mean"]),
        spread=Decimal(row["spread"]),
        certified=Decimal(row["certified"]),
        deviation=Decimal(row["deviation"]),
        expanded_uncertainty=Decimal(row["expanded_uncertainty"]),
        limit=Decimal(row["limit_"]),
        spread_limit=Decimal(row["spread_limit"]),
        unit=row["unit"],
        message=row["message"],
        certificate=certificate_record(row),
    )


def anew_piece(piece: PieceRecord, row: sqlite3.Row) -> PieceRecord:
    """The piece by a row of ``reassessed_piece`` (`CERTIFIED`), held against what stands."""
    return replace(
        piece,
        outcome=row["outcome"],
        certified=Decimal(row["certified"]),
        deviation=Decimal(row["deviation"]),
        expanded_uncertainty=Decimal(row["expanded_uncertainty"]),
        message=row["message"],
        certificate=certificate_record(row),
    )


def trouble_of_notice(row: sqlite3.Row) -> TroubleRecord:
    """A row of ``notice``: what the device told of itself, in words, with its own text.

    What a person told of it, by a command or typed where it has no port, is said to be told so.
    """
    told = _TOLD.get(row["kind"], "it told of itself")
    if row["kind"] in _OF_PERSON and (row["typed"] or row["text"] == TOLD_BY_PERSON):
        told = _OF_PERSON[row["kind"]]
        return TroubleRecord(row["at_utc_ns"], row["instrument"], row["kind"], told)
    if row["times"] > 1:
        told = told.replace("by its own button", f"by its own button, pressed {row['times']} times")
    message = f"{told}: {row['text']}" if row["text"] else told
    return TroubleRecord(row["at_utc_ns"], row["instrument"], row["kind"], message)
