"""What results say of how sure zones make them: nothing that the rule in use makes false."""

from __future__ import annotations

from dataclasses import replace
from typing import cast

from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.results import MeasureResult, measure_results
from acquire.analysis.rules.lonezones import THRICE
from acquire.analysis.rules.rules import rules_of
from acquire.report.evidence.evidence import Evidence
from acquire.report.record.record import TrialRecord
from acquire.report.sections.method import caveats
from tests.unit.analysis.bench import BARE, Readings, judged, plan_of, quiet, samples_of

CHANGES = {"control": (0.0, 0.2), "wax": (2.0, 2.3), "oil": (1.0, 0.9)}


def result_of(changes: dict[str, tuple[float, ...]], *, is_blocked: bool = False) -> MeasureResult:
    readings: Readings = {
        (f"{t}{n}", stage): tuple(v + (step if stage == "applied" else 0.0) for v in BARE)
        for t, steps in changes.items()
        for n, step in enumerate(steps, 1)
        for stage in ("bare", "applied")
    }
    plan, measure = plan_of(
        [f"{t}{n}" for t, own in changes.items() for n in range(1, len(own) + 1)]
    )
    if is_blocked:
        zones = tuple(replace(zone, block=int(zone.id[-1])) for zone in plan.zones)
        plan = replace(plan, zones=zones)
    around = [quiet("bare", 0.0), quiet("applied", 1000.0)]
    return measure_results(plan, measure, samples_of(readings), around, 0.01)[0]


def caveats_of(result: MeasureResult) -> str:
    comparison = judged(result, "wax")
    assert isinstance(comparison, Comparison)
    return " ".join(comparison.caveats)


def test_two_zones_beside_those_of_others_are_not_said_to_show_very_large_differences_only() -> (
    None
):
    said = caveats_of(result_of(CHANGES))
    assert (
        "Only two zones stand for Wax and the control: zones of the other treatments help" in said
    )
    assert "very large difference" not in said
    assert "in all treatments together, or in these two where they spread more" in said
    alone = caveats_of(result_of({t: CHANGES[t] for t in ("control", "wax")}))
    assert "only a very large difference can be shown" in alone
    assert "from how these changes spread from zone to zone" in alone


def test_within_blocks_the_residual_of_all_treatments_is_named() -> None:
    said = caveats_of(result_of(CHANGES, is_blocked=True))
    assert "a difference of treatments spreads over 2 blocks: of all treatments together" in said
    alone = {t: CHANGES[t] for t in ("control", "wax")}
    said = caveats_of(result_of(alone, is_blocked=True))
    assert "how the difference to the other side spreads over 2 blocks" in said


def test_that_a_zone_lends_no_scatter_is_said_of_readings_alone() -> None:
    rule = result_of(CHANGES).scatter.rule
    assert "Where readings say how sure a difference is, each zone and stage is judged by" in rule


class _Names:
    """A record that knows the names of treatments alone."""

    def name_of(self, treatment: str) -> str:
        return treatment.capitalize()


def test_the_page_calls_no_decision_one_of_single_zones_where_others_tell_how_zones_differ() -> (
    None
):
    result = result_of(CHANGES | {"oil": (1.0,)})
    _, measure = plan_of(["control1", "wax1", "oil1"])
    evidence = Evidence(measure, "60", result, (), (), "", has_namesake=False)
    said = caveats(cast(TrialRecord, _Names()), evidence)
    assert not any("One zone each stands for" in text for text in said)
    # What is said first of the treatment with one zone is left in.
    assert any("zones stands for the control" in text for text in said)


def test_the_method_says_of_all_pairs_too_what_holds_only_where_zones_spread_alike() -> None:
    result = result_of(CHANGES)
    rules = rules_of(result.basis, 2, is_corrected=False)
    (limit,) = [r for r in rules if r.startswith("The limit of a decision")]
    (pairs,) = [r for r in rules if r.startswith("Every two treatments")]
    for rule, highest in ((limit, 22), (pairs, 22)):
        assert "at most 5 %, with several zones a treatment if all treatments spread alike" in rule
        assert f"up to {highest} % where it has fewer zones than they, but two" in rule


def test_the_method_says_how_often_single_zones_err_only_where_there_are_any() -> None:
    """Rates by drawing, 600 trials a figure; of several zones nothing of it is said."""
    told = "Of drawn trials of four products that did nothing, one zone each"
    single = result_of({"control": (0.0, 0.2), "wax": (2.0,), "oil": (1.0,)})
    assert told in " ".join(rules_of(single.basis, 2, is_corrected=False))
    for others_tell in (
        CHANGES,
        CHANGES | {"oil": (1.0,)},
        {"control": (0, 0.2, 0.1), "wax": (2,)},
    ):
        basis = result_of(others_tell).basis
        assert told not in " ".join(rules_of(basis, 2, is_corrected=False))


def test_the_method_says_what_one_zone_costs_where_others_tell_for_it() -> None:
    alone = result_of({"control": (0.0, 0.2, 0.1), "wax": (2.0,)}).basis
    said = " ".join(rules_of(alone, 1, is_corrected=False))
    assert "Of one zone nothing tells whether its treatment spreads more" in said
    assert f"where three times as much up to {THRICE}, against the control" in said
    for none in (CHANGES, {"control": (0.0, 0.2), "wax": (2.0,)}):
        said = " ".join(rules_of(result_of(none).basis, 2, is_corrected=False))
        assert "Of one zone nothing tells" not in said
