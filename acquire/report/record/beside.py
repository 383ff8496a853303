"""What stands beside a check: how straight the meter read, what a pass covered, the room, and a
re-adjustment before it. Reads the store; one thread."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from acquire.calibration.plausibility import findings
from acquire.calibration.width import wide_limits
from acquire.model import Certificate, read_policy_text
from acquire.model.room import room_words
from acquire.report.record.adjusted import adjustment_before
from acquire.report.record.checkrecord import Anew, CheckRecord, PieceRecord
from acquire.report.record.shaping import CERTIFIED, anew_piece
from acquire.report.record.withdrawn import Withdrawals
from acquire.store.kept import Kept
from acquire.store.limits import changed_limits, changed_values
from acquire.store.reader import StoreReader

_CLIMATE = """SELECT * FROM climate
WHERE at_utc_ns <= ? ORDER BY id DESC LIMIT 1"""
_PART = 500
"""So many ids are asked for at once: SQLite bounds the number of variables."""


class Beside:
    """Looked up once for the checks `ids`."""

    def __init__(self, reader: StoreReader, ids: Sequence[int]) -> None:
        self._reader = reader
        self._lines: dict[int, list[str]] = defaultdict(list)
        self._kept = Kept(reader)
        self._withdrawals = Withdrawals(reader, self._kept)
        self._gone = set(self._withdrawals.checks())
        self._anew = {
            row["check_id"]: row
            for row in reader.rows(
                "SELECT * FROM reassessment AS w WHERE id = "
                "(SELECT max(id) FROM reassessment AS x WHERE x.check_id = w.check_id)"
            )
        }
        self._found: dict[tuple[object, object], tuple[str, ...]] = {}
        self._covers: dict[int, tuple[int | None, tuple[float, float] | None]] = {}
        for at in range(0, len(ids), _PART):
            part = list(ids[at : at + _PART])
            marks = ", ".join("?" * len(part))
            for row in reader.rows(
                f"SELECT check_id, message FROM linearity_judgement WHERE check_id IN ({marks}) "  # noqa: S608
                "ORDER BY id",
                part,
            ):
                self._lines[row["check_id"]].append(row["message"])
            for row in reader.rows(
                "SELECT check_id, presses, least_real, most_real FROM check_judgement "  # noqa: S608
                f"WHERE check_id IN ({marks})",
                part,
            ):
                least, most = row["least_real"], row["most_real"]
                span = None if least is None or most is None else (least, most)
                self._covers[row["check_id"]] = (row["presses"], span)

    def of(self, check: CheckRecord) -> CheckRecord:
        """The check with all of it."""
        gone = self._withdrawals.gone(check.id) if check.id in self._gone else {}
        presses, span = self._covers.get(check.id, (None, None))
        return replace(
            check,
            lines=(
                *self._lines[check.id],
                *changed_limits(self._reader, check.id),
                *changed_values(self._reader, check.id),
                *(self._withdrawals.restored(check.id) if check.id in self._anew else ()),
            ),
            presses=presses,
            span=span,
            climate=self._climate(check.begun_utc_ns),
            adjustment=adjustment_before(self._reader, check.id),
            doubts=self._doubts(check.id),
            withdrawn=tuple(self._withdrawals.words(check.id)) if gone else (),
            pieces=tuple(_marked(p, gone) for p in check.pieces) if gone else check.pieces,
            anew=self._judged_anew(check),
        )

    def _judged_anew(self, check: CheckRecord) -> Anew | None:
        row = self._anew.get(check.id)
        if row is None:
            return None
        found = {
            (piece["piece"], piece["channel"]): piece
            for piece in self._reader.rows(
                f"{CERTIFIED.format(table='reassessed_piece')} WHERE p.reassessment_id = ?",
                (row["id"],),
            )
        }
        pieces = [(p, found.get((p.piece, p.channel))) for p in check.pieces]
        return Anew(
            row["at_utc_ns"],
            row["outcome"],
            row["message"],
            tuple(piece if other is None else anew_piece(piece, other) for piece, other in pieces),
        )

    def _doubts(self, check_id: int) -> tuple[str, ...]:
        """Of the certificates and the policy of then; worked out once where they are the same."""
        used = "SELECT DISTINCT certificate_id FROM piece_judgement WHERE check_id = ?"
        held = tuple(row[0] for row in self._reader.rows(used, (check_id,)))
        policy = self._reader.one("SELECT policy_json FROM check_begin WHERE id = ?", (check_id,))
        if (held, policy) not in self._found:
            pieces = self._kept.of_check(check_id)
            self._found[held, policy] = (
                *(text for piece in pieces for text in findings(piece)),
                *wide_limits(read_policy_text(policy), pieces),
            )
        return self._found[held, policy]

    def _climate(self, at_utc_ns: int) -> str:
        rows = self._reader.rows(_CLIMATE, (at_utc_ns,))
        if not rows:
            return ""
        row = rows[0]
        told = room_words(row["temperature_c"], row["humidity_percent"])
        by = [n for n in (row["temperature_reading_id"], row["humidity_reading_id"]) if n]
        if not by:
            return f"{told}, as it was typed in"
        which = f"readings {by[0]} and {by[1]}" if len(by) > 1 else f"reading {by[0]}"
        return f"{told}, by {row['source']} ({which})"


def _marked(piece: PieceRecord, gone: Mapping[tuple[str, str], Certificate]) -> PieceRecord:
    """The piece, its certificate with why it was withdrawn."""
    found = gone.get((piece.piece, piece.channel))
    if found is None or piece.certificate is None:
        return piece
    return replace(piece, certificate=replace(piece.certificate, withdrawn=found.withdrawn))
