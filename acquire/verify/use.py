"""Which calculations of case files results use, and which are there for reference alone.

Results are here all that the program says of its own accord: checks and the gate, drift, studies,
plans, results, reports. The functions named in the table are called by none of them, but only to
answer case files: textbook procedures that a person wants beside the program's own, and figures
that no part of it needs yet. A test reads calls and imports off the source and fails where the
table says anything else. Any thread.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Use:
    """What of a calculation results do not call.

    `only_here` names definitions below `acquire`; `is_in_part` is whether the calculation calls
    others that results do call.
    """

    only_here: tuple[str, ...] = ()
    is_in_part: bool = True

    @property
    def is_whole(self) -> bool:
        """Whether all that it calls is called by results too."""
        return not self.only_here

    @property
    def words(self) -> str:
        """The use in words, for a record."""
        if not self.only_here:
            return "by results"
        if self.is_in_part:
            return f"by results in part; for reference only {', '.join(self.only_here)}"
        return f"for reference only: {', '.join(self.only_here)}"


def _part(*names: str) -> Use:
    return Use(names)


def _none(*names: str) -> Use:
    return Use(names, is_in_part=False)


BY_RESULTS: Final = Use()

NOT_WHOLLY: Final[Mapping[str, Use]] = {
    "bracketing.uncorrected_allowance": _none("analysis.drift.uncorrected_allowance"),
    "checks.tile": _part("analysis.conformance.conformance_probability"),
    "control.zone_rules": _part("history.runs.ZONES"),
    "durability.logrank": _none("analysis.durability.logrank.log_rank"),
    "friction.dwell_fit": _none("analysis.slickness.effects.dwell_fit"),
    "friction.replicates": _none("analysis.slickness.effects.first_pull"),
    "friction.trace": _part("analysis.slickness.steady.first_peak"),
    "plan.order_bias": _none("analysis.ordering.order_bias"),
    "precision.critical_difference": _part("analysis.precision.critical_difference"),
    "precision.mandel_critical": _part("analysis.consistency.k_critical"),
    "ranking.probabilities": _part("analysis.ranking.independent_chances"),
    "ranking.weighted_score": _none("analysis.weighted.weighted_sum"),
    "ratings.fleiss_kappa": _none("analysis.agreement.fleiss_kappa"),
    "ratings.kendall_w": _none("analysis.agreement.kendall_w"),
    "stats.anova": _none("analysis.anova.one_way"),
    "stats.dunnett": _part(
        "analysis.dunnett.critical", "analysis.dunnett.loadings", "analysis.dunnett.p_value"
    ),
    "stats.dunnett_critical": _none("analysis.dunnett.critical"),
    "stats.grubbs": _part("analysis.spread.modified_z"),
    "stats.summary": _part(
        "analysis.spread.lag_one_autocorrelation",
        "analysis.spread.median_absolute_deviation",
        "analysis.spread.scaled_mad",
        "analysis.spread.sd_from_range",
        "analysis.spread.unbiased_sd",
    ),
    "stats.two_sample": _part("analysis.pair.effect_size"),
    "transmission.film_on_slide": _part(
        "analysis.transmission.slab.film_on_slide", "analysis.transmission.slab.slab"
    ),
    "transmission.film_uncertainty": _part(
        "analysis.transmission.meter.budget_of", "analysis.transmission.meter.variable"
    ),
    "transmission.luminous": _part("analysis.transmission.weights.every"),
    "transmission.slab": _none(
        "analysis.transmission.slab.internal_transmittance", "analysis.transmission.slab.slab"
    ),
    "transmission.stray_light": _part(
        "analysis.transmission.stray.largest_absorbance",
        "analysis.transmission.stray.with_stray",
    ),
    "transmission.thickness": _none("analysis.transmission.film.thicker"),
    "uncertainty.conformance": _none("analysis.conformance.conformance_probability"),
    "uncertainty.guard_band": _none("analysis.conformance.guard_band"),
    "water.cap_angle": _none("analysis.wetting.cap"),
}


def use_of(calc: str) -> Use:
    """How results use a calculation that there is."""
    return NOT_WHOLLY.get(calc, BY_RESULTS)
