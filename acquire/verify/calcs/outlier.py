"""Outliers: from the words of a case file to the calls of the analysis and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from acquire.analysis.samples import outlier, spread
from acquire.analysis.samples.summary import summarise
from acquire.verify.calcs.answer import UNDEFINED, Answer, chosen, said


def grubbs_critical(i: Mapping[str, Any]) -> Answer:
    n = i["n"]
    return {
        "G_crit": outlier.grubbs_critical(n, i.get("alpha", 0.05)),
        "two_sided_5pc": outlier.grubbs_critical(n, 0.05),
        "two_sided_1pc": outlier.grubbs_critical(n, 0.01),
        "one_sided_5pc": outlier.grubbs_critical(n, 0.05, two_sided=False),
        "one_sided_1pc": outlier.grubbs_critical(n, 0.01, two_sided=False),
        "max_possible_G": outlier.largest_possible(n),
    }


def grubbs(i: Mapping[str, Any]) -> Answer:
    data = [float(v) for v in i["data"]]
    one_sided = chosen(i, "side", "two", "max", "min") != "two"
    s = summarise(data)
    test = s.outlier
    if test is None:
        return {"mean": said(s.mean), "sd": said(s.sd), "G": UNDEFINED}
    limit = outlier.grubbs_critical(s.n, i.get("alpha", 0.05), two_sided=not one_sided)
    modified = said(spread.modified_z(data, test.suspect))
    return {
        "mean": s.mean,
        "sd": s.sd,
        "G": test.statistic,
        "suspect_index": test.suspect,
        "crit_one_sided_5pc": outlier.grubbs_critical(s.n, 0.05, two_sided=False),
        "crit_one_sided_1pc": outlier.grubbs_critical(s.n, 0.01, two_sided=False),
        "crit_two_sided_5pc": test.critical,
        "outlier": test.statistic > limit,
        "outlier_5pc": test.is_outlier,
        "p_one_sided": outlier.grubbs_p(test.statistic, s.n, two_sided=False),
        "p_two_sided": test.p,
        "modified_z_of_max": modified,
        "modified_z_of_suspect": modified,
    }


CALCS = {
    "stats.grubbs": grubbs,
    "stats.grubbs_critical": grubbs_critical,
}
