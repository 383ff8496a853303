"""Budgets and single sets of readings: from the words of a case file to the analysis."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping
from typing import Any

from acquire.analysis.budget import conformance
from acquire.analysis.budget.uncertainty import rectangular, welch_satterthwaite
from acquire.analysis.laws.student import t_factor
from acquire.analysis.samples import spread
from acquire.analysis.samples.summary import summarise
from acquire.analysis.specimens.scatter import pooled_sd
from acquire.verify.calcs.answer import UNDEFINED, Answer, number, said


def summary(i: Mapping[str, Any]) -> Answer:
    data = [float(v) for v in i["data"]]
    s = summarise(data, i.get("resolution", 0.0))
    answer: Answer = {"n": s.n, "mean": said(s.mean), "sd": said(s.sd)}
    if s.mean is None or s.sd is None:
        return {**answer, "ci": UNDEFINED}
    sem = s.sd / math.sqrt(s.n)
    factor = t_factor(s.n - 1, i.get("confidence", 0.95))
    resolution = rectangular("display", i.get("resolution", 0.0) / 2, "").u
    return {
        **answer,
        "sem": sem,
        "cv_percent": 100 * s.sd / s.mean if s.mean else UNDEFINED,
        "t_crit": factor,
        "ci_half": factor * sem,
        "ci_low": s.mean - factor * sem,
        "ci_high": s.mean + factor * sem,
        "median": statistics.median(data),
        "mad_raw": spread.median_absolute_deviation(data),
        "mad_scaled": spread.scaled_mad(data),
        "range": max(data) - min(data),
        "sd_from_range": spread.sd_from_range(data),
        "sd_unbiased_c4": spread.unbiased_sd(s.sd, s.n),
        "lag1_autocorr": said(spread.lag_one_autocorrelation(data)),
        "u_typeA": sem,
        "u_resolution": resolution,
        "u_combined": welch_satterthwaite([sem, resolution], [s.n - 1, math.inf]).u,
    }


def t_factors(i: Mapping[str, Any]) -> Answer:
    return {"t": t_factor(number(i["df"]), i["confidence_pct"] / 100)}


def pooled(i: Mapping[str, Any]) -> Answer:
    result = pooled_sd(i["sd"], i["df"])
    low, high = result.interval()
    return {"s_pooled": result.sd, "df": result.nu, "ci95_low": low, "ci95_high": high}


def combined(i: Mapping[str, Any]) -> Answer:
    result = welch_satterthwaite(i["u"], [number(n) for n in i["nu"]])
    cut = t_factor(result.nu_cut, i["p"])
    return {
        "uc": result.u,
        "nu_eff": said(result.nu),
        "nu_used_truncated": said(result.nu_cut),
        "k95": cut,
        "U95": cut * result.u,
        "k95_untruncated": t_factor(result.nu, i["p"]),
    }


def conformity(i: Mapping[str, Any]) -> Answer:
    return {
        "pc": conformance.conformance_probability(
            i["y"], i["u"], lower=i.get("lower"), upper=i.get("upper")
        )
    }


def guarded(i: Mapping[str, Any]) -> Answer:
    band = conformance.guard_band(i["T_upper"], i["u"], i["k"], i["r"])
    return {
        "U": band.expanded,
        "w": band.width,
        "acceptance_limit": band.acceptance_limit,
        "max_specific_false_accept": band.worst_risk,
    }


CALCS = {
    "precision.pooled_sd": pooled,
    "stats.summary": summary,
    "stats.t_factor": t_factors,
    "uncertainty.conformance": conformity,
    "uncertainty.guard_band": guarded,
    "uncertainty.welch_satterthwaite": combined,
}
