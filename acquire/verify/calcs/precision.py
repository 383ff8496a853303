"""Repeatability and reproducibility: from the words of a case file to the analysis."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from acquire.analysis.laws.student import t_factor
from acquire.analysis.samples.summary import summarise
from acquire.analysis.studies.consistency import h_critical, h_of, k_critical, k_of
from acquire.analysis.studies.gauge import gauge_of
from acquire.analysis.studies.homogeneity import critical_share, odd_scatter
from acquire.analysis.studies.precision import critical_difference, limit, precision_of
from acquire.verify.calcs.answer import Answer, chosen, there


def interlaboratory(i: Mapping[str, Any]) -> Answer:
    found = precision_of(i["labs"])
    repeatability = there(found.repeatability, "scatter within a laboratory")
    between = there(found.between, "scatter between laboratories")
    reproducibility = there(found.reproducibility, "scatter over laboratories")
    read = [summarise(lab) for lab in i["labs"]]
    sds = [s.sd or 0.0 for s in read]
    odd = there(odd_scatter(sds, [s.n - 1 for s in read]), "largest scatter")
    return {
        "mean": found.mean,
        "s_of_lab_means": found.sd_of_means,
        "s_r": repeatability.sd,
        "s_L": between,
        "s_R": reproducibility,
        "r_limit_2.8": limit(repeatability.sd),
        "R_limit_2.8": limit(reproducibility),
        "h": list(h_of([s.mean or 0.0 for s in read]) or ()),
        "k": list(k_of(sds, repeatability.sd) or ()),
        "cochran_C_max_variance": odd.share,
        "cochran_crit_1pc": odd.critical,
        "cochran_flags_lab4": odd.is_outlier and odd.suspect == 3,
    }


def gauge_study(i: Mapping[str, Any]) -> Answer:
    chosen(i, "layout", "data[part][operator][trial]")
    found = there(gauge_of(i["data"], i["pool_interaction_if_p_above"]), "components of scatter")
    grr = found.var_repeatability + found.var_reproducibility
    total = grr + found.var_spots
    return {
        "SS_part": found.ss_spots,
        "SS_operator": found.ss_people,
        "SS_interaction": found.ss_interaction,
        "SS_repeat": found.ss_repeat,
        "SS_total": found.ss_total,
        "F_interaction": found.f_interaction,
        "p_interaction": found.p_interaction,
        "F_part_vs_interaction": found.f_spots,
        "F_operator_vs_interaction": found.f_people,
        "MS_repeat_pooled": found.ms_repeat,
        "df_pooled": found.nu_repeat,
        "var_repeatability": found.var_repeatability,
        "var_reproducibility": found.var_reproducibility,
        "var_grr": grr,
        "var_part": found.var_spots,
        "pct_contrib_grr": 100 * grr / total,
        "pct_contrib_part": 100 * found.var_spots / total,
        "pct_sv_grr": 100 * math.sqrt(grr / total),
        "pct_sv_repeat": 100 * math.sqrt(found.var_repeatability / total),
        "pct_sv_reprod": 100 * math.sqrt(found.var_reproducibility / total),
        "pct_sv_part": 100 * math.sqrt(found.var_spots / total),
        "ndc": int(math.sqrt(2 * found.var_spots / grr)),
    }


def difference(i: Mapping[str, Any]) -> Answer:
    def of(*, same: bool, exact: bool = True) -> float:
        factor = {"factor": math.sqrt(2) * t_factor(math.inf)} if exact else {}
        return critical_difference(i["s_r"], i["s_L"], i["n1"], i["n2"], same_person=same, **factor)

    return {
        "same_session": of(same=True),
        "different_sessions": of(same=False),
        "iso_2.8_form_different": of(same=False, exact=False),
    }


def cochran_limits(i: Mapping[str, Any]) -> Answer:
    nus = [i["n"] - 1] * i["p"]
    return {
        "crit_5pc": critical_share(nus, 0, 0.05),
        "crit_1pc": critical_share(nus, 0, 0.01),
    }


def mandel_limits(i: Mapping[str, Any]) -> Answer:
    return {
        "h": h_critical(i["p"], i["alpha"]),
        "k": k_critical(i["p"], i["n"], i["alpha"]),
    }


CALCS = {
    "precision.cochran_critical": cochran_limits,
    "precision.critical_difference": difference,
    "precision.gauge_study": gauge_study,
    "precision.interlaboratory": interlaboratory,
    "precision.mandel_critical": mandel_limits,
}
