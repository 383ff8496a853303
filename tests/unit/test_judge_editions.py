"""Editions of the rules: how figures are written, what every reading tells, and old checks."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.calibration import judge, judge_broken_off
from acquire.calibration.edition import EDITION, EDITIONS
from acquire.calibration.written import written_by
from acquire.live.verdict import verdict
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
from acquire.report.proof.rejudge import rejudge
from acquire.store import StoreReader
from tests.yard import Yard, pieces, policy

ON = date(2026, 5, 4)


def weight(name: str, kind: PieceKind, newtons: str, expanded: str) -> Piece:
    certificate = Certificate(
        name, Quantity.FORCE, "", Decimal(newtons), "newton", Decimal(expanded), Decimal(2),
        date(2026, 1, 31), date(2027, 1, 31), "Harbour Metrology",
    )  # fmt: skip
    return Piece(name, kind, (certificate,))


# Entered in gram-force, as a bench file may have them.
GAUGE = CheckPolicy(
    "pull", Quantity.FORCE, ("",), "newton", Decimal("0.01"),
    (
        PieceRule("W0", 3, Decimal("0.02941995"), Decimal("0.01961330")),
        PieceRule("W200", 3, Decimal("0.03922660"), Decimal("0.01961330")),
    ),
    3600.0,
)  # fmt: skip
WEIGHTS = {
    "W0": weight("W0", PieceKind.NO_LOAD, "0E-8", "0"),
    "W200": weight("W200", PieceKind.CHECK_WEIGHT, "1.96133000", "0.001"),
}


def gauge(edition: int, *read: str) -> Judgement:
    values = {("W0", ""): [Decimal("0.00")] * 3, ("W200", ""): [Decimal(v) for v in read]}
    return judge("puller", GAUGE, WEIGHTS, values, ON, edition)


def test_figures_go_by_the_display_and_the_uncertainty_and_a_zero_has_no_sign() -> None:
    zero, load = gauge(EDITION, "1.96", "1.96", "1.96").pieces
    assert zero.message == (
        "W0 read 0.000 N, 0.000 from its certified 0 N; limit 0.02942 N, uncertainty 0.006 N: "
        "inside"
    )
    assert load.message == (
        "W200 read 1.960 N, -0.001 from its certified 1.961 N; limit 0.03923 N, uncertainty "
        "0.006 N: inside"
    )
    assert [str(zero.certified), str(zero.limit)] == ["0", "0.02941995"]
    assert [str(load.certified), str(load.deviation)] == ["1.96133", "-0.0013"]
    (scattering,) = gauge(EDITION, "1.96", "1.90", "2.05").pieces[1:]
    assert scattering.message == (
        "W200 scatters by 0.075 N, more than 0.01961 N: the meter rocks or the piece is dirty"
    )


@pytest.mark.parametrize(
    ("doubt", "resolution", "figure", "value", "signed"),
    [
        ("0.30", "0.1", "2.4", "2.40", "+2.40"),
        ("0.0996", "0", "2.4", "2.40", "+2.40"),
        ("15.2", "0.1", "3.55", "4", "+4"),
        ("0.0004", "0.0001", "-0.00004", "0.0000", "0.0000"),
        ("0.0004", "0.0001", "-0.00006", "-0.0001", "-0.0001"),
        ("0", "0", "1.234", "1.23", "+1.23"),
        ("1234", "0.1", "5.6", "6", "+6"),
    ],
)
def test_the_place_of_a_figure(
    doubt: str, resolution: str, figure: str, value: str, signed: str
) -> None:
    write = written_by(EDITION, Decimal(doubt), Decimal(resolution))
    assert write.value(Decimal(figure)) == value
    assert write.signed(Decimal(figure)) == signed


def test_the_first_edition_writes_as_it_wrote() -> None:
    zero, load = gauge(1, "1.96", "1.96", "1.96").pieces
    assert zero.message == (
        "W0 read 0.00 N, +0.00 from its certified 0E-8 N; limit 0.02941995 N, uncertainty 0.01 N: "
        "inside"
    )
    assert load.message == (
        "W200 read 1.96 N, -0.00 from its certified 1.96133000 N; limit 0.03922660 N, uncertainty "
        "0.01 N: inside"
    )
    assert [str(zero.certified), str(load.certified)] == ["0E-8", "1.96133000"]
    (scattering,) = gauge(1, "1.96", "1.90", "2.05").pieces[1:]
    assert "scatters by 0.08 N, more than 0.01961330 N" in scattering.message


# -- every reading outside -------------------------------------------------------------------------

TILES = {piece.id: piece for piece in pieces()}
THREE = replace(policy(), rules=tuple(replace(r, readings=3) for r in policy().rules))


def tile(*read: str, edition: int = EDITION, by: CheckPolicy = THREE) -> Judgement:
    values = {("T1", "20"): [Decimal(v) for v in read], ("Z0", "20"): [Decimal("0.0")] * 3}
    return judge("shore", by, TILES, values, ON, edition)


def test_readings_that_scatter_far_outside_are_no_rocking_of_a_right_meter() -> None:
    # Mean 4.4 off, and 4.3 of uncertainty: by the mean alone nothing would be decided.
    found = tile("95.6", "97.8", "99.4")
    assert found.outcome is Outcome.FAIL
    assert found.pieces[0].message.endswith(": each of its 3 readings lies outside by itself")
    assert tile("91.0", "89.0", "86.0").outcome is Outcome.FAIL
    assert tile("95.6", "97.8", "99.4", edition=1).outcome is Outcome.UNDECIDED


@pytest.mark.parametrize(
    ("read", "by"),
    [
        # Scatter over its limit, and outside by the mean as well.
        (("99.5", "98.9", "98.6"), THREE),
        # Two that agree well enough, of which the mean alone is not known well enough.
        (("95.1", "95.6"), policy()),
    ],
)
def test_every_reading_outside_is_found_whatever_mean_and_scatter_say(
    read: tuple[str, ...], by: CheckPolicy
) -> None:
    assert tile(*read, by=by).outcome is Outcome.FAIL
    assert tile(*read, by=by, edition=1).outcome is Outcome.UNDECIDED


@pytest.mark.parametrize("read", [("95.6", "97.8", "93.4"), ("95.6", "97.8", "90.1")])
def test_one_reading_inside_or_on_the_other_side_leaves_it_undecided(read: tuple[str, ...]) -> None:
    assert tile(*read).outcome is Outcome.UNDECIDED


@pytest.mark.parametrize(
    ("value", "outcome"), [("95.04", Outcome.FAIL), ("95.03", Outcome.UNDECIDED)]
)
def test_a_single_reading_is_held_with_the_scatter_that_the_policy_allows(
    value: str, outcome: Outcome
) -> None:
    """U of one: 1.96 times the root of 0.15, 0.4 and 0.1/sqrt(12) squared is 0.839; limit 1.0.

    So from 93.2 + 1.839 on it is outside. The factor is that of the normal law (JCGM 100, G.6.4).
    """
    values = {("T1", "20"): [Decimal(value)]}
    found = judge_broken_off(THREE, TILES, values, values, ON, "by hand", "")
    assert found.outcome is outcome
    first = judge_broken_off(THREE, TILES, values, values, ON, "by hand", "", 1)
    assert first.outcome is Outcome.UNDECIDED
    if outcome is Outcome.FAIL:
        (piece,) = found.pieces
        assert (piece.count, piece.expanded_uncertainty) == (1, Decimal("0.8392"))
        assert f"read {value} GU at its one press, +1.84 from its certified" in found.message


def test_a_good_press_of_the_piece_clears_a_slipped_one() -> None:
    good = {("T1", "20"): [Decimal("93.2")]}
    everything = {("T1", "20"): [Decimal("95.6"), Decimal("93.2")]}
    assert judge_broken_off(THREE, TILES, good, everything, ON, "", "").outcome is (
        Outcome.UNDECIDED
    )
    slipped = {("T1", "20"): [Decimal("95.6")]}
    assert judge_broken_off(THREE, TILES, {}, slipped, ON, "", "").outcome is Outcome.FAIL


def test_a_piece_without_a_certificate_is_found_nowhere() -> None:
    values = {("T1", "20"): [Decimal("95.6")]}
    assert judge_broken_off(THREE, {}, values, values, ON, "", "").outcome is Outcome.UNDECIDED


def test_a_check_given_up_after_one_press_far_outside_makes_what_lies_before_it_suspect(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "95.6")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    yard.check("shore")
    (found,) = yard.readings("role = 'run'")
    assert (found["bracket"], found["counts"], found["closing_check_id"]) == ("suspect", 0, 2)
    with StoreReader(yard.bench.store) as store:
        _, lines = verdict(store, 2, yard.clock.now().utc_ns)
        assert rejudge(store, 2).holds
    assert any("at its one press, +2.40 from its certified 93.2 GU" in line for line in lines)
    yard.close()


# -- older judgements ------------------------------------------------------------------------------


def test_a_check_of_the_first_edition_comes_out_again_by_that_to_the_last_letter(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore", tile="93.3")
    yard.close()
    values = {("T1", "20"): [Decimal("93.3")] * 2, ("Z0", "20"): [Decimal("0.0")] * 2}
    first = judge("shore", policy(), TILES, values, ON, 1)
    with closing(sqlite3.connect(yard.bench.store)) as conn:
        for table in ("check_judgement", "piece_judgement"):
            conn.execute(f"DROP TRIGGER {table}_no_update")
        conn.execute(
            "UPDATE check_judgement SET used_json = replace(used_json, :now, '\"edition\":1')",
            {"now": f'"edition":{EDITION}'},
        )
        for p in first.pieces:
            conn.execute(
                "UPDATE piece_judgement SET message = ? WHERE piece = ?", (p.message, p.piece)
            )
        conn.commit()
    with StoreReader(yard.bench.store) as store:
        assert rejudge(store, 1).holds
    with closing(sqlite3.connect(yard.bench.store)) as conn:
        conn.execute("UPDATE check_judgement SET used_json = replace(used_json, ':1,', ':2,')")
        conn.commit()
    with StoreReader(yard.bench.store) as store:
        assert any("message" in told for told in rejudge(store, 1).unlike)


def test_a_check_that_was_given_up_under_the_first_edition_comes_out_by_that_too(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "95.6")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    yard.close()
    with closing(sqlite3.connect(yard.bench.store)) as conn:
        conn.execute("DROP TRIGGER check_judgement_no_update")
        conn.execute("DROP TRIGGER piece_judgement_no_delete")
        conn.execute("DELETE FROM piece_judgement")
        conn.execute(
            "UPDATE check_judgement SET outcome = 'undecided', used_json = "
            "replace(used_json, :now, '\"edition\":1'), "
            "message = 'the check was abandoned: by the person at the bench'",
            {"now": f'"edition":{EDITION}'},
        )
        conn.commit()
    with StoreReader(yard.bench.store) as store:
        assert rejudge(store, 1).holds


def test_the_edition_in_use_is_one_that_can_judge_again() -> None:
    assert max(EDITIONS) == EDITION
    assert sorted(EDITIONS) == list(range(1, EDITION + 1))
