"""Checks that rest on a certificate which was withdrawn as wrong, judged anew without it.

Work that may rest on a wrong figure is evaluated, and what does not conform is held back
(ISO/IEC 17025:2017, 7.10, from memory). The judgement of then stays as it is. Beside it goes a row
that says what the check comes to by the certificates in the place of the withdrawn ones, and the
store's brackets go by that where it does not pass. It is done where the register is read, at the
daemon's start, and again whenever another certificate stands in the place. It works one way: what
a certificate in the place made suspect is brought back by none that comes after it, or whoever
dislikes an outcome could enter figures until one pleases. Only where none was valid in the place
does the right one come late; and one that is withdrawn no more stands as it did before the check.
The desk's thread.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from acquire.model import Instant, Judgement, Outcome
from acquire.pipeline.ids import Ids
from acquire.pipeline.judging_again import (
    UnusableError,
    check_row,
    judged_from,
    read_again,
    used_of,
)
from acquire.pipeline.used import Used, UsedCertificate
from acquire.store.check_rows import (
    CheckBeginRow,
    ReassessedLineRow,
    ReassessedPieceRow,
    ReassessmentRow,
)
from acquire.store.move_rows import MoveRow
from acquire.store.register_rows import CertificateRow
from acquire.store.registered import figures_of
from acquire.store.rows import Row
from acquire.store.worked import Query

_CONCERNED = """SELECT DISTINCT check_id FROM piece_judgement WHERE certificate_id IN (
    SELECT value FROM json_each(?))
