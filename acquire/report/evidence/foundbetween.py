"""What checks that closed nothing found, as it counts in the results: a sentence for each check.

Pure; any thread.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from acquire.analysis.figures import signed
from acquire.model.channel import at_channel
from acquire.report.evidence.between import between, told_as
from acquire.report.evidence.prepared import CoveredBracket, prepared
from acquire.report.record.record import ReadingRecord, Standing, TrialRecord
from acquire.report.words.wording import listed
from acquire.units import symbol


@dataclass(slots=True)
class _Found:
    """Of one check: the readings that it came after, and what it read, in words."""

    readings: set[int] = field(default_factory=set)
    off: dict[str, None] = field(default_factory=dict)


def found_between(record: TrialRecord) -> tuple[str, ...]:
    """A sentence for each check that told a drift and closed nothing; most trials have none."""
    if not any(_pairs(record)):
        return ()
    found: dict[int, _Found] = {}
    for measure in record.plan.measures:
        for bracket in prepared(record, measure).brackets:
            number = bracket.closing_check
            if bracket.closing_as and number is not None:
                one = found.setdefault(number, _Found())
                one.readings |= bracket.covers
                one.off[_off(record, number, bracket)] = None
    return tuple(_sentence(record, number, found[number]) for number in sorted(found))


def _pairs(record: TrialRecord) -> list[bool]:
    """For each pair of checks around readings that count, whether there is one between."""
    return [
        bool(between(record, *pair))
        for pair in {_around(r) for r in record.readings if r.standing is Standing.COUNTS}
    ]


def _around(reading: ReadingRecord) -> tuple[int | None, int | None]:
    return reading.check_id, reading.closing_check_id


def _off(record: TrialRecord, number: int, bracket: CoveredBracket) -> str:
    check = record.check(number)
    assert check is not None
    piece = check.piece(bracket.closing_piece, bracket.channel)
    assert piece is not None
    unit = symbol(piece.unit)
    off = signed(float(piece.deviation), float(piece.expanded_uncertainty))
    said = f"{piece.piece}{at_channel(piece.channel)} off by {off} {unit}".rstrip()
    if piece.spread > piece.spread_limit:
        said += f" (its readings scattered by {piece.spread:.2g} {unit}, more than they may)"
    return said


def _sentence(record: TrialRecord, number: int, found: _Found) -> str:
    check = record.check(number)
    told = told_as(check) if check is not None else ""
    return (
        f"Check {number} ({told}) read {listed(list(found.off))}. It came after "
        f"{len(found.readings)} of these readings and closed nothing, yet what it found counts as "
        "drift of the meter in their uncertainty, like that of a passed check."
    )
