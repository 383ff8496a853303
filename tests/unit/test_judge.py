"""Judging a check: guard band, uncertainty of the check, certificates, spread."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from acquire.calibration import judge
from acquire.calibration.coverage import t95
from acquire.model import (
    Certificate,
    CheckPolicy,
    Judgement,
    Outcome,
    Piece,
    PieceKind,
    PieceRule,
    Quantity,
)

TODAY = date(2026, 5, 4)


def tile(value: str = "93.2", expanded: str = "0.3", due: date = date(2027, 1, 31)) -> Piece:
    return Piece(
        "T1",
        PieceKind.GLOSS_TILE,
        (
            Certificate(
                "T1",
                Quantity.GLOSS,
                "20",
                Decimal(value),
                "gloss_unit",
                Decimal(expanded),
                Decimal(2),
                date(2026, 1, 31),
                due,
                "Harbour Metrology",
            ),
        ),
    )


def judged(readings: list[str], limit: str, piece: Piece | None = None) -> Judgement:
    policy = CheckPolicy(
        "p",
        Quantity.GLOSS,
        ("20",),
        "gloss_unit",
        Decimal("0.1"),
        (PieceRule("T1", 3, Decimal(limit), Decimal("0.5")),),
        3600.0,
    )
    piece = piece or tile()
    return judge(
        "shore", policy, {"T1": piece}, {("T1", "20"): [Decimal(r) for r in readings]}, TODAY
    )


def test_the_figures_of_a_worked_tile_check_are_reproduced() -> None:
    # Worked example: GUM combination of certificate, scatter and resolution; bias 0.4,
    # u_bias = 0.155991..., simple acceptance at limit 0.5 passes, guarded acceptance does not.
    # Source: own example after JCGM 100:2008, 5.1.2 and JCGM 106:2012, 8.3.2 (case TILE-block-1).
    found = judged(["93.6", "93.5", "93.7", "93.6", "93.6"], "0.5").pieces[0]
    assert found.mean == Decimal("93.6000")
    assert found.deviation == Decimal("0.4000")
    # nu_eff = 0.155991^4 / (0.0316228^4 / 4) = 2368 -> table G.2 entry for 100: 1.984
    assert found.expanded_uncertainty == (
        Decimal("1.984") * Decimal("0.15599145275730128")
    ).quantize(Decimal("0.0001"))
    assert found.outcome is Outcome.UNDECIDED


@pytest.mark.parametrize(
    ("mean", "outcome"),
    [
        ("93.2", Outcome.PASS),
        ("93.8", Outcome.PASS),
        ("94.0", Outcome.UNDECIDED),
        ("94.4", Outcome.UNDECIDED),
        ("94.6", Outcome.FAIL),
        ("91.8", Outcome.FAIL),
        ("92.4", Outcome.UNDECIDED),
    ],
)
def test_the_outcome_keeps_a_guard_band_on_both_sides_of_the_limit(
    mean: str, outcome: Outcome
) -> None:
    # U = 1.960 * sqrt(0.15^2 + 0.1^2/12) = 0.299; the limit is 1.0.
    assert judged([mean, mean, mean], "1.0").outcome is outcome


def test_a_failure_names_figure_limit_and_next_step() -> None:
    found = judged(["95.6", "95.6", "95.6"], "1.0")
    assert found.message == (
        "T1 at 20° read 95.60 GU, +2.40 from its certified 93.2 GU; "
        "limit 1.0 GU, uncertainty 0.30 GU: outside"
    )
    assert "coatbench check shore" in found.next_step


def test_a_piece_that_fails_outweighs_one_that_is_undecided() -> None:
    policy = CheckPolicy(
        "p", Quantity.GLOSS, ("20",), "gloss_unit", Decimal("0.1"),
        tuple(PieceRule(name, 1, Decimal(1), Decimal("0.5")) for name in ("T1", "T2")), 3600.0,
    )  # fmt: skip
    read = {("T1", "20"): [Decimal("95.6")], ("T2", "20"): [Decimal("94.0")]}
    pieces = {"T1": tile(), "T2": replace(tile(), id="T2")}
    found = judge("shore", policy, pieces, read, TODAY)
    assert [p.outcome for p in found.pieces] == [Outcome.FAIL, Outcome.UNDECIDED]
    assert found.outcome is Outcome.FAIL


def test_a_rocking_meter_is_undecided_even_when_its_mean_is_right() -> None:
    found = judged(["92.2", "93.2", "94.2"], "3.0")
    assert found.outcome is Outcome.UNDECIDED
    assert "scatters by 1.00 GU" in found.message


def test_an_overdue_certificate_cannot_open_the_gate() -> None:
    found = judged(["93.2", "93.2", "93.2"], "1.0", tile(due=date(2026, 5, 3)))
    assert found.outcome is Outcome.UNDECIDED
    assert "ran out on 2026-05-03" in found.message


@pytest.mark.parametrize(
    "piece",
    [
        tile(due=date(2026, 5, 3)),
        replace(tile(), certificates=(replace(tile().certificates[0], issued=date(2026, 5, 5)),)),
    ],
)
def test_a_piece_without_a_valid_certificate_keeps_what_was_found_of_it(piece: Piece) -> None:
    found = judged(["93.3", "93.4", "93.5"], "1.0", piece).pieces[0]
    valid = judged(["93.3", "93.4", "93.5"], "1.0").pieces[0]
    assert (found.outcome, valid.outcome) == (Outcome.UNDECIDED, Outcome.PASS)
    assert (found.mean, found.spread) == (Decimal("93.4"), Decimal("0.1"))
    assert found.deviation == Decimal("0.2")
    assert found.expanded_uncertainty == valid.expanded_uncertainty > 0


def test_a_piece_outside_its_limit_is_told_also_where_its_certificate_ran_out() -> None:
    found = judged(["95.6", "95.6", "95.6"], "1.0", tile(due=date(2026, 5, 3)))
    assert found.outcome is Outcome.UNDECIDED
    assert found.message == (
        "the certificate of T1 at 20° ran out on 2026-05-03; have it renewed; "
        "T1 at 20° read 95.60 GU, +2.40 from its certified 93.2 GU; "
        "limit 1.0 GU, uncertainty 0.30 GU: outside"
    )


def test_a_piece_that_was_read_too_few_times_has_no_uncertainty() -> None:
    found = judged(["93.3", "93.5"], "1.0").pieces[0]
    assert (found.mean, found.deviation) == (Decimal("93.4"), Decimal("0.2"))
    assert found.expanded_uncertainty == 0


def test_a_certificate_is_good_from_its_first_day_through_its_due_day() -> None:
    assert judged(["93.2"] * 3, "1.0", tile(due=TODAY)).outcome is Outcome.PASS
    (certificate,) = tile().certificates
    today = replace(tile(), certificates=(replace(certificate, issued=TODAY),))
    assert judged(["93.2"] * 3, "1.0", today).outcome is Outcome.PASS


def test_too_few_readings_are_undecided() -> None:
    found = judged(["93.2", "93.2"], "1.0")
    assert found.outcome is Outcome.UNDECIDED
    assert "read 2 times of 3" in found.message


def test_the_coverage_factors_are_those_of_the_guide() -> None:
    # JCGM 100:2008, table G.2, p = 95 %; a cut is to the next lower entry (G.4.1).
    assert [t95(Decimal(n)) for n in (1, 2, 4, 10, 50)] == [
        Decimal(x) for x in ("12.71", "4.30", "2.78", "2.23", "2.01")
    ]
    assert t95(Decimal("4.9")) == Decimal("2.78")
    assert t95(None) == Decimal("1.960")
    with pytest.raises(ValueError, match="no coverage factor"):
        t95(Decimal("0.5"))


def test_the_coverage_factors_agree_with_the_quantiles_of_student() -> None:
    stats = pytest.importorskip("scipy.stats")
    for n in (1, 2, 3, 5, 8, 13, 20, 30, 50, 100):
        assert float(t95(Decimal(n))) == pytest.approx(stats.t.ppf(0.975, n), abs=0.006)