UNION SELECT check_id FROM reassessment ORDER BY check_id"""
_LATEST = "SELECT * FROM reassessment WHERE check_id = ? ORDER BY id DESC LIMIT 1"
_NOT_INSIDE = """SELECT * FROM reassessment WHERE check_id = ? AND outcome <> 'pass'
ORDER BY outcome = 'fail' DESC, id DESC"""
_DOUBTFUL = """SELECT piece, channel FROM reassessed_piece
WHERE reassessment_id = ? AND outcome <> 'pass'"""


class InPlace:
    """Which certificates stand, of all rows of the register, in their order.

    The last row of a certificate says whether it is withdrawn: figures, number and all else of it
    stay as they were.
    """

    def __init__(self, register: Iterable[CertificateRow]) -> None:
        rows = list(register)
        latest = {figures_of(row): row for row in rows}
        self._latest = list(latest.values())
        self._of = {row.id: latest[figures_of(row)] for row in rows}

    @property
    def withdrawn(self) -> dict[int, CertificateRow]:
        """Certificates that are withdrawn now, by the number of each of their rows."""
        return {number: row for number, row in self._of.items() if row.withdrawn}

    def of(self, own: CertificateRow, on: date) -> CertificateRow | None:
        """What stands in the place of a withdrawn one on a day; None where nothing does."""
        fitting = [
            row
            for row in self._latest
            if (row.piece, row.quantity, row.channel) == (own.piece, own.quantity, own.channel)
            and not row.withdrawn
            and row.issued <= on.isoformat()
        ]
        # Of two of one day the one that was recorded last.
        return max(fitting, key=lambda row: (row.issued, row.id), default=None)


def reassessment_rows(
    ids: Ids, query: Query, register: Sequence[CertificateRow], at: Instant
) -> list[Row]:
    """Rows for the checks that come to something else by the register than was written of them."""
    in_place = InPlace(register)
    gone = f"[{', '.join(map(str, in_place.withdrawn))}]"
    rows: list[Row] = []
    for found in query(_CONCERNED, (gone,)):
        rows += _reassessed(ids, query, int(found["check_id"]), in_place, at)
    return rows


def _reassessed(
    ids: Ids, query: Query, check_id: int, in_place: InPlace, at: Instant
) -> Iterator[Row]:
    row = check_row(query, check_id)
    assert row is not None  # it has a judgement: the query goes by its pieces
    latest = query(_LATEST, (check_id,))
    try:
        used = _without(used_of(row["used_json"]), in_place)
    except UnusableError as why:
        if not latest:
            message = f"it cannot be judged again: {why}"
            yield _row(ids, check_id, Outcome.UNDECIDED, message, "", at)
        return
    text = used.text()
    if latest and latest[0]["used_json"] == text:
        return
    readings = read_again(query, check_id, used)
    judged = judged_from(row, used, readings)
    if latest and text != row["used_json"] and judged.outcome is not Outcome.FAIL:
        worse = next(_stays(query, check_id), None)
        if worse is not None and worse["used_json"] == latest[0]["used_json"]:
            return
        if worse is not None:
            text = worse["used_json"]
            used = used_of(text)
            judged = judged_from(row, used, readings)
    own = _row(ids, check_id, judged.outcome, judged.message, text, at)
    yield own
    yield from _pieces(ids, own, judged, used)
    yield from _lines(ids, own, judged)


def _stays(query: Query, check_id: int) -> Iterator[sqlite3.Row]:
    """What a check came to by valid certificates in the place, and stays: the worst first."""
    for one in query(_NOT_INSIDE, (check_id,)):
        try:
            used = used_of(one["used_json"])
        except UnusableError:
            continue
        valid = {
            (c.piece, c.channel)
            for c in used.certificates
            if c.issued <= used.on.isoformat() <= c.due
        }
        doubtful = {(row["piece"], row["channel"]) for row in query(_DOUBTFUL, (one["id"],))}
        # Else nothing valid was in the place of what could not be decided.
        if one["outcome"] == Outcome.FAIL or not doubtful or doubtful & valid:
            yield one


def _row(
    ids: Ids, check_id: int, outcome: Outcome, message: str, used_text: str, at: Instant
) -> ReassessmentRow:
    return ReassessmentRow(
        ids.take(ReassessmentRow),
        at.utc_ns,
        check_id,
        outcome.value,
        message,
        used_text,
        ids.last(MoveRow),
        ids.last(CheckBeginRow),
    )


def _pieces(ids: Ids, own: ReassessmentRow, judged: Judgement, used: Used) -> Iterator[Row]:
    numbers = {(one.piece, one.channel): one.row_id for one in used.certificates}
    for piece in judged.pieces:
        yield ReassessedPieceRow(
            ids.take(ReassessedPieceRow),
            own.id,
            own.check_id,
            piece.piece,
            piece.channel,
            piece.outcome.value,
            str(piece.certified),
            str(piece.deviation),
            str(piece.expanded_uncertainty),
            numbers.get((piece.piece, piece.channel)),
            piece.message,
        )


def _lines(ids: Ids, own: ReassessmentRow, judged: Judgement) -> Iterator[Row]:
    for line in judged.linearity:
        yield ReassessedLineRow(
            ids.take(ReassessedLineRow),
            own.id,
            own.check_id,
            line.piece,
            line.channel,
            line.outcome.value,
            str(line.departure),
            str(line.expanded_uncertainty),
            line.message,
        )


def _without(used: Used, in_place: InPlace) -> Used:
    """What a judgement used, with what stands in the place of each certificate; some may be gone.

    One that stands keeps the spelling by which it was used.
    """
    withdrawn = in_place.withdrawn
    others: list[UsedCertificate] = []
    for one in used.certificates:
        gone = withdrawn.get(-1 if one.row_id is None else one.row_id)
        if gone is None:
            others.append(one)
        elif (row := in_place.of(gone, used.on)) is not None:
            others.append(
                one._replace(
                    row_id=row.id,
                    value=row.value,
                    unit=row.unit,
                    expanded_uncertainty=row.expanded_uncertainty,
                    coverage_factor=row.coverage_factor,
                    issued=row.issued,
                    due=row.due,
                )
            )
    return used._replace(certificates=tuple(others))
