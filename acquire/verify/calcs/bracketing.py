"""Checks before and after: from the words of a case file to the calls of the analysis and back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from acquire.analysis.budget.reach import reach_of
from acquire.analysis.budget.uncertainty import (
    Combined,
    Distribution,
    Kind,
    Term,
    welch_satterthwaite,
)
from acquire.analysis.cells.cell import gather
from acquire.analysis.cells.contrast import value_of
from acquire.analysis.checks import drift
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.durability.crossing import crossing_of
from acquire.analysis.laws.student import two_sided_p
from acquire.analysis.meter.checksread import checks_read
from acquire.analysis.samples.sample import Sample
from acquire.model import DriftCorrection
from acquire.verify.calcs.answer import Answer, chosen, said
from acquire.verify.calcs.checks import check
from acquire.verify.calcs.textbook import two_sample

_NONE = Decimal(0)


def offset_correction(i: Mapping[str, Any]) -> Answer:
    opening = drift.Check(i["x0"], i["u0"], i["t0"])
    closing = drift.Check(i["x1"], i["u1"], i["t1"])
    reading = drift.Check(i["r"], i["ur"], i["t"])
    result = drift.offset_corrected(reading, i["c"], i["uc"], opening, closing)
    return {
        "tau": result.position,
        "error_open": i["x0"] - i["c"],
        "error_close": i["x1"] - i["c"],
        "drift": i["x1"] - i["x0"],
        "correction": result.correction,
        "corrected": result.value,
        "u_drift_term": result.u_checks,
        "u_corrected": result.u,
        "inside_bracket": True,
    }


def corrected_difference(i: Mapping[str, Any]) -> Answer:
    """Two readings of one bracket as a contrast, with a line for each check as results have it."""
    ends = drift.Check(i["x0"], i["u0"], 0), drift.Check(i["x1"], i["u1"], 1)
    read = [drift.Check(i[f"r{side}"], i[f"u{side}"], i[f"t{side}"]) for side in "ab"]
    corrected = [drift.offset_corrected(r, i["c"], i["uc"], *ends) for r in read]
    bracket = Bracket(
        "read", 0.0, 1.0, i["x1"] - i["x0"], i["uc"], opening_deviation=i["x0"] - i["c"],
        opening_doubt=Combined(i["u0"], math.inf), closing_doubt=Combined(i["u1"], math.inf),
        opening_check=1, closing_check=2, correction=DriftCorrection.OFFSET,
    )  # fmt: skip
    samples = [
        Sample(side, side, "read", 1, "", found.value, found.position, number)
        for number, (side, found) in enumerate(zip("ab", corrected, strict=True))
    ]
    first, second = gather([("a", "a"), ("b", "b")], ["read"], samples, [bracket], 0.0)
    contrast = value_of(first).minus(value_of(second))
    lines = checks_read(contrast.shares(), ["the bracket"], 0.0, "gloss_unit", is_offset_in=True)
    us = [*(r.u for r in read), *(line.contribution for line in lines)]
    return {
        "corrected_a": corrected[0].value,
        "corrected_b": corrected[1].value,
        "difference": contrast.estimate,
        "u_difference": welch_satterthwaite(us, [math.inf] * len(us)).u,
        "u_if_treated_as_independent": math.hypot(*(found.u for found in corrected)),
        "uncorrected_difference": read[0].value - read[1].value,
    }


def gain_correction(i: Mapping[str, Any]) -> Answer:
    result = drift.gain_corrected(i["reading"], i["certified"], i["open"], i["close"], i["tau"])
    offset = drift.offset_corrected(
        drift.Check(i["reading"], 0, i["tau"]),
        i["certified"],
        0,
        drift.Check(i["open"], 0, 0),
        drift.Check(i["close"], 0, 1),
    )
    return {
        "gain_open": result.gain_open,
        "gain_close": result.gain_close,
        "gain_at_tau": result.gain,
        "corrected_ratio": result.value,
        "corrected_offset": offset.value,
    }


def allowance(i: Mapping[str, Any]) -> Answer:
    chosen(i, "readings_uniform_in_time", True)
    result = drift.uncorrected_allowance(i["error_open"], i["error_close"])
    return {
        "mid_correction": result.mid_correction,
        "half_width": result.half_width,
        "u_rectangular": result.u,
        "rms_error_if_nothing_corrected": result.rms_error,
    }


def drift_test(i: Mapping[str, Any]) -> Answer:
    """The drift as any difference is judged: by its lines, one of a check each."""
    if isinstance(i["open"], list):
        result = two_sample(i["close"], i["open"])
        return {
            "drift": result.estimate,
            "u_drift": result.se,
            "t": said(result.t),
            "df": result.df,
            "p": said(result.p),
        }
    apart = i["close"] - i["open"]
    names = ("opening check", "closing check")
    found = reach_of(
        [Term(name, Kind.B, u, math.inf, 1.0, Distribution.NORMAL, "case file")
         for name, u in zip(names, (i["u_open"], i["u_close"]), strict=True)]
    )  # fmt: skip
    return {
        "drift": apart,
        "u_drift": found.u,
        "z": apart / found.u,
        "significant": abs(apart) > found.half_width(two_sided_p(i["k"], math.inf)),
        "p_two_sided_normal": found.p(abs(apart)),
    }


def limits(i: Mapping[str, Any]) -> Answer:
    """Errors of both checks and the drift, each judged as the gate judges a piece."""
    limit, opening, closing = (
        Decimal(str(i[key])) for key in ("limit", "error_open", "error_close")
    )
    moved = closing - opening
    is_inside = [check(_NONE, [e], limit).is_passed for e in (opening, closing, moved)]
    crossed = None
    if is_inside[0] and not is_inside[1]:
        errors = [float(opening), float(closing)]
        edge = math.copysign(float(limit), moved)
        crossed = crossing_of([0, 1], errors, edge, falls=moved < 0).count
    return {
        "open_within": is_inside[0],
        "close_within": is_inside[1],
        "drift": float(moved),
        "drift_within_limit": is_inside[2],
        "time_fraction_when_limit_crossed": said(crossed, "none"),
    }


CALCS = {
    "bracketing.difference": corrected_difference,
    "bracketing.drift_test": drift_test,
    "bracketing.gain_correction": gain_correction,
    "bracketing.limits": limits,
    "bracketing.offset_correction": offset_correction,
    "bracketing.uncorrected_allowance": allowance,
}
