"""Slickness: from the words of a case file to the calls of the analysis and back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import numpy as np

from acquire.analysis.budget.uncertainty import Distribution, Kind, Term, budget
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.gaugezero import Zero, zero_off
from acquire.analysis.laws.root import crossing
from acquire.analysis.meter.friction import Friction
from acquire.analysis.samples.sample import Sample
from acquire.analysis.slickness import precision
from acquire.analysis.slickness.effects import dwell_fit, first_pull
from acquire.analysis.slickness.slope import STEEPEST_DEG, Slope, slope_of
from acquire.analysis.slickness.steady import first_peak, steady_of
from acquire.calibration.weights import STANDARD_GRAVITY
from acquire.model import Angle, SledCorrection, SledSpec
from acquire.units import convert
from acquire.verify.calcs.answer import Answer, said

_ANGLES = {SledCorrection.PULL_ANGLE: "alpha_deg", SledCorrection.TILT: "tilt_deg"}


def _friction(i: Mapping[str, Any], corrections: tuple[SledCorrection, ...] = ()) -> Friction:
    """A sled as a plan has it, with the angles that a case gives."""
    line, tilt = (
        Angle(_exact(i[key]), Decimal(0)) if key in i else None for key in _ANGLES.values()
    )
    mass, u, g = _exact(i["mass_kg"]), _exact(i.get("u_m", 0)), _exact(i["g"])
    return Friction(SledSpec(mass, u, f"{mass} kg", g, corrections, line, tilt))


def _exact(value: float) -> Decimal:
    return Decimal(str(value))


def _in(value: float, unit: str, wanted: str) -> float:
    return float(convert(_exact(value), unit, wanted))


def coefficients(i: Mapping[str, Any]) -> Answer:
    if "F_N" in i:
        return {"mu": _friction(i).slope(i["F_N"]).mu}
    sled = _friction({"mass_kg": _in(i["sled_g"], "gram", "kilogram"), "g": STANDARD_GRAVITY})
    static, kinetic = (
        None if i.get(key) is None else sled.slope(_in(i[key], "gram_force", "newton")).mu
        for key in ("peak_gf", "mean_gf")
    )
    ratio = static / kinetic if static is not None and kinetic else None
    return {"mu_s": said(static), "mu_k": said(kinetic), "mu_s_over_mu_k": said(ratio)}


def tare_corrected(i: Mapping[str, Any]) -> Answer:
    reading = Sample("", "", "", 1, "", i["F_N"], 0.0, 1)
    found = zero_off([reading], [Bracket("", 0.0, None, None, 0.0)], {0: Zero(i["zero_N"], None)})
    assert found is not None
    return {"mu": _friction(i).slope(found[0][0].value).mu}


def pull_angle_corrected(i: Mapping[str, Any]) -> Answer:
    on = _friction(i, tuple(which for which, key in _ANGLES.items() if key in i))
    force = i["F_N"]
    return {"mu": on.slope(force).mu, "mu_uncorrected": _friction(i).slope(force).mu}


def _sliding(slope_deg: float) -> Slope:
    """A sled on a slope that nothing pulls at but its weight, which counts for nothing."""
    return slope_of(0.0, 1.0, tilt_deg=-slope_deg)


def from_incline(i: Mapping[str, Any]) -> Answer:
    if "mu" not in i:
        found = _sliding(i["theta_deg"])
        u = abs(found.by_tilt) * math.radians(i.get("u_theta_deg", 0.0))
        return {"mu": found.mu, "u_mu": u}
    wanted, most = i["mu"], _sliding(STEEPEST_DEG).mu
    if not 0 <= wanted <= most:
        raise ValueError(f"a coefficient from 0 to {most:g} is wanted, got {wanted:g}")
    return {"theta_deg": crossing(lambda deg: _sliding(deg).mu - wanted, 0.0, STEEPEST_DEG)}


def trace(i: Mapping[str, Any]) -> Answer:
    force, at = np.array(i["force_N"], float), np.array(i["position_mm"], float)
    first, last = i["window_mm"]
    peak, _ = first_peak(force, at, first)
    steady = steady_of(force, at, first, last, 0.0)
    sled = _friction(i)
    return {
        "peak_first_N": peak,
        "mean_N": steady.mean_n,
        "sd_N": steady.sd_n,
        "n_in_window": steady.samples,
        "mu_s": sled.slope(peak).mu,
        "mu_k": sled.slope(steady.mean_n).mu,
        "stick_slip_pp_N": steady.peak_to_peak_n,
    }


def replicates(i: Mapping[str, Any]) -> Answer:
    found = first_pull(i["mu"])
    return {
        "mean": said(found.mean),
        "sd": said(found.sd),
        "cv_pct": said(found.cv_percent),
        "first_over_rest": said(found.over_rest),
    }


def ageing(i: Mapping[str, Any]) -> Answer:
    fit = dwell_fit(i["t_s"], i["mu"])
    return {
        "A": said(fit.at_1_s),
        "B_per_decade": said(fit.per_decade.size),
        "mu_pred": fit.at(i["predict_t_s"]),
    }


def within_precision(i: Mapping[str, Any]) -> Answer:
    apart, within = precision.within_precision(i["a"], i["b"], i["limit"])
    return {"difference": apart, "within": within}


def uncertainty(i: Mapping[str, Any]) -> Answer:
    mass, g = i["mass_kg"], i["g"]
    found = _friction(i).slope(i["F_N"])
    terms = [
        Term(name, Kind.B, u, math.inf, by, Distribution.NORMAL, "")
        for name, u, by in (
            ("force", i["u_F"], found.by_force),
            ("mass of the sled", i.get("u_m", 0.0) / mass, found.by_weight),
            ("gravity", i.get("u_g", 0.0) / g, found.by_weight),
        )
    ]
    u = budget("coefficient of friction", "one", terms).combined
    return {"mu": found.mu, "u": u, "U_k2": 2 * u}


def sled_weight(i: Mapping[str, Any]) -> Answer:
    return {"N": _friction(i).sled.weight_n}


CALCS = {
    "friction.coefficients": coefficients,
    "friction.dwell_fit": ageing,
    "friction.from_incline": from_incline,
    "friction.pull_angle_corrected": pull_angle_corrected,
    "friction.replicates": replicates,
    "friction.tare_corrected": tare_corrected,
    "friction.trace": trace,
    "friction.uncertainty": uncertainty,
    "friction.within_precision": within_precision,
    "units.sled_weight": sled_weight,
}
