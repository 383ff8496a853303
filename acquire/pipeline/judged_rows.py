"""The rows of a judgement: the check as a whole, its pieces, how straight the meter reads. Pure."""

from __future__ import annotations

from collections.abc import Mapping

from acquire.model import CheckPolicy, Instant, Judgement, Pass
from acquire.pipeline.ids import Ids
from acquire.pipeline.used import Used
from acquire.store import rows as r
from acquire.store.check_rows import CheckJudgementRow, LinearityRow, PieceJudgementRow
from acquire.store.rows import Row


def judged_rows(
    ids: Ids,
    check_id: int,
    policy: CheckPolicy,
    judgement: Judgement,
    at: Instant,
    used: Used,
    passed: Pass | None,
    certificate_ids: Mapping[tuple[str, str, str], int],
) -> list[Row]:
    """All of them; `passed` is the pass that the judgement opens, None for any other outcome."""
    span = passed.span if passed is not None else None
    rows: list[Row] = [
        CheckJudgementRow(
            ids.take(CheckJudgementRow),
            at.utc_ns,
            check_id,
            judgement.outcome.value,
            judgement.message,
            judgement.next_step,
            None if passed is None else passed.expires.utc_ns,
            ids.last(r.ReadingRow),
            used.text(),
            None if span is None else float(span[0]),
            None if span is None else float(span[1]),
            None if passed is None else passed.presses,
        )
    ]
    rows += [
        PieceJudgementRow(
            ids.take(PieceJudgementRow),
            check_id,
            p.piece,
            p.channel,
            p.outcome.value,
            p.count,
            str(p.mean),
            str(p.spread),
            str(p.certified),
            str(p.deviation),
            str(p.expanded_uncertainty),
            str(p.limit),
            str(p.spread_limit),
            p.unit,
            certificate_ids.get((p.piece, policy.quantity.value, p.channel)),
            p.message,
        )
        for p in judgement.pieces
    ]
    rows += [
        LinearityRow(
            ids.take(LinearityRow),
            check_id,
            line.piece,
            line.channel,
            line.zero,
            line.high,
            line.outcome.value,
            str(line.departure),
            str(line.expanded_uncertainty),
            str(line.limit),
            line.unit,
            line.message,
        )
        for line in judgement.linearity
    ]
    return rows
