"""A press in a check that stood on another piece than the wanted one. Runs on the desk's thread."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from acquire.model import Instant, Piece, Quantity, elsewhere
from acquire.pipeline.ids import Ids
from acquire.pipeline.nearness import piece_mistaken, placing
from acquire.pipeline.place import Place, loose
from acquire.pipeline.standing import Standing
from acquire.store import rows as r
from acquire.store.rows import Row


def of_another_piece(
    pieces: Sequence[Piece],
    ids: Ids,
    standing: Standing,
    reading: tuple[int, str, Decimal, Instant],
    mate: Place | None,
    rows: list[Row],
) -> str:
    """Why a reading, by number, channel and value, is another piece's; else nothing.

    Where one angle tells, the whole press counts for nothing, since pieces may read alike at the
    others: what has counted of it is taken back, which adds to `rows`, and the rest stays loose.
    """
    checking = standing.checking
    if checking is None:
        return ""
    if mate is None:
        wanted = checking.rule.piece if checking.rule else None
    elif mate.check_id == checking.check_id:
        wanted = mate.piece
    else:
        return ""
    reading_id, channel, value, at = reading
    why = piece_mistaken(pieces, checking, wanted, channel, value)
    if not why:
        return ""
    if wanted is not None:
        checking.refused.setdefault(wanted, []).append(value)
    meter, quantity = standing.spec.id, checking.policy.quantity
    away = f"{meter} was not on {wanted}"
    if quantity is Quantity.TRANSMITTANCE:
        away = f"{wanted} was not in {meter}"
    told = f"{elsewhere.TELLS.format(reading_id)}{away}"
    step = placing(quantity, meter, str(wanted))
    standing.press.place = loose(f"{told}. Next: {step}")
    if mate is not None and wanted is not None:
        rows += [
            r.VoidRow(ids.take(r.VoidRow), at.utc_ns, one, told)
            for one in checking.take_back(wanted, standing.press.first_id)
        ]
    return why
