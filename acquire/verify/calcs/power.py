"""Power and replicates: from the words of a case file to the calls of the analysis and back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from acquire.analysis import power
from acquire.analysis.student import t_factor, t_quantile
from acquire.verify.calcs.answer import Answer, said


def t_power(i: Mapping[str, Any]) -> Answer:
    groups = 1 if i.get("type") == "one.sample" else 2
    return {"power": power.t_test_power(i["d"], i["n"], groups=groups, alpha=i["alpha"])}


def replicates(i: Mapping[str, Any]) -> Answer:
    needed = power.replicates_needed(i["d"], alpha=i["alpha"], wanted_power=i["power"])
    return {
        "n_exact": needed.exact,
        "n_per_group": needed.per_group,
        "power_at_n": needed.power,
        "power_at_n_minus_1": said(needed.power_with_one_less),
    }


def smallest(i: Mapping[str, Any]) -> Answer:
    n, alpha, wanted = i["n"], i["alpha"], i["power"]
    se, df = math.sqrt(2 / n), 2 * (n - 1)
    both_t = t_quantile(1 - alpha / 2, df) + t_quantile(wanted, df)
    both_z = t_quantile(1 - alpha / 2, math.inf) + t_quantile(wanted, math.inf)
    return {
        "mdd_exact": power.smallest_t_test_difference(n, alpha=alpha, wanted_power=wanted),
        "mdd_approx_t_plus_t": both_t * se,
        "mdd_approx_z": both_z * se,
        "half_width_95_of_diff": t_factor(df) * se,
    }


def smallest_in_units(i: Mapping[str, Any]) -> Answer:
    answer = smallest({"n": i["n_per_zone"], "alpha": i["alpha"], "power": i["power"]})
    return {
        "mdd_exact_noncentral": i["s"] * answer["mdd_exact"],
        "mdd_t_plus_t": i["s"] * answer["mdd_approx_t_plus_t"],
    }


CALCS = {
    "stats.power": t_power,
    "stats.replicates_needed": replicates,
    "stats.smallest_difference": smallest,
    "stats.smallest_difference_in_units": smallest_in_units,
}
