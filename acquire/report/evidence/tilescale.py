"""What a gloss would be on the scale of a check's own tile and black trap: a figure beside results.

Two-point scaling takes the meter's error for a straight line from trap to tile
(`acquire.analysis.gloss`). Results are never made of it: the check has judged both pieces, and what
it knows of the meter, its gain from trap to tile among it (`acquire.analysis.meter.metergain`), is
in their uncertainty. It shows how much of a level is the meter's scale. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator

from acquire.analysis.gloss import two_point_scale
from acquire.model import PieceKind, Quantity
from acquire.report.evidence.evidence import Evidence
from acquire.report.record.checkrecord import CheckRecord, PieceRecord

_LEAST = 0.05
"""GU: half of the last digit of most displays; a smaller shift is none that anybody could read."""


def tile_scale_lines(evidence: Evidence) -> Iterator[str]:
    """A sentence for each opening check that read a tile and a black trap; none for others."""
    result = evidence.result
    if evidence.measure.quantity is not Quantity.GLOSS:
        return
    means = [v.cell.mean for v in result.levels if v.cell.mean is not None]
    if not means:
        return
    level = sum(means) / len(means)
    for check in {a.check.id: a.check for a in evidence.anchors}.values():
        tile, trap = _pieces(check, result.channel)
        if tile is None or trap is None or tile.mean == trap.mean:
            continue
        at = two_point_scale(float(tile.certified), float(tile.mean), float(trap.mean), level)
        moved = at - level
        what = (
            f"would be {at:.2f} GU ({moved:+.2f})".replace("-", "−")
            if abs(moved) >= _LEAST
            else f"would move by less than {_LEAST:g} GU"
        )
        yield (
            f"On the scale of {tile.piece} and {trap.piece} as check {check.id} read them "
            f"(two-point), a gloss of {level:.2f} GU, the mean of all zones, {what}. "
            "This is told beside the results and not in them. Of net changes its zero cancels; "
            "its gain moves a change by its share of the change itself, which the budgets have"
            f".{''.join(_bent(check, result.channel, tile, trap))}"
        )


def _bent(check: CheckRecord, channel: str, tile: PieceRecord, trap: PieceRecord) -> Iterator[str]:
    """How far other pieces of the check lie off the line from trap to tile, where it can be read.

    Both figures are of the meter's error, reading minus certified value.
    """
    low, high = (float(one.mean - one.certified) for one in (trap, tile))
    span = float(tile.certified - trap.certified)
    for piece in check.held:
        is_other = piece.channel == channel and piece.piece not in (tile.piece, trap.piece)
        if not is_other or not piece.is_judged or piece.certificate is None or not span:
            continue
        part = float(piece.certified - trap.certified) / span
        off = float(piece.mean - piece.certified) - (low + part * (high - low))
        if abs(off) >= _LEAST:
            told = f"{off:+.2f}".replace("-", "−")
            yield (
                f" But {piece.piece} lies {told} GU off that line: about there the meter errs "
                "by another share of a change, which the budgets have as the bend of its scale."
            )


def _pieces(check: CheckRecord, channel: str) -> tuple[PieceRecord | None, PieceRecord | None]:
    """The highest tile and the black trap of a check."""

    def of(kind: PieceKind) -> list[PieceRecord]:
        return [
            p
            for p in check.held
            if p.channel == channel
            and p.is_judged
            and p.certificate is not None
            and p.certificate.kind == kind.value
        ]

    tiles, traps = of(PieceKind.GLOSS_TILE), of(PieceKind.BLACK_TRAP)
    tile = max(tiles, key=lambda p: p.certified, default=None)
    return tile, next(iter(traps), None)
