"""Charts and lines of check histories: from the words of a case file to the room and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from acquire.history import constants, cusum, ewma, individuals, runs, trend
from acquire.history.individuals import Baseline
from acquire.history.trend import Line
from acquire.verify.calcs.answer import Answer


def line(i: Mapping[str, Any]) -> Answer:
    x, y = np.array(i.get("x", i.get("day")), float), np.array(i.get("y", i.get("reading")), float)
    fitted = trend.ordinary(x, y)
    if not isinstance(fitted, Line):
        raise ValueError(fitted.why)
    zero, ahead = fitted.at(0.0), fitted.at(i.get("predict_day", 0.0))
    return {
        "intercept": zero.value,
        "se_intercept": (zero.line_high - zero.value) / fitted.factor,
        "slope": fitted.slope,
        "se_slope": fitted.u_slope,
        "t_slope": fitted.slope / fitted.u_slope,
        "p_slope": fitted.p,
        "residual_sd": fitted.scatter,
        "R2": fitted.explained,
        "fit_at": ahead.value,
        "pred_low": ahead.low,
        "pred_high": ahead.high,
        "mean_low": ahead.line_low,
        "mean_high": ahead.line_high,
    }


def weighted_average(i: Mapping[str, Any]) -> Answer:
    sigma, centre = i["sigma"], i["start"]
    chart = ewma.ewma((np.array(i["x"]) - centre) / sigma, i["lambda"], i["L"])
    # The handbook prints limits of a factor that it rounded to four decimals.
    printed = i["L"] * sigma * round(chart.asymptote / i["L"], 4)
    return {
        "ucl_with_factor_0.4201": centre + printed,
        "lcl_with_factor_0.4201": centre - printed,
        "ewma": (centre + sigma * chart.average).tolist(),
        "ucl": centre + sigma * chart.asymptote,
        "lcl": centre - sigma * chart.asymptote,
        "half_width": (sigma * chart.half_width).tolist(),
        "signals": (np.flatnonzero(chart.beyond) + 1).tolist(),
    }


def sums(i: Mapping[str, Any]) -> Answer:
    chart = cusum.cusum((np.array(i["x"]) - i["target"]) / i.get("sigma", 1.0), i["k"], i["h"])
    signals = [p + 1 for a in chart.alarms for p in range(a.first, a.last + 1)]
    return {
        "S_hi": chart.upper.tolist(),
        "S_lo": chart.lower.tolist(),
        "signal_indices_1based": signals,
        "first_signal_1based": signals[0] if signals else "none",
    }


# Western Electric numbers its four rules otherwise than ISO 7870-2.
_ZONE_RULES = {
    runs.Rule.BEYOND: 1,
    runs.Rule.FAR: 2,
    runs.Rule.OFF: 3,
    runs.Rule.ONE_SIDE: 4,
}


def zones(i: Mapping[str, Any]) -> Answer:
    found = runs.breaches(np.array(i["z"]), runs.ZONES)
    return {"signals": [f"rule{_ZONE_RULES[b.rule]}@{b.completed + 1}" for b in found]}


def pattern(i: Mapping[str, Any]) -> Answer:
    every = runs.RuleSet("all", tuple(runs.Rule), runs.Numbers(), 0.0)
    found = runs.breaches(np.array(i["z"]), every)
    last = [b for b in found if b.completed == len(i["z"]) - 1]
    return {"signal_at_1based": last[0].completed + 1 if last else 0}


def chart(i: Mapping[str, Any]) -> Answer:
    x = np.array(i["x"])
    base = individuals.baseline(x, len(x), 0.0)
    if not isinstance(base, Baseline):
        raise ValueError(base.why)
    return {
        "centre": base.centre,
        "mean_range": base.mean_range,
        "upper": base.upper,
        "lower": base.lower,
    }


def factors(_: Mapping[str, Any]) -> Answer:
    return {"d2": constants.D2, "d3": constants.D3, "D4": constants.RANGE_UPPER}


CALCS = {
    "control.cusum": sums,
    "control.drift_line": line,
    "control.ewma": weighted_average,
    "control.nelson_rules": pattern,
    "control.zone_rules": zones,
    "history.constants": factors,
    "history.individuals": chart,
    "stats.line_fit": line,
}
