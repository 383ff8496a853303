"""Linearity within a check: the pieces between the zero and the highest one lie on a line."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import pairwise

import pytest

from acquire.calibration import judge
from acquire.calibration.linearity import linearity
from acquire.model import (
    Certificate,
    CheckPolicy,
    LinearityJudgement,
    Outcome,
    Piece,
    PieceKind,
    PieceRule,
    Quantity,
)

TODAY = date(2026, 5, 4)
CERTIFIED = {"T1": ("93.2", "0.3"), "T2": ("48.6", "0.2"), "Z0": ("0.0", "0.05")}
READ = {"T1": ("93.1", "93.3", "93.2"), "T2": ("49.2", "49.1", "49.3"), "Z0": ("0.0", "0.1", "0.0")}


def piece(name: str) -> Piece:
    value, doubt = CERTIFIED[name]
    certificate = Certificate(
        name, Quantity.GLOSS, "20", Decimal(value), "gloss_unit", Decimal(doubt), Decimal(2),
        date(2026, 1, 31), date(2027, 1, 31), "Harbour Metrology",
    )  # fmt: skip
    kind = PieceKind.BLACK_TRAP if name == "Z0" else PieceKind.GLOSS_TILE
    return Piece(name, kind, (certificate,))


def policy(*names: str, limit: str | None = "1.0") -> CheckPolicy:
    return CheckPolicy(
        "p", Quantity.GLOSS, ("20",), "gloss_unit", Decimal("0.1"),
        tuple(PieceRule(name, 3, Decimal(2), Decimal("0.5")) for name in names), 3600.0,
        linearity_limit=None if limit is None else Decimal(limit),
    )  # fmt: skip


def readings(read: Mapping[str, tuple[str, ...]] = READ) -> dict[tuple[str, str], list[Decimal]]:
    return {(name, "20"): [Decimal(v) for v in values] for name, values in read.items()}


def lines(by: CheckPolicy, **read: tuple[str, ...]) -> tuple[LinearityJudgement, ...]:
    return linearity(by, {n: piece(n) for n in CERTIFIED}, readings({**READ, **read}))


def test_the_piece_between_the_ends_is_held_against_the_straight_line_through_them() -> None:
    (line,) = lines(policy("T1", "T2", "Z0"))
    # 49.2 - (0.0333.. + (93.2 - 0.0333..) x 48.6/93.2), by hand.
    wanted = 49.2 - (0.1 / 3 + (93.2 - 0.1 / 3) * 48.6 / 93.2)
    assert float(line.departure) == pytest.approx(wanted, abs=5e-5)
    assert (line.piece, line.zero, line.high) == ("T2", "Z0", "T1")
    assert line.outcome is Outcome.PASS


def test_its_uncertainty_is_that_of_a_numerical_propagation() -> None:
    # JCGM 100:2008, 5.1.3 note 2: sensitivities by changing each input by its own uncertainty.
    (line,) = lines(policy("T1", "T2", "Z0"))
    means = {"T1": 93.2, "T2": 49.2, "Z0": 0.1 / 3}
    scatter = {"T1": 0.1, "T2": 0.1, "Z0": 0.1 / math.sqrt(3)}
    certified = {name: float(value) for name, (value, _) in CERTIFIED.items()}

    def departure(x: dict[str, float], c: dict[str, float]) -> float:
        p = (c["T2"] - c["Z0"]) / (c["T1"] - c["Z0"])
        return x["T2"] - (1 - p) * x["Z0"] - p * x["T1"]

    at = departure(means, certified)
    parts: list[tuple[float, float]] = []
    for name, mean in means.items():
        slope = departure({**means, name: mean + 1e-6}, certified) - at
        parts.append((abs(slope) / 1e-6 * scatter[name] / math.sqrt(3), 2))
        parts.append((abs(slope) / 1e-6 * 0.1 / math.sqrt(12), math.inf))
        u = float(CERTIFIED[name][1]) / 2
        slope = departure(means, {**certified, name: certified[name] + 1e-6}) - at
        parts.append((abs(slope) / 1e-6 * u, math.inf))
    total = math.hypot(*(u for u, _ in parts))
    effective = total**4 / sum(u**4 / dof for u, dof in parts)
    # Factors of JCGM 100:2008, table G.2; the degrees of freedom are cut to an entry (G.4.1).
    entries = {20: 2.09, 25: 2.06, 30: 2.04, 35: 2.03, 40: 2.02, 45: 2.01, 50: 2.01, 100: 1.984}
    factor = entries[max(k for k in entries if k <= effective)]
    assert float(line.expanded_uncertainty) == pytest.approx(factor * total, abs=6e-5)


def test_without_a_zero_the_line_goes_through_the_origin() -> None:
    (line,) = lines(policy("T1", "T2"))
    assert line.zero == ""
    assert float(line.departure) == pytest.approx(49.2 - 93.2 * 48.6 / 93.2, abs=5e-5)
    assert "the straight line from 0 to T1" in line.message


def test_an_offset_and_a_gain_that_all_pieces_share_are_no_bend() -> None:
    def shifted(name: str) -> tuple[str, ...]:
        return tuple(str(Decimal(CERTIFIED[name][0]) * Decimal("1.02") + 1) for _ in range(3))

    (line,) = lines(policy("T1", "T2", "Z0"), **{n: shifted(n) for n in CERTIFIED})
    assert line.departure == 0


def test_the_outcome_goes_by_the_guard_band() -> None:
    outcomes = []
    for shift in range(0, 30):
        read = tuple(str(Decimal("48.6") + Decimal(shift) / 10) for _ in range(3))
        (line,) = lines(policy("T1", "T2", "Z0"), T2=read)
        outcomes.append(line.outcome)
        off, doubt = abs(line.departure), line.expanded_uncertainty
        assert (line.outcome is Outcome.PASS) == (off + doubt <= line.limit)
        assert (line.outcome is Outcome.FAIL) == (off - doubt > line.limit)
    order = [Outcome.PASS, Outcome.UNDECIDED, Outcome.FAIL]
    assert list(dict.fromkeys(outcomes)) == order
    assert all(order.index(a) <= order.index(b) for a, b in pairwise(outcomes))


def test_a_bent_meter_fails_though_each_piece_is_inside_its_own_limit() -> None:
    by = policy("T1", "T2", "Z0", limit="0.5")
    read = readings({**READ, "T2": ("50.0", "50.1", "50.0")})
    pieces = {n: piece(n) for n in CERTIFIED}
    found = judge("shore", by, pieces, read, TODAY)
    assert {p.outcome for p in found.pieces} == {Outcome.PASS}
    assert found.outcome is Outcome.FAIL
    assert "off the straight line from Z0 to T1" in found.message
    assert "not linear" in found.message
    without = judge("shore", replace(by, linearity_limit=None), pieces, read, TODAY)
    assert (without.outcome, without.linearity) == (Outcome.PASS, ())


def test_a_piece_that_was_not_read_in_full_is_left_out_and_leaves_the_check_undecided() -> None:
    by = policy("T1", "T2", "Z0")
    read = readings({**READ, "T2": ("49.2",)})
    found = judge("shore", by, {n: piece(n) for n in CERTIFIED}, read, TODAY)
    assert (found.linearity, found.outcome) == ((), Outcome.UNDECIDED)
