"""Checks against a certificate: from the words of a case file to the judgement and back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from acquire.analysis.conformance import conformance_probability
from acquire.calibration import judge
from acquire.calibration.means import mean_of, read_terms
from acquire.model import (
    Certificate,
    CheckPolicy,
    Outcome,
    Piece,
    PieceKind,
    PieceRule,
    Quantity,
)
from acquire.verify.calcs.answer import Answer

_TODAY = date(2026, 5, 4)


def tile(i: Mapping[str, Any]) -> Answer:
    """One gloss tile, by the judgement that opens the gate."""
    certified, limit, step, expanded, k = (
        Decimal(str(i[key])) for key in ("certified", "limit", "resolution", "U_cert", "k_cert")
    )
    readings = [Decimal(str(v)) for v in i["readings"]]
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
    mean = mean_of(readings)
    scatter, display = (float(t.variance) for t in read_terms(mean, step))
    bias = float(mean.mean - certified)
    u = math.sqrt(scatter + display + float(expanded / k) ** 2)
    return {
        "mean": float(mean.mean),
        "bias": bias,
        "u_rep": math.sqrt(scatter),
        "u_res": math.sqrt(display),
        "u_bias": u,
        "z": bias / u,
        "prob_abs_bias_within_limit": conformance_probability(
            bias, u, lower=-float(limit), upper=float(limit)
        ),
        "simple_acceptance_pass": abs(mean.mean - certified) <= limit,
        "guarded_w_eq_U_pass": judged.outcome is Outcome.PASS,
    }


CALCS = {"checks.tile": tile}
