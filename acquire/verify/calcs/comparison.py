"""Comparisons: from the words of a case file to the calls of the analysis and back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from acquire.analysis.comparisons import pair
from acquire.analysis.laws import dunnett
from acquire.analysis.samples.summary import summarise
from acquire.analysis.specimens.scatter import pooled_sd
from acquire.verify.calcs.answer import UNDEFINED, Answer, said
from acquire.verify.calcs.textbook import Variances, tost, two_sample
from acquire.verify.task import ASKED, WORDS


def two_sides(i: Mapping[str, Any]) -> Answer:
    x, y = [float(v) for v in i["x"]], [float(v) for v in i["y"]]
    # Ranks and means of the same readings are two tests; only the first counts arrangements.
    if i.get("test") == "ranks" or "n_arrangements" in i.get(ASKED, ()):
        ranks = pair.rank_test(x, y)
        return {
            "n_arrangements": ranks.arrangements,
            "p_one_sided": ranks.p_one_sided,
            "p_two_sided": ranks.p_two_sided,
        }
    welch = two_sample(x, y, Variances.SEPARATE)
    student = two_sample(x, y, Variances.POOLED)
    size = pair.effect_size(x, y)
    low, high = welch.interval()
    first, second = summarise(x), summarise(y)
    return {
        "n1": first.n,
        "n2": second.n,
        "mean1": first.mean,
        "mean2": second.mean,
        "sd1": first.sd,
        "sd2": second.sd,
        "diff": welch.estimate,
        "se": welch.se,
        "t": said(welch.t),
        "df": welch.df,
        "p_two_sided": said(welch.p),
        "ci95_low": low,
        "ci95_high": high,
        "t_pooled": said(student.t),
        "p_pooled": said(student.p),
        "cohen_d": size.d if size else UNDEFINED,
        "hedges_g": size.g if size else UNDEFINED,
    }


def paired(i: Mapping[str, Any]) -> Answer:
    result = two_sample(i["before"], i["after"], Variances.PAIRED)
    return {"mean_diff": result.estimate, "t": said(result.t), "p": said(result.p)}


def equivalence(i: Mapping[str, Any]) -> Answer:
    alpha = i.get("alpha", 0.05)
    named = next(
        (v for v in Variances if v in i.get(WORDS, "").replace(",", " ").split()), "separate"
    )
    result = two_sample(i["x"], i["y"], Variances(i.get("variances", named)))
    answer: Answer = {"p_difference": said(result.p), "se": result.se, "df": result.df}
    for margin in i.get("margins", [i.get("margin")]):
        test = tost(result, margin, alpha)
        answer |= {
            "mean_diff": result.estimate,
            "p_lower": test.p_lower,
            "p_upper": test.p_upper,
            "p_tost": max(test.p_lower, test.p_upper),
            f"p_tost_{margin:g}": max(test.p_lower, test.p_upper),
            "ci90_low": test.interval[0],
            "ci90_high": test.interval[1],
            "equivalent_at_5pc": test.is_equivalent,
        }
    return answer


def dunnett_test(i: Mapping[str, Any]) -> Answer:
    named = {k.removeprefix("drug_"): v for k, v in i.items() if k.startswith("drug_")}
    groups = list(named.values()) or i["groups"]
    sides = [summarise(g) for g in (i["control"], *groups)]
    scatter = pooled_sd([s.sd or 0.0 for s in sides], [s.n - 1 for s in sides])
    if scatter.sd == 0:
        raise ValueError("groups whose readings have no scatter cannot be judged")
    control, *treated = sides
    lambdas = dunnett.loadings([1 / s.n for s in treated], 1 / control.n)
    limit = dunnett.critical(lambdas, scatter.nu)
    answer: Answer = {"df": scatter.nu, "s": scatter.sd, "crit_two_sided_95": limit}
    columns: dict[str, list[float]] = {"t": [], "p_two_sided": [], "p_greater": []}
    for name, side in zip(named or map(str, range(len(groups))), treated, strict=True):
        apart = (side.mean or 0.0) - (control.mean or 0.0)
        se = scatter.sd * math.sqrt(1 / side.n + 1 / control.n)
        row = {
            "t": apart / se,
            "p_two_sided": dunnett.p_value(apart / se, lambdas, scatter.nu),
            "p_greater": dunnett.p_value(apart / se, lambdas, scatter.nu, two_sided=False),
        }
        for key, value in row.items():
            columns[key].append(value)
            answer[f"{key}_{name}"] = value
        answer[f"ci_{name}_low"] = apart - limit * se
        answer[f"ci_{name}_high"] = apart + limit * se
    return {**answer, **columns}


def dunnett_critical(i: Mapping[str, Any]) -> Answer:
    families = [(math.sqrt(i["rho"]),) * k for k in i["k_treatments"]]
    return {
        name: [dunnett.critical(f, i["df"], i["alpha"], two_sided=both) for f in families]
        for name, both in (("one_sided", False), ("two_sided", True))
    }


CALCS = {
    "stats.dunnett": dunnett_test,
    "stats.dunnett_critical": dunnett_critical,
    "stats.paired": paired,
    "stats.tost": equivalence,
    "stats.two_sample": two_sides,
}
