"""Slickness: from the words of a case file to the calls of the analysis and back."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import numpy as np

from acquire.analysis.slickness import coefficient as mu
from acquire.analysis.slickness.effects import dwell_fit, first_pull
from acquire.analysis.slickness.sled import Sled, weighed
from acquire.analysis.slickness.steady import first_peak, steady_of
from acquire.analysis.transmission.meter import variable
from acquire.units import convert
from acquire.verify.calcs.answer import Answer, said


def _sled(i: Mapping[str, Any]) -> Sled:
    return weighed(i["mass_kg"], i.get("u_m", 0.0), i["g"], i.get("u_g", 0.0))


def _in(value: float, unit: str, wanted: str) -> float:
    return float(convert(Decimal(str(value)), unit, wanted))


def _force(newton: float, u: float = 0.0) -> Any:
    return variable("force", newton, u)


def coefficients(i: Mapping[str, Any]) -> Answer:
    if "F_N" in i:
        return {"mu": mu.coefficient(_force(i["F_N"]), _sled(i)).mu.nominal_value}
    sled = weighed(_in(i["sled_g"], "gram", "kilogram"))
    static, kinetic = (
        None
        if i.get(key) is None
        else mu.coefficient(_force(_in(i[key], "gram_force", "newton")), sled).mu.nominal_value
        for key in ("peak_gf", "mean_gf")
    )
    ratio = static / kinetic if static is not None and kinetic else None
    return {"mu_s": said(static), "mu_k": said(kinetic), "mu_s_over_mu_k": said(ratio)}


def tare_corrected(i: Mapping[str, Any]) -> Answer:
    on = mu.Corrections(zero_n=variable("zero", i["zero_N"], 0.0))
    return {"mu": mu.coefficient(_force(i["F_N"]), _sled(i), on).mu.nominal_value}


def pull_angle_corrected(i: Mapping[str, Any]) -> Answer:
    line, tilt = (
        variable(key, i[key], 0.0) if key in i else None for key in ("alpha_deg", "tilt_deg")
    )
    on = mu.Corrections(pull_angle_deg=line, tilt_deg=tilt)
    found = mu.coefficient(_force(i["F_N"]), _sled(i), on)
    return {"mu": found.mu.nominal_value, "mu_uncorrected": found.uncorrected}


def from_incline(i: Mapping[str, Any]) -> Answer:
    if "mu" in i:
        return {"theta_deg": mu.incline_of(variable("mu", i["mu"], 0.0)).nominal_value}
    found = mu.from_incline(variable("slope", i["theta_deg"], i.get("u_theta_deg", 0.0)))
    return {"mu": found.nominal_value, "u_mu": found.std_dev}


def trace(i: Mapping[str, Any]) -> Answer:
    force, at = np.array(i["force_N"], float), np.array(i["position_mm"], float)
    first, last = i["window_mm"]
    peak, _ = first_peak(force, at, first)
    steady = steady_of(force, at, first, last, 0.0)
    sled = _sled(i)
    return {
        "peak_first_N": peak,
        "mean_N": steady.mean_n,
        "sd_N": steady.sd_n,
        "n_in_window": steady.samples,
        "mu_s": mu.coefficient(_force(peak), sled).mu.nominal_value,
        "mu_k": mu.coefficient(_force(steady.mean_n), sled).mu.nominal_value,
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
    apart, within = mu.within_precision(i["a"], i["b"], i["limit"])
    return {"difference": apart, "within": within}


def uncertainty(i: Mapping[str, Any]) -> Answer:
    found = mu.coefficient(_force(i["F_N"], i["u_F"]), _sled(i)).mu
    return {"mu": found.nominal_value, "u": found.std_dev, "U_k2": 2 * found.std_dev}


def sled_weight(i: Mapping[str, Any]) -> Answer:
    return {"N": _sled(i).weight_n.nominal_value}


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
