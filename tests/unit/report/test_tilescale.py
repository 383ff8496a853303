"""What a gloss would be on the scale of a check's own tile and trap, told beside the results."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.report.evidence.evidence import evidence_of
from acquire.report.evidence.tilescale import tile_scale_lines
from acquire.report.record.loading import load_trial
from acquire.report.record.record import TrialRecord
from tests.unit.reported import small


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> TrialRecord:
    yard = small(tmp_path_factory.mktemp("tiles"))
    store = yard.bench.store
    yard.close()
    return load_trial(store, "small")


def test_a_level_is_told_on_the_scale_of_tile_and_trap(record: TrialRecord) -> None:
    """T1 is 93.2 GU and read 93.2, then 93.3; the mean of all zones is 81.35.

    81.35 x 93.2 / 93.3 = 81.2628.
    """
    (evidence, *_) = evidence_of(record)
    first, second = tile_scale_lines(evidence)
    assert first.startswith(
        "On the scale of T1 and Z0 as check 1 read them (two-point), a gloss of 81.35 GU, the mean "
        "of all zones, would move by less than 0.05 GU."
    )
    assert "would be 81.26 GU (−0.09)" in second


def test_without_a_trap_or_of_another_quantity_nothing_is_told(record: TrialRecord) -> None:
    (evidence, *_) = evidence_of(record)
    one = evidence.anchors[0]
    no_trap = replace(one.check, pieces=tuple(p for p in one.check.pieces if p.certified > 0))
    anchors = (replace(one, check=no_trap),)
    assert list(tile_scale_lines(replace(evidence, anchors=anchors))) == []


def test_a_tile_that_lies_off_the_line_is_told_beside_its_bend_in_the_budgets(
    record: TrialRecord,
) -> None:
    """T1 and Z0 read right, and T2 of 52.6 GU reads 52.3: 0.3 below the line between these."""
    (evidence, *_) = evidence_of(record)
    one = evidence.anchors[0]
    (tile,) = (p for p in one.check.pieces if p.piece == "T1")
    second = replace(tile, piece="T2", certified=Decimal("52.6"), mean=Decimal("52.3"))
    bent = replace(one.check, pieces=(*one.check.pieces, second))
    anchors = (replace(one, check=bent),)
    (told,) = tile_scale_lines(replace(evidence, anchors=anchors))
    assert "On the scale of T1 and Z0" in told
    assert "But T2 lies −0.30 GU off that line" in told
    assert "which the budgets have as the bend of its scale" in told
    straight = replace(second, mean=Decimal("52.6"))
    check = replace(one.check, pieces=(*one.check.pieces, straight))
    (told,) = tile_scale_lines(replace(evidence, anchors=(replace(one, check=check),)))
    assert "off that line" not in told
