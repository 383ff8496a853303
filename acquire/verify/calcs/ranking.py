"""Rankings and orders of readings: from the words of a case file to the analysis and back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from acquire.analysis.comparisons.ordering import order_bias
from acquire.analysis.places.ranking import chance_ahead, chances_of_known, independent_chances
from acquire.analysis.samples.weighted import weighted_sum
from acquire.verify.calcs.answer import Answer, number


def pair(i: Mapping[str, Any]) -> Answer:
    (first, second), us = i["mean"], i["u"]
    nu = number(i.get("nu", math.inf))
    return {"p_1_better": chance_ahead(first - second, math.hypot(*us), nu)}


def probabilities(i: Mapping[str, Any]) -> Answer:
    if "mean" in i:
        found = independent_chances(i["mean"], i["u"])
    else:
        # Products of which nothing tells one from another.
        found = chances_of_known([0.0] * i["k"])
    same = len(set(found.first)) == 1
    return {
        "p_rank": [list(row) for row in found.by_place],
        "p_best": list(found.first),
        "p_best_each": found.first[0] if same else "differs",
        "expected_rank": list(found.expected_place) if "mean" in i else found.expected_place[0],
    }


def weighted_score(i: Mapping[str, Any]) -> Answer:
    found = weighted_sum(i["score"], i["u"], i["weight"], i.get("correlation"))
    return {"total": found.total, "u_total": found.u}


def bias_of_order(i: Mapping[str, Any]) -> Answer:
    found = order_bias(i["order"], i["slope_per_step"], i["quadratic_per_step2"])
    return {"bias_linear": found.linear, "bias_quadratic": found.quadratic}


CALCS = {
    "plan.order_bias": bias_of_order,
    "ranking.pair": pair,
    "ranking.probabilities": probabilities,
    "ranking.weighted_score": weighted_score,
}
