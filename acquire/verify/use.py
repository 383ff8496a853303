"""Which calculations of case files results use, and which are there for reference alone.

Results are here all that the program says of its own accord: checks and the gate, drift, studies,
plans, results, reports. The functions named in the table are called by none of them, but only to
answer case files: textbook procedures that a person wants beside the program's own, and figures
that no part of it needs yet. A test reads calls and imports off the source and fails where the
table says anything else. Any thread.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final


@dataclass(frozen=True, slots=True)
class Use:
    """What of a calculation results do not call.

    `only_here` names definitions below `acquire`; `is_in_part` is whether the calculation calls
    others that results do call. `because` says as a part of a sentence why they have no use for it.
    """

    only_here: tuple[str, ...] = ()
    is_in_part: bool = True
    because: str = field(default="", compare=False)

    @property
    def is_whole(self) -> bool:
        """Whether all that it calls is called by results too."""
        return not self.only_here

    @property
    def words(self) -> str:
        """The use in words, for a record."""
        if not self.only_here:
            return "by results"
        names = ", ".join(self.only_here)
        part = f"by results in part; for reference only {names}"
        return f"{part if self.is_in_part else f'for reference only: {names}'} ({self.because})"


def _part(because: str, *names: str) -> Use:
    return Use(names, because=because)


def _none(because: str, *names: str) -> Use:
    return Use(names, is_in_part=False, because=because)


BY_RESULTS: Final = Use()

_OTHER_VIEW = "another view of scatter, for who doubts the standard deviation; decides nothing"
_OTHER_AGREEMENT = (
    "agreement is told by weighted kappa of two people and Krippendorff's alpha of several"
)
_BY_GUARD = "checks are judged by a guard band of the full uncertainty and tell no probability"

NOT_WHOLLY: Final[Mapping[str, Use]] = {
    "bracketing.uncorrected_allowance": _none(
        "a known drift is added by its full size, with its sign, or taken off",
        "analysis.checks.drift.uncorrected_allowance",
    ),
    "checks.tile": _part(_BY_GUARD, "analysis.budget.conformance.conformance_probability"),
    "control.zone_rules": _part(
        "charts go by three of its four rules, beside EWMA and CUSUM, with fewer false alarms",
        "history.runs.ZONES",
    ),
    "durability.logrank": _none(
        "lives are known between looks only, for which another score is used",
        "analysis.durability.logrank.log_rank",
    ),
    "friction.dwell_fit": _none(
        "dwell and first pull are fitted together, over lanes",
        "analysis.slickness.effects.dwell_fit",
    ),
    "friction.replicates": _none(
        "dwell and first pull are fitted together, over lanes",
        "analysis.slickness.effects.first_pull",
    ),
    "friction.trace": _part(
        "static friction is the first peak at the start of motion, found by the segmentation",
        "analysis.slickness.steady.first_peak",
    ),
    "plan.order_bias": _none(
        "how far a drift shifts a result is reckoned from the moments of its readings",
        "analysis.comparisons.ordering.order_bias",
    ),
    "precision.critical_difference": _part(
        "results are held against one another by their own budgets",
        "analysis.studies.precision.critical_difference",
    ),
    "precision.mandel_critical": _part(
        "studies flag scatter by Cochran's test and people by Mandel's h",
        "analysis.studies.consistency.k_critical",
    ),
    "ranking.probabilities": _part(
        "treatments share the control, so their chances are drawn together",
        "analysis.places.ranking.independent_chances",
    ),
    "ranking.weighted_score": _none(
        "points go by a scorecard, with floor, ceiling and doubt",
        "analysis.samples.weighted.weighted_sum",
    ),
    "ratings.fleiss_kappa": _none(_OTHER_AGREEMENT, "analysis.people.agreement.fleiss_kappa"),
    "ratings.kendall_w": _none(_OTHER_AGREEMENT, "analysis.people.agreement.kendall_w"),
    "stats.anova": _none(
        "treatments are compared one by one, whatever all together show",
        "analysis.samples.anova.one_way",
    ),
    "stats.grubbs": _part(_OTHER_VIEW, "analysis.samples.spread.modified_z"),
    "stats.summary": _part(
        _OTHER_VIEW,
        "analysis.samples.spread.lag_one_autocorrelation",
        "analysis.samples.spread.median_absolute_deviation",
        "analysis.samples.spread.scaled_mad",
        "analysis.samples.spread.sd_from_range",
        "analysis.samples.spread.unbiased_sd",
    ),
    "stats.two_sample": _part(
        "a difference is told in its unit and not in standard deviations",
        "analysis.comparisons.pair.effect_size",
    ),
    "transmission.film_on_slide": _part(
        "nobody knows the index of a film that is under test",
        "analysis.transmission.slab.film_on_slide",
    ),
    "transmission.film_uncertainty": _part(
        "the budget of a film is made of logarithms, reading by reading",
        "analysis.transmission.meter.budget_of",
        "analysis.transmission.meter.variable",
    ),
    "transmission.luminous": _part(
        "bands are taken from all points of a spectrum", "analysis.transmission.weights.every"
    ),
    "transmission.slab": _part(
        "how much a slide absorbs is read from blanks and not from a table of its glass",
        "analysis.transmission.slab.internal_transmittance",
    ),
    "transmission.stray_light": _part(
        "readings hold the stray light already, and it is taken off",
        "analysis.transmission.stray.largest_absorbance",
        "analysis.transmission.stray.with_stray",
    ),
    "transmission.thickness": _none(
        "films are told as they were coated, at their own thickness",
        "analysis.transmission.film.thicker",
    ),
    "uncertainty.conformance": _none(
        _BY_GUARD, "analysis.budget.conformance.conformance_probability"
    ),
    "uncertainty.guard_band": _none(_BY_GUARD, "analysis.budget.conformance.guard_band"),
    "water.cap_angle": _none(
        "how water stands is rated on a written scale", "analysis.wetting.cap"
    ),
}


def use_of(calc: str) -> Use:
    """How results use a calculation that there is."""
    return NOT_WHOLLY.get(calc, BY_RESULTS)
