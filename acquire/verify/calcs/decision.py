"""Limits of a decision: from the words of a case file to the rule that results decide by."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from acquire.analysis.budget.reach import reach_of, shared_level
from acquire.analysis.budget.uncertainty import Distribution, Kind, Term
from acquire.verify.calcs.answer import Answer, number


def limit(i: Mapping[str, Any]) -> Answer:
    """Lines of a budget by their contributions `u` and degrees of freedom `nu`.

    `means` are all held against one another; of `comparisons` with one control each has its share
    of `alpha`.
    """
    terms = [
        Term(f"line {k + 1}", Kind.A, u, number(nu), 1.0, Distribution.NORMAL, "case file")
        for k, (u, nu) in enumerate(zip(i["u"], i["nu"], strict=True))
    ]
    reach = reach_of(terms, i.get("means", 2))
    level = shared_level(i.get("alpha", 0.05), i.get("comparisons", 1))
    answer: Answer = {
        "u": reach.u,
        "level": level,
        "half_width": reach.half_width(level),
        "factor": reach.half_width(level) / reach.u,
    }
    if "size" in i:
        answer["p"] = reach.p(i["size"])
    if "power" in i:
        answer["smallest_visible"] = reach.smallest(level, i["power"])
    return answer


CALCS = {"decision.limit": limit}
