"""Power and replicates of t tests: from the words of a case file to the limit that decides.

A t test is a decision by one line of scatter, here in standard deviations of single readings.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from acquire.analysis.budget.reach import Reach, reach_of
from acquire.analysis.laws.root import crossing
from acquire.analysis.laws.student import t_quantile
from acquire.analysis.plans.planning import MOST, fewest
from acquire.verify.calcs.answer import UNDEFINED, Answer, chosen
from acquire.verify.calcs.textbook import scatter_line


def _t_test(n: float, groups: int = 2) -> Reach:
    """One sample of n (or n pairs), or two of n each."""
    return reach_of([scatter_line(math.sqrt(groups / n), groups * (n - 1))])


def t_power(i: Mapping[str, Any]) -> Answer:
    chosen(i, "alternative", "two-sided")
    groups = 1 if chosen(i, "type", "two.sample", "one.sample", "paired") != "two.sample" else 2
    return {"power": _t_test(i["n"], groups).power(i["d"], i["alpha"])}


def replicates(i: Mapping[str, Any]) -> Answer:
    """At least two readings a group are needed to know their scatter at all."""
    d, alpha, wanted = i["d"], i["alpha"], i["power"]
    if not (d > 0 and 0 < wanted < 1):
        raise ValueError(f"a difference above zero and a power below one, got {d} and {wanted}")

    def power(n: float) -> float:
        return _t_test(n).power(d, alpha)

    n = fewest(lambda n: power(n) >= wanted)
    if n is None:
        raise ValueError(f"{MOST} readings a group do not show a difference of {d:g}")
    return {
        "n_exact": crossing(lambda n: power(n) - wanted, n - 1, n, rel=1e-11) if n > 2 else 2.0,
        "n_per_group": n,
        "power_at_n": power(n),
        "power_at_n_minus_1": power(n - 1) if n > 2 else UNDEFINED,
    }


def smallest(i: Mapping[str, Any]) -> Answer:
    n, alpha, wanted = i["n"], i["alpha"], i["power"]
    se, df = math.sqrt(2 / n), 2 * (n - 1)
    both_t = t_quantile(1 - alpha / 2, df) + t_quantile(wanted, df)
    both_z = t_quantile(1 - alpha / 2, math.inf) + t_quantile(wanted, math.inf)
    return {
        "mdd_exact": _t_test(n).smallest(alpha, wanted),
        "mdd_approx_t_plus_t": both_t * se,
        "mdd_approx_z": both_z * se,
        "half_width_95_of_diff": _t_test(n).half_width(0.05),
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
