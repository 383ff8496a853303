"""What the checks around readings found at other pieces than the one that stands for the meter.

Pure; any thread.
"""

from __future__ import annotations

from acquire.analysis.budget.uncertainty import Combined
from acquire.analysis.checks.bracket import reading_doubt
from acquire.analysis.checks.meterscale import EXACT, Beside, foot_of
from acquire.model import PieceKind
from acquire.report.evidence.piecemoments import Moments, beside_at, moments_of
from acquire.report.record.checkrecord import CertificateRecord, CheckRecord, PieceRecord
from acquire.units import convert

_ZEROS = tuple(kind.value for kind in (PieceKind.BLACK_TRAP, PieceKind.NO_LOAD, PieceKind.DARK))


def is_dark(piece: PieceRecord) -> bool:
    return piece.certificate is not None and piece.certificate.kind == PieceKind.DARK.value


def doubt_of(piece: PieceRecord, check: CheckRecord) -> Combined:
    """How well the check read the piece, in the unit of the piece."""
    return reading_doubt(float(piece.spread), piece.count, step_of(piece, check))


def step_of(piece: PieceRecord, check: CheckRecord) -> float:
    """The step of the display that the check was read by, in the unit of the piece; 0 without."""
    if check.resolution <= 0:
        return 0.0
    return float(convert(check.resolution, check.unit, piece.unit))


def other_pieces(
    check: CheckRecord,
    opening: PieceRecord,
    closing: CheckRecord | None,
    moments: Moments,
    *,
    is_head: bool,
) -> tuple[Beside | None, tuple[Beside, ...]]:
    """The foot of the meter's scale, and all further pieces, beside `opening` of the check.

    `closing` is the check that told the drift, `moments` when both read the reference piece: to
    these is brought what was found at the others. Of a transmission head (`is_head`) its dark is
    the foot, and no piece is a further one: how its scale runs between its ends its filters say by
    a rule of their own (`acquire.analysis.checks.bend`). Where it read no dark they are as any
    other piece.
    """
    zeros: list[Beside] = []
    others: list[Beside] = []
    for p in check.held:
        is_another = p.piece != opening.piece and p.channel == opening.channel
        if not is_another or not p.is_judged or p.certificate is None:
            continue
        is_zero = p.certificate.kind in _ZEROS
        own = moments_of(p.piece, p.channel, check, closing)
        found = beside_at(_beside(check, closing, p, p.certificate), own, moments)
        (zeros if is_zero else others).append(found)
    if is_head and zeros:
        others = []
    reference = Beside(opening.piece, float(opening.certified), float(opening.deviation), None, 0.0)
    foot = foot_of(reference, others, zeros)
    return foot, tuple(o for o in others if o is not foot) if foot is not None else ()


def _beside(
    check: CheckRecord,
    closing: CheckRecord | None,
    piece: PieceRecord,
    certificate: CertificateRecord,
) -> Beside:
    after = closing.piece(piece.piece, piece.channel) if closing is not None else None
    return Beside(
        piece.piece,
        float(piece.certified),
        float(piece.deviation),
        None if after is None else float(after.mean - piece.mean),
        float(certificate.standard_uncertainty),
        doubt_of(piece, check),
        EXACT if after is None or closing is None else doubt_of(after, closing),
    )
