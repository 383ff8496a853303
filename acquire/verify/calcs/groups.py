"""Groups against one another: from the words of a case file to the analysis and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from acquire.analysis.anova import one_way
from acquire.analysis.groups import all_pairs
from acquire.analysis.pair import Variances
from acquire.verify.calcs.answer import Answer, said, there


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


def tukey(i: Mapping[str, Any]) -> Answer:
    """Keys name the groups from 1 on, each pair both ways: low_2_1 is of group 2 less group 1."""
    variances = Variances(i.get("variances", "pooled"))
    found = all_pairs(i["groups"], variances, alpha=i["alpha"])
    answer: Answer = {"rule": str(found.rule)}
    for pair in found.pairs:
        half = there(pair.textbook_half_width, "interval of a pair")
        one, other = pair.first + 1, pair.second + 1
        for first, second, estimate in ((one, other, pair.estimate), (other, one, -pair.estimate)):
            key = f"{first}_{second}"
            answer |= {
                f"diff_{key}": estimate,
                f"low_{key}": estimate - half,
                f"high_{key}": estimate + half,
                f"p_{key}": pair.textbook_p,
                f"df_{key}": pair.df,
            }
    return answer


CALCS = {"stats.anova": anova, "stats.tukey": tukey}
