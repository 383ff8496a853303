"""Lives, retention and water: from the words of a case file to the analysis and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from acquire.analysis.durability.crossing import crossing_of
from acquire.analysis.durability.decay import decay_fit
from acquire.analysis.durability.demonstration import failures_seen
from acquire.analysis.durability.logrank import log_rank
from acquire.analysis.durability.productlimit import product_limit
from acquire.analysis.durability.turnbull import IntervalEstimate, interval_estimate
from acquire.analysis.gloss import retention
from acquire.analysis.samples.summary import summarise
from acquire.analysis.wetting import cap
from acquire.verify.calcs.answer import Answer, chosen, number, said, there
from acquire.verify.task import ASKED

_HALF_OPEN = "(left, right], right = inf means right-censored"
_CLOSED = "[left, right]"
_CONVENTIONS = (_HALF_OPEN, "(left, right]", _CLOSED)


def interval_censored(i: Mapping[str, Any]) -> Answer:
    closed = chosen(i, "interval_convention", *_CONVENTIONS) == _CLOSED
    found = interval_estimate(
        [number(v) for v in i["left"]], [number(v) for v in i["right"]], closed=closed
    )
    ends = [[x.low, said(x.high)] for x in found.bearing]
    masses = [x.mass for x in found.bearing]
    answer: Answer = {
        "intervals": ends,
        "prob": masses,
        "mass_intervals": ends,
        "masses": masses,
        "loglik": found.log_likelihood,
    }
    for key in i[ASKED]:
        if key.startswith("S_"):
            answer[key] = _share(found, key, closed=closed)
    return answer


def _share(found: IntervalEstimate, key: str, *, closed: bool) -> object:
    """S_after_t is P(T > t) and S_before_t is P(T >= t).

    S_at_t is the first for (left, right], where an end on the right is a failure that was seen
    there, and the second for closed intervals, whose cases name the curve before its step.
    """
    _, where, count = key.split("_", 2)
    before = where == "before" or (where == "at" and closed)
    low, high = (found.at_least if before else found.beyond)(float(count))
    return low if high - low < 1e-12 else "undetermined"


def kaplan_meier(i: Mapping[str, Any]) -> Answer:
    found = product_limit(i["washes"], i["failed"])
    return {
        "event_times": list(found.counts),
        "at_risk": list(found.at_risk),
        "S": list(found.alive),
        "se_greenwood": [said(e) for e in found.se],
        "median_first_S_le_half": said(found.median, "not reached"),
        "n_censored": found.censored,
    }


def logrank(i: Mapping[str, Any]) -> Answer:
    found = log_rank((i["time1"], i["event1"]), (i["time2"], i["event2"]))
    return {
        "O1": found.observed[0],
        "O2": found.observed[1],
        "E1": found.expected[0],
        "E2": found.expected[1],
        "variance": found.variance,
        "chi2": said(found.chi2),
        "p": said(found.p),
    }


def zero_failures(i: Mapping[str, Any]) -> Answer:
    found = failures_seen(i["n"], i.get("failures", 0))
    return {
        "rule_of_three": said(found.rule_of_three),
        "exact_one_sided_95": found.upper,
        "exact_two_sided_95_upper": found.two_sided[1],
    }


def residual_gloss(i: Mapping[str, Any]) -> Answer:
    before, after = (there(summarise(i[key]).mean, f"mean of {key}") for key in ("before", "after"))
    found = retention(before, after)
    if found is None:
        return {"residual_pct": said(None), "loss_GU": before - after, "loss_pct": said(None)}
    return {
        "residual_pct": found.percent,
        "loss_GU": -found.change,
        "loss_pct": -found.change_percent,
    }


def crossing(i: Mapping[str, Any]) -> Answer:
    return {"cycles_at_threshold": crossing_of(i["cycles"], i["value"], i["threshold"]).count}


def decay(i: Mapping[str, Any]) -> Answer:
    found = decay_fit(i["cycles"], i["y"])
    return {
        "A": said(found.start),
        "B": said(found.end),
        "tau": said(found.tau),
        "half_loss_cycles": said(found.half_life),
    }


def cap_angle(i: Mapping[str, Any]) -> Answer:
    found = cap(i["h_mm"], i["base_mm"])
    return {"theta_deg": found.angle_deg, "V_uL": found.volume_ul}


CALCS = {
    "durability.crossing": crossing,
    "durability.decay_fit": decay,
    "durability.interval_censored": interval_censored,
    "durability.kaplan_meier": kaplan_meier,
    "durability.logrank": logrank,
    "durability.residual_gloss": residual_gloss,
    "durability.zero_failures": zero_failures,
    "water.cap_angle": cap_angle,
}
