"""Checks against a certificate: from the words of a case file to the judgement and back."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from acquire.analysis.budget.conformance import conformance_probability
from acquire.calibration import judge
from acquire.calibration.means import Mean, mean_of, read_terms
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
from acquire.verify.calcs.answer import Answer, chosen

_TODAY = date(2026, 5, 4)
_NONE = Decimal(0)


class Check(NamedTuple):
    """Readings of one piece, and what the gate makes of them."""

    read: Mean
    certified: Decimal
    judged: Judgement

    @property
    def deviation(self) -> float:
        return float(self.read.mean - self.certified)

    @property
    def is_passed(self) -> bool:
        return self.judged.outcome is Outcome.PASS


def check(
    certified: Decimal,
    readings: Sequence[Decimal],
    limit: Decimal,
    step: Decimal = _NONE,
    expanded: Decimal = _NONE,
    k: Decimal = Decimal(2),
) -> Check:
    """One gloss tile, by the judgement that opens the gate."""
    certificate = Certificate(
        "T1", Quantity.GLOSS, "60", certified, "gloss_unit", expanded, k,
        date(2026, 1, 31), date(2027, 1, 31), "case file",
    )  # fmt: skip
    policy = CheckPolicy(
        "gloss", Quantity.GLOSS, ("60",), "gloss_unit", step,
        (PieceRule("T1", len(readings), limit, limit),), 3600.0,
    )  # fmt: skip
    piece = Piece("T1", PieceKind.GLOSS_TILE, (certificate,))
    judged = judge("meter", policy, {"T1": piece}, {("T1", "60"): readings}, _TODAY)
    return Check(mean_of(readings), certified, judged)


def tile(i: Mapping[str, Any]) -> Answer:
    """Readings of a tile, with the uncertainty of the check."""
    certified, limit, step, expanded, k = (
        Decimal(str(i[key])) for key in ("certified", "limit", "resolution", "U_cert", "k_cert")
    )
    found = check(certified, [Decimal(str(v)) for v in i["readings"]], limit, step, expanded, k)
    scatter, display = (float(t.variance) for t in read_terms(found.read, step))
    bias = found.deviation
    u = math.sqrt(scatter + display + float(expanded / k) ** 2)
    return {
        "mean": float(found.read.mean),
        "bias": bias,
        "u_rep": math.sqrt(scatter),
        "u_res": math.sqrt(display),
        "u_bias": u,
        "z": bias / u,
        "prob_abs_bias_within_limit": conformance_probability(
            bias, u, lower=-float(limit), upper=float(limit)
        ),
        "simple_acceptance_pass": abs(found.read.mean - certified) <= limit,
        "guarded_w_eq_U_pass": found.is_passed,
    }


def bare_tile(i: Mapping[str, Any]) -> Answer:
    """One reading of a tile, where nothing is known of any uncertainty."""
    chosen(i, "limit_is_inclusive", True)
    certified, reading, limit = (
        Decimal(str(i[key])) for key in ("assigned", "reading", "tolerance")
    )
    found = check(certified, [reading], limit)
    return {"difference": found.deviation, "pass": found.is_passed}


CALCS = {"checks.tile": tile, "gloss.check_tile": bare_tile}
