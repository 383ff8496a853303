"""Groups against one another: from the words of a case file to the analysis and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from acquire.analysis.samples.anova import one_way
from acquire.verify.calcs.answer import Answer, said
from acquire.verify.calcs.textbook import Variances, all_pairs


def anova(i: Mapping[str, Any]) -> Answer:
    found = one_way(i["groups"])
    return {
        "SS_between": found.ss_between,
        "df_between": found.df_between,
        "SS_within": found.ss_within,
        "df_within": found.df_within,
        "F": said(found.f),
        "p": said(found.p),
        "R2": said(found.explained),
        "residual_sd": found.residual_sd,
    }


_RULES = {
    (Variances.SEPARATE, True): "Welch",
    (Variances.POOLED, True): "Student",
    (Variances.SEPARATE, False): "Games and Howell",
    (Variances.POOLED, False): "Tukey and Kramer",
}


def tukey(i: Mapping[str, Any]) -> Answer:
    """Keys name the groups from 1 on, each pair both ways: low_2_1 is of group 2 less group 1."""
    variances = Variances(i.get("variances", "pooled"))
    answer: Answer = {}
    for (one, other), pair in all_pairs(i["groups"], variances).items():
        if pair.se == 0:
            raise ValueError("groups whose readings have no scatter cannot be judged")
        low, high = pair.interval(i["alpha"])
        for first, second, sign in ((one + 1, other + 1, 1), (other + 1, one + 1, -1)):
            key = f"{first}_{second}"
            answer |= {
                f"diff_{key}": sign * pair.estimate,
                f"low_{key}": min(sign * low, sign * high),
                f"high_{key}": max(sign * low, sign * high),
                f"p_{key}": pair.p,
                f"df_{key}": pair.df,
            }
        answer["rule"] = _RULES[variances, pair.means == 2]
    return answer


CALCS = {"stats.anova": anova, "stats.tukey": tukey}
