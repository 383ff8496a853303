"""Agreement of raters: from the words of a case file to the analysis and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from acquire.analysis.people import agreement, krippendorff
from acquire.analysis.people.agreement import Weights
from acquire.verify.calcs.answer import UNDEFINED, Answer, said


def cohen(i: Mapping[str, Any]) -> Answer:
    plain = agreement.cohen_kappa(i["table"])
    answer: Answer = {"po": plain.observed, "kappa": said(plain.kappa), "ase": said(plain.se)}
    interval = plain.interval()
    low, high = interval if interval is not None else (UNDEFINED, UNDEFINED)
    answer |= {"ci_low": low, "ci_high": high, "z0": said(plain.z)}
    for weights in (Weights.LINEAR, Weights.QUADRATIC):
        found = agreement.cohen_kappa(i["table"], weights)
        answer |= {f"kappa_{weights}": said(found.kappa), f"ase_{weights}": said(found.se)}
    return answer


def fleiss(i: Mapping[str, Any]) -> Answer:
    found = agreement.fleiss_kappa(i["counts"])
    return {
        "P_bar": found.fixed.observed,
        "Pe": found.fixed.expected,
        "kappa": said(found.fixed.kappa),
        "fleiss": said(found.fixed.kappa),
        "randolph": said(found.free.kappa),
    }


def kendall(i: Mapping[str, Any]) -> Answer:
    found = agreement.kendall_w(i["ranks_product_by_judge"])
    return {
        "rank_sums": list(found.rank_sums),
        "S": found.s,
        "W": said(found.w),
        "chi2": said(found.chi2),
        "p_chi2": said(found.p),
        "F_iman_davenport": said(found.f),
        "p_F": said(found.p_f),
    }


def alpha(i: Mapping[str, Any]) -> Answer:
    return {"alpha": said(krippendorff.krippendorff_alpha(i["counts"]))}


CALCS = {
    "ratings.cohen_kappa": cohen,
    "ratings.fleiss_kappa": fleiss,
    "ratings.kendall_w": kendall,
    "ratings.krippendorff": alpha,
}
