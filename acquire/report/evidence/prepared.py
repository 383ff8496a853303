"""Readings that count, and the checks around them, as the analysis takes them of one measure.

Which check covers which reading the store has decided already, so no time is asked again here.
Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import NamedTuple

from acquire.analysis.budget.uncertainty import Combined, welch_satterthwaite
from acquire.analysis.checks.bend import Bend, Point, bend_of
from acquire.analysis.checks.bracket import Bracket, Places
from acquire.analysis.checks.gaugezero import Zero
from acquire.analysis.checks.meterscale import EXACT
from acquire.analysis.samples.sample import Sample
from acquire.model import DriftCorrection, Measure, PieceKind, Quantity, SledCorrection
from acquire.report.evidence.between import between, between_words, off_line, told_as
from acquire.report.evidence.otherpieces import doubt_of, is_dark, other_pieces, step_of
from acquire.report.evidence.piecemoments import Moments, moments_of, read_at_ns, zero_at
from acquire.report.evidence.unchecked import unchecked_stretches
from acquire.report.record.checkrecord import CheckRecord, PieceRecord
from acquire.report.record.record import ReadingRecord, Standing, TrialRecord


@dataclass(frozen=True, slots=True)
class CoveredBracket(Bracket):
    """The checks around just the readings `covers` (ids) of one channel, at one stage or several.

    Two meters may be at work in the same minutes: a reading belongs to the checks of its own.
    """

    covers: frozenset[int] = frozenset()

    def holds(self, sample: Sample) -> bool:
        return sample.reading_id in self.covers

    def held(self, of: Places) -> list[int]:
        return [of.by_id[number] for number in self.covers if number in of.by_id]


NEAREST = "lies nearest to the readings"
_NEAREST_OF_LOADS = (
    "lies nearest to the readings of those above zero; zero lies nearer, and shows no error that "
    "grows with the reading"
)
_LARGEST = (
    "is the largest; zero lies nearest to the readings, and shows no error that grows with the "
    "reading"
)


_OPEN = (
    "ends the scale that begins at DARK; pieces in between tell of the scale itself, how far it is "
    "bent"
)


@dataclass(frozen=True, slots=True)
class Anchor:
    """The reference piece that stands for the meter's drift and offset around some readings.

    `closing` is None where no check after them read the piece. The check that closed the bracket
    did, or before it one that closed nothing (undecided, broken off): it says nothing of whether
    readings count, but by then the meter had drifted as far as it found. `why` says what its
    certified value has before those of the other pieces.
    """

    check: CheckRecord
    opening: PieceRecord
    closing_check: CheckRecord | None
    closing: PieceRecord | None
    why: str = NEAREST
    other: PieceRecord | None = None
    """What a check that did not read the piece read instead: `closing` has moved as far as that."""

    @property
    def moments(self) -> Moments:
        """When its checks read the piece, or the closing one that which it read instead."""
        own, last = self.opening, self.other or self.opening
        return Moments(
            read_at_ns(self.check, own.piece, own.channel),
            None
            if self.closing is None or self.closing_check is None
            else read_at_ns(self.closing_check, last.piece, last.channel),
        )


class Prepared(NamedTuple):
    """What the analysis takes of one measure; `anchors` by channel.

    `zeros` is what the gauge read with no load, by the place of the bracket, where the plan wants
    that taken off and the checks say it.
    """

    readings: list[ReadingRecord]
    counting: list[ReadingRecord]
    samples: list[Sample]
    brackets: list[CoveredBracket]
    anchors: dict[str, list[Anchor]]
    zeros: dict[int, Zero]


def prepared(record: TrialRecord, measure: Measure) -> Prepared:
    mine = [r for r in record.readings if r.measure == measure.id]
    counting = [r for r in mine if r.standing is Standing.COUNTS]
    origin_ns = min((r.at_utc_ns for r in record.readings), default=0)
    treatments = {zone.id: zone.treatment for zone in record.plan.zones}
    unchecked = unchecked_stretches(record)
    samples = [_sample(r, treatments[r.zone], origin_ns, unchecked.get(r.id, "")) for r in counting]
    brackets: list[CoveredBracket] = []
    anchors: dict[str, list[Anchor]] = {}
    for group in _groups(counting):
        around = _anchor(record, group, measure)
        anchor = _next_read(record, group, around)
        brackets.append(_bracket(record, group, anchor, around, origin_ns, measure))
        if anchor is not None and anchor not in anchors.setdefault(group[0].channel, []):
            anchors[group[0].channel].append(anchor)
    zeros = _zeros(record, measure, counting)
    return Prepared(mine, counting, samples, brackets, anchors, zeros)


def _zeros(
    record: TrialRecord, measure: Measure, counting: Sequence[ReadingRecord]
) -> dict[int, Zero]:
    """What the gauge read with no load, by the place of the bracket, where its checks say."""
    if not _takes_zero_off(measure):
        return {}
    found = {}
    for place, group in enumerate(_groups(counting)):
        check = record.check(group[0].check_id)
        piece = check.no_load if check is not None else None
        if check is None or piece is None:
            continue
        anchor = _next_read(record, group, _anchor(record, group, measure))
        closing = anchor.closing_check if anchor is not None else None
        after = closing.piece(piece.piece, piece.channel) if closing is not None else None
        zero = Zero(
            float(piece.mean),
            None if after is None else float(after.mean),
            doubt_of(piece, check),
            EXACT if after is None or closing is None else doubt_of(after, closing),
            anchor is not None and anchor.opening.piece == piece.piece,
            piece.piece,
        )
        own = moments_of(piece.piece, piece.channel, check, closing)
        found[place] = zero if anchor is None else zero_at(zero, own, anchor.moments)
    return found


def _takes_zero_off(measure: Measure) -> bool:
    return measure.sled is not None and SledCorrection.ZERO in measure.sled.corrections


def _sample(reading: ReadingRecord, treatment: str, origin_ns: int, stretch: str) -> Sample:
    assert reading.value is not None  # a reading of a run has one: the schema says so
    return Sample(
        reading.zone,
        treatment,
        reading.stage,
        reading.replicate,
        reading.channel,
        float(reading.value),
        _seconds(reading.at_utc_ns, origin_ns),
        reading.id,
        stretch,
    )


def _groups(readings: Sequence[ReadingRecord]) -> list[list[ReadingRecord]]:
    """Readings that share channel and the checks around them; unchecked ones are none.

    Two stages under the same checks share the error of the meter, so they are one group.
    """
    found: dict[tuple[str, int, int | None], list[ReadingRecord]] = {}
    for r in readings:
        if r.check_id is not None and r.bracket != "unchecked":
            found.setdefault((r.channel, r.check_id, r.closing_check_id), []).append(r)
    return list(found.values())


def _anchor(record: TrialRecord, group: Sequence[ReadingRecord], measure: Measure) -> Anchor | None:
    """The piece of the opening check whose certified value lies nearest to the readings' mean.

    A gain, and what is left of a gauge without its zero, is shown only by a piece whose certified
    value is not 0, if there is one.
    """
    first = group[0]
    check = record.check(first.check_id)
    if check is None:
        return None
    values = [r.value for r in group if r.value is not None]
    mean = sum(values, Decimal(0)) / len(values)
    read = [p for p in check.held if p.channel == first.channel and p.is_judged]
    if not read:
        return None
    is_zero_nearest = min(abs(p.certified - mean) for p in read) == min(
        (abs(p.certified - mean) for p in read if not p.certified), default=None
    )
    is_head = measure.quantity is Quantity.TRANSMITTANCE and any(map(is_dark, read))
    if measure.drift_correction is DriftCorrection.GAIN or _takes_zero_off(measure):
        read = [p for p in read if p.certified > 0] or read
    why = NEAREST
    if is_head and any(not is_dark(p) and p.certified > 0 for p in read):
        why = _OPEN
        read = [max(read, key=lambda p: p.certified)]
    elif is_zero_nearest and all(p.certified > 0 for p in read):
        why = _NEAREST_OF_LOADS
    elif is_zero_nearest and any(p.certified > 0 for p in read):
        why = _LARGEST
        # A zero shows no gain, and the error of a gain is what grows with the reading.
        read = [max(read, key=lambda p: p.certified)]
    # Of two equally near the higher one: its drift is the larger where the scale has drifted.
    piece = min(read, key=lambda p: (abs(p.certified - mean), -p.certified))
    closing = record.check(first.closing_check_id)
    return Anchor(
        check, piece, closing, closing.piece(piece.piece, first.channel) if closing else None, why
    )


def _next_read(
    record: TrialRecord, group: Sequence[ReadingRecord], around: Anchor | None
) -> Anchor | None:
    """The same with the first check after the readings that read the piece, whatever it came to.

    A check before that one which read other pieces alone (it was broken off) stands in its place
    where it found one of them moved further. What came after what goes by the numbers of readings.
    A check with readings ends the pass it was to renew, so none lies amid readings of one pass.
    """
    if around is None:
        return None
    last = max(r.id for r in group)
    found, others = around, []
    for check in between(record, around.check.id, group[0].closing_check_id):
        if any(r.id <= last for r in check.readings):
            continue
        read = check.piece(around.opening.piece, around.opening.channel)
        if read is not None:
            found = replace(around, closing_check=check, closing=read)
            break
        others += [_moved_by(around, check, p) for p in check.held]
    told = [x for x in others if x is not None]
    return max([found, *told], key=_moved) if told else found


def _moved(anchor: Anchor) -> Decimal:
    if anchor.closing is None:
        return Decimal(-1)
    return abs(anchor.closing.mean - anchor.opening.mean)


def _moved_by(around: Anchor, check: CheckRecord, piece: PieceRecord) -> Anchor | None:
    """The anchor as if its piece had moved as far as this one; None where that was not read."""
    before = around.check.piece(piece.piece, piece.channel)
    if before is None or not piece.is_judged or piece.channel != around.opening.channel:
        return None
    moved = replace(around.opening, mean=around.opening.mean + piece.mean - before.mean)
    return replace(around, closing_check=check, closing=moved, other=piece)


def _bracket(
    record: TrialRecord,
    group: Sequence[ReadingRecord],
    anchor: Anchor | None,
    around: Anchor | None,
    origin_ns: int,
    measure: Measure,
) -> CoveredBracket:
    """`around` has the checks that decide of the readings, `anchor` those that tell the drift."""
    first = group[0]
    check = record.check(first.check_id)
    latest_ns = max(r.at_utc_ns for r in group)
    judged_ns = check.judged_utc_ns if check is not None else None
    moments = anchor.moments if anchor is not None else Moments(judged_ns, None)
    opened_ns = moments.opening_ns
    opening_at_s = _seconds(first.at_utc_ns if opened_ns is None else opened_ns, origin_ns)
    closing_at_s = drift = opening_deviation = certified = None
    certificate_u = 0.0
    foot, beside = (
        other_pieces(
            anchor.check,
            anchor.opening,
            anchor.closing_check if anchor.closing is not None else None,
            moments,
            is_head=measure.quantity is Quantity.TRANSMITTANCE,
        )
        if anchor is not None
        else (None, ())
    )
    opening_doubt = closing_doubt = EXACT
    opening_step = closing_step = 0.0
    closing_check, closing_as = first.closing_check_id, ""
    if anchor is not None:
        opening_deviation = float(anchor.opening.deviation)
        certified = float(anchor.opening.certified)
        opening_doubt = doubt_of(anchor.opening, anchor.check)
        opening_step = step_of(anchor.opening, anchor.check)
        if anchor.opening.certificate is not None:
            certificate_u = float(anchor.opening.certificate.standard_uncertainty)
        if anchor.closing is not None and anchor.closing_check is not None:
            drift = float(anchor.closing.mean - anchor.opening.mean)
            closing_doubt = _closing_doubt(anchor, anchor.closing, anchor.closing_check)
            closing_step = step_of(anchor.closing, anchor.closing_check)
            # A clock that was set back after the last reading must not put it behind the close.
            closed_ns = max(moments.closing_ns or 0, latest_ns)
            closing_at_s = _seconds(closed_ns, origin_ns)
            if anchor.closing_check.id != closing_check:
                closing_check = anchor.closing_check.id
                closing_as = told_as(anchor.closing_check)
                closing_as += f", {anchor.other.piece} alone" if anchor.other is not None else ""
    return CoveredBracket(
        stage=first.stage,
        opening_at_s=opening_at_s,
        closing_at_s=closing_at_s,
        drift=drift,
        tile_u=certificate_u,
        channel=first.channel,
        opening_deviation=opening_deviation,
        is_broken=first.bracket == "not closed",
        is_unconfirmed=first.closing_check_id is None,
        opening_doubt=opening_doubt,
        closing_doubt=closing_doubt,
        opening_step=opening_step,
        closing_step=closing_step,
        piece=anchor.opening.piece if anchor is not None else "",
        certified=certified,
        opening_check=first.check_id,
        closing_check=closing_check,
        closing_as=closing_as,
        between=between_words(record, first.check_id, first.closing_check_id),
        off_line=_bent(record, around),
        bends=_bends(record, group, measure),
        foot=foot,
        beside=beside,
        covers=frozenset(r.id for r in group),
        closing_piece=(anchor.other or anchor.opening).piece if anchor is not None else "",
    )


def _bent(record: TrialRecord, around: Anchor | None) -> str:
    if around is None or around.closing is None or around.closing_check is None:
        return ""
    closing = (around.closing_check, around.closing)
    return off_line(record, (around.check, around.opening), closing, doubt_of)


def _closing_doubt(anchor: Anchor, closing: PieceRecord, check: CheckRecord) -> Combined:
    """How well the check read the piece, or both checks the other one that told its drift."""
    if anchor.other is None:
        return doubt_of(closing, check)
    before = anchor.check.piece(anchor.other.piece, anchor.other.channel)
    ends = [doubt_of(anchor.other, check)]
    if before is not None:
        ends.append(doubt_of(before, anchor.check))
    return welch_satterthwaite([end.u for end in ends], [end.nu for end in ends])


def _bends(
    record: TrialRecord, group: Sequence[ReadingRecord], measure: Measure
) -> tuple[Bend, ...]:
    """What the checks around these readings found of a transmission head between its ends."""
    if measure.quantity is not Quantity.TRANSMITTANCE:
        return ()
    first = group[0]
    checks = (record.check(number) for number in (first.check_id, first.closing_check_id))
    found = (_bend(check, first.channel) for check in checks if check is not None)
    return tuple(bend for bend in found if bend is not None)


def _bend(check: CheckRecord, channel: str) -> Bend | None:
    points: list[Point] = []
    zeros: list[Point] = []
    for p in check.held:
        if p.channel == channel and p.is_judged and p.certificate is not None:
            u = float(p.certificate.standard_uncertainty)
            point = Point(p.piece, float(p.mean), doubt_of(p, check), float(p.certified), u)
            (zeros if p.certificate.kind == PieceKind.DARK.value else points).append(point)
    return bend_of(check.serial, check.id, zeros[0], points) if zeros else None


def _seconds(utc_ns: int, origin_ns: int) -> float:
    return (utc_ns - origin_ns) / 1e9
