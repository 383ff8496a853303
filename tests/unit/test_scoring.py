"""Points of changes: by hand, against scipy's laws, through floors and ceilings, with ties."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.meterscale import Beside
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.samples.weighted import weighted_sum
from acquire.analysis.scoring.errors import drawn_errors
from acquire.analysis.scoring.gains import gains
from acquire.analysis.scoring.printing import printed
from acquire.analysis.scoring.scored import as_text, from_text
from acquire.analysis.scoring.total import Total, in_steps, joint_tail, ranks
from acquire.model.scorecard import Base, Way, When
from acquire.report.points.scorelines import span_text
from tests.unit.analysis.bench import BARE, Readings, quiet, trial
from tests.unit.score_bench import change, found_of, line, product, scored

RISE = (94.0, 94.1, 94.2)
STILL = (90.0, 90.0, 90.0)


def test_a_net_change_of_four_at_two_a_unit_is_eight_points() -> None:
    # By hand: (94.1 - 90.1) - (90.1 - 90.1) = 4.0 GU, times 2.
    found = scored(trial(wax=RISE), change())
    assert product(found, "wax").total == pytest.approx(8.0)
    assert line(found, "wax", "gloss").found.startswith("+4.0")


def test_each_base_takes_off_what_it_says() -> None:
    # Bare 90.1 and 91.1; control falls by 1, wax rises by 2: bare +2, control 93.1 - 89.1 = 4,
    # both 2 - (-1) = 3.
    readings: Readings = {
        ("control", "bare"): BARE,
        ("wax", "bare"): tuple(v + 1 for v in BARE),
        ("control", "applied"): tuple(v - 1 for v in BARE),
        ("wax", "applied"): tuple(v + 3 for v in BARE),
    }
    for base, points in ((Base.BARE, 2.0), (Base.CONTROL, 4.0), (Base.BOTH, 3.0)):
        around = [quiet("bare", 0.0), quiet("applied", 1000.0)]
        found = scored(readings, change(points="1", base=base), brackets=around)
        assert product(found, "wax").total == pytest.approx(points), base


def test_downwards_a_fall_earns_and_a_rise_costs() -> None:
    found = scored(trial(wax=RISE), change(way=Way.DOWN))
    assert product(found, "wax").total == pytest.approx(-8.0)


def test_weight_multiplies_behind_floor_and_ceiling() -> None:
    found = scored(trial(wax=RISE), change(ceiling="5", weight="3"))
    assert product(found, "wax").total == pytest.approx(15.0)


def test_the_net_change_of_an_item_is_that_of_the_results_with_their_limit() -> None:
    _, found, result = found_of(trial(wax=RISE, seal=(90.5, 90.6, 90.7)), resolution=0.1)
    for gain in gains(result, [("wax", "Wax"), ("seal", "Seal")], "applied", Base.BOTH):
        own = result.comparison(gain.treatment, "applied")
        assert isinstance(own, Comparison)
        assert gain.estimate == own.estimate
        assert gain.limit == own.budget.expanded
        assert gain.evaluation is not None
        assert gain.evaluation.terms == own.budget.terms
    assert found.key == "gloss 60 "


def test_one_line_of_scatter_gives_the_interval_of_student() -> None:
    # Only wax scatters when applied: u = 0.5 / sqrt(5), 4 degrees of freedom.
    readings: Readings = {
        ("control", "bare"): STILL,
        ("control", "applied"): STILL,
        ("wax", "bare"): STILL,
        ("wax", "applied"): (93.0, 93.5, 94.0, 94.5, 93.75),
    }
    values = np.array(readings["wax", "applied"])
    law = stats.t(4, values.mean() - 90, values.std(ddof=1) / math.sqrt(5))
    found = product(scored(readings, change(points="1"), draws=40_000), "wax")
    low, high = law.interval(0.95)
    assert found.low == pytest.approx(low, abs=0.03 * (high - low))
    assert found.high == pytest.approx(high, abs=0.03 * (high - low))


def test_a_floor_bends_the_law_as_the_closed_form_says() -> None:
    """E[max(0, X)] of a normal X is mu Phi(mu/s) + s phi(mu/s)."""
    plan, one, result = found_of(_many(shift=0.1))
    (gain,) = gains(result, [("wax", "Wax")], "applied", Base.BOTH)
    errors = drawn_errors(one.key, [gain], "control", result.basis, 100_000)[0]
    assert gain.evaluation is not None
    u = math.hypot(*(t.contribution for t in gain.evaluation.terms))
    wanted = gain.estimate * stats.norm.cdf(gain.estimate / u) + u * stats.norm.pdf(
        gain.estimate / u
    )
    assert np.maximum(gain.estimate + errors, 0).mean() == pytest.approx(wanted, rel=0.03)
    assert plan.id == "yard"


def _many(shift: float, products: tuple[str, ...] = ("wax",)) -> Readings:
    """Twenty-five readings a place, so that Student's law is nearly the normal one."""
    draw = np.random.default_rng(3)
    base = tuple(90 + draw.normal(0, 0.5, 25))
    return {
        (zone, stage): tuple(
            v + (shift if zone != "control" and stage == "applied" else 0) for v in base
        )
        for zone in ("control", *products)
        for stage in ("bare", "applied")
    }


def test_errors_drawn_together_have_the_covariance_of_the_shared_control() -> None:
    """Cells scatter alike, so a net change has 4 v and two share the control's 2 v: r = 1/2."""
    _, one, result = found_of(_many(1.0, ("wax", "seal")), resolution=0.1)
    both = gains(result, [("wax", "Wax"), ("seal", "Seal")], "applied", Base.BOTH)
    errors = drawn_errors(one.key, both, "control", result.basis, 40_000)
    for gain, drawn in zip(both, errors, strict=True):
        assert gain.evaluation is not None
        u = math.hypot(*(t.contribution for t in gain.evaluation.terms))
        assert drawn.std() == pytest.approx(u, rel=0.06)
    assert np.corrcoef(errors)[0, 1] == pytest.approx(0.5, abs=0.02)


def test_two_stages_share_their_bare_readings_and_the_control() -> None:
    """Net changes at two stages: 2 v of the bare zones in common of 4 v each: r = 1/2."""
    readings = _many(1.0) | {
        (zone, "cured"): values for (zone, stage), values in _many(1.0).items() if stage == "bare"
    }
    _, one, result = found_of(readings)
    both = [gains(result, [("wax", "Wax")], s, Base.BOTH)[0] for s in ("applied", "cured")]
    errors = drawn_errors(one.key, both, "control", result.basis, 40_000)
    assert np.corrcoef(errors)[0, 1] == pytest.approx(0.5, abs=0.02)


def test_a_total_of_two_stages_is_as_sure_as_the_weighted_sum_with_their_correlation() -> None:
    """u^2 = sum w_i w_j u_i u_j r_ij (JCGM 100:2008, 5.2.2), r = 1/2 by the shared readings."""
    readings = _many(1.0) | {
        (zone, "cured"): values for (zone, stage), values in _many(1.0).items() if stage == "bare"
    }
    items = (change("a", "2"), change("b", "3", when=When(("cured",))))
    found = product(scored(readings, *items, draws=40_000), "wax")
    _, _, result = found_of(readings)
    us = []
    for stage in ("applied", "cured"):
        own = result.comparison("wax", stage)
        assert isinstance(own, Comparison)
        us.append(own.budget.combined)
    wanted = weighted_sum([1.0, 0.0], us, [2.0, 3.0], [[1.0, 0.5], [0.5, 1.0]])
    assert found.total == pytest.approx(wanted.total)
    assert found.low is not None
    assert found.high is not None
    # Each line is drawn by Student's t at 24 degrees of freedom, of variance 24/22.
    reach = 1.96 * math.sqrt(24 / 22) * wanted.u
    assert (found.high - found.low) / 2 == pytest.approx(reach, rel=0.03)


def test_channels_of_one_press_scatter_alike_whichever_way_they_earn() -> None:
    """Two rows of one cell's scatter, drawn for an item upwards and one downwards, are opposite."""
    _, one, result = found_of(_many(1.0))
    both = gains(result, [("wax", "Wax")], "applied", Base.BOTH)
    up, down = (
        drawn_errors(key, both, "control", result.basis, 200, press="gloss", sign=sign)[0]
        for key, sign in ((one.key, 1.0), ("gloss 20 ", -1.0))
    )
    assert up == pytest.approx(-down)


def test_several_zones_say_by_their_spread_how_sure_a_change_since_bare_is() -> None:
    # Changes 2, 3 and 4: standard deviation 1, so u = 1/sqrt(3) with 2 degrees of freedom.
    readings: Readings = {
        (zone, stage): tuple(v + rise for v in STILL)
        for zone, gain in (("control", 0), ("wax1", 2), ("wax2", 3), ("wax3", 4))
        for stage, rise in (("bare", 0), ("applied", gain))
    }
    _, _, result = found_of(readings)
    (gain,) = gains(result, [("wax", "Wax")], "applied", Base.BARE)
    assert gain.evaluation is not None
    (term,) = [t for t in gain.evaluation.terms if t.contribution]
    assert (term.u, term.nu) == (pytest.approx(1 / math.sqrt(3)), 2)


def test_what_is_not_shown_earns_nothing_where_it_has_to_be() -> None:
    faint = trial(wax=(90.1, 90.3, 90.5))
    assert product(scored(faint, change()), "wax").total == pytest.approx(0.4)
    found = scored(faint, change(shown=True))
    assert product(found, "wax").total == 0.0
    assert line(found, "wax", "gloss").why == "not shown"


def test_what_is_zero_only_because_nothing_is_shown_has_no_interval_that_is_sure_of_it() -> None:
    """Hardly any draw of a slight loss is a gain that is shown: its points are 0 from 0 to 0."""
    faint = trial(wax=(89.7, 89.8, 89.9), seal=(98.0, 98.1, 98.2))
    found = scored(faint, change(shown=True, floor="0"))
    wax, seal = (product(found, name) for name in ("wax", "seal"))
    assert (wax.low, wax.high) == (0.0, 0.0)
    assert span_text(1, wax) == span_text(1, line(found, "wax", "gloss")) == "not shown"
    assert " to " in span_text(1, seal)
    # What else it earns has an interval of its own, and a ceiling that all draws reach is sure.
    both = scored(faint, change(shown=True, floor="0"), change("rest", "1"))
    assert " to " in span_text(1, product(both, "wax"))
    capped = scored(faint, change(shown=True, ceiling="1"))
    assert span_text(1, product(capped, "seal")) == "1.0"


def test_it_is_said_of_what_the_interval_of_points_is() -> None:
    readings = trial(wax=RISE, seal=(91.0, 91.1, 91.2))
    (plain,) = [n for n in scored(readings, change()).notes if "interval of points" in n]
    assert plain.endswith("had their errors fallen otherwise.")
    (asked,) = [n for n in scored(readings, change(shown=True)).notes if "interval of points" in n]
    assert asked.startswith(plain)
    assert "well beyond the limit from which it is, that is, as elsewhere, of the points" in asked
    assert "Near the limit it takes in that nothing might be shown, and holds those" in asked
    assert "there is none, though the true change may be worth points" in asked


def test_what_the_plan_calls_equal_earns_nothing_where_it_has_to_be_shown() -> None:
    small = trial(wax=(90.60, 90.61, 90.62), seal=RISE)
    quieter = {k: tuple(90 + (v - 90) / 10 for v in vs) for k, vs in small.items()}
    quieter["wax", "applied"] = (90.60, 90.61, 90.62)
    assert line(scored(quieter, change(shown=True)), "wax", "gloss").points == pytest.approx(1.2)
    within = scored(quieter, change(shown=True), margin="2")
    assert line(within, "wax", "gloss").points == 0.0


def test_a_product_without_an_item_stands_apart_and_says_why() -> None:
    found = scored(
        trial(wax=RISE, seal=(91.0, 91.1, 91.2)), change(), change("late", when=When((), 5))
    )
    for treatment in ("wax", "seal"):
        assert product(found, treatment).missing == ("late",)
    assert line(found, "wax", "late").why == (
        "the trial has no stage after 5 washes at which gloss at 60° is measured"
    )
    assert found.notes[0].startswith("Without late: ")


def test_a_part_of_the_products_without_an_item_is_not_ranked_with_the_whole_ones() -> None:
    readings = trial(wax=RISE, seal=RISE, oil=(90.5, 90.6, 90.7))
    readings = {k: v for k, v in readings.items() if k != ("oil", "applied")}
    found = scored(readings, change())
    assert [p.treatment for p in found.products] == ["seal", "wax", "oil"]
    oil = found.products[2]
    assert (oil.total, oil.place, oil.missing) == (None, "", ("gloss",))
    assert "no reading that counts" in oil.items[0].why


def test_ties_are_named_and_the_one_shown_behind_is_not_among_them() -> None:
    found = scored(
        trial(wax=RISE, seal=(94.1, 94.2, 94.3), oil=(90.5, 90.6, 90.7)), change(), draws=20_000
    )
    assert [(p.treatment, p.place) for p in found.products] == [
        ("seal", "1 to 2, tied"),
        ("wax", "1 to 2, tied"),
        ("oil", "3"),
    ]
    assert found.notes[0] == "First together, a tie: Seal and Wax."


def test_all_pairs_together_have_the_tail_of_the_studentized_range() -> None:
    """Three independent equal means: q(3, inf) / sqrt(2) is the limit of each difference."""
    x = np.random.default_rng(1).standard_normal((3, 60_000))
    tail = joint_tail([x[0] - x[1], x[0] - x[2], x[1] - x[2]])
    q = float(stats.studentized_range.ppf(0.95, 3, 1e6)) / math.sqrt(2)
    assert tail == pytest.approx(float(stats.norm.sf(q)), rel=0.08)
    assert joint_tail([x[0] - x[1]]) == pytest.approx(0.025)


def test_of_many_products_the_tails_of_all_pairs_go_by_the_normal_law() -> None:
    """Of 30 there are 435 pairs: 0.05 / 435 of the normal law lies 3.86 standard deviations out."""
    draw = np.random.default_rng(5)
    for lead, is_first in ((5.0, False), (6.5, True)):
        means = [lead, *[0.0] * 29]
        drawn = [m + draw.normal(0, 1, 4000) for m in means]
        found = ranks([Total(m, d, d) for m, d in zip(means, drawn, strict=True)], 1, 1)
        assert (found.places.text(0) == "1") == is_first


def test_the_chance_to_be_first_is_that_of_the_normal_law() -> None:
    draw = np.random.default_rng(2)
    draws = [mean + draw.normal(0, 1, 100_000) for mean in (1.0, 0.0)]
    found = ranks([Total(m, d, d) for m, d in zip((1.0, 0.0), draws, strict=True)], 6, 1)
    assert found.chances.first[0] == pytest.approx(stats.norm.cdf(1 / math.sqrt(2)), abs=0.005)


def test_totals_that_are_the_same_when_rounded_are_a_tie() -> None:
    still = [np.full(10, x) for x in (5.04, 5.01, 4.0)]
    found = ranks([Total(float(d[0]), d, d) for d in still], 1, 1)
    assert [found.places.text(i) for i in range(3)] == ["1 to 2, tied", "1 to 2, tied", "3"]
    assert found.chances.first == (0.5, 0.5, 0.0)


def test_a_known_shift_of_the_meter_keeps_a_lead_from_being_shown() -> None:
    high, low = np.full(100, 5.0), np.full(100, 4.0)
    moved = ranks([Total(5.0, high, high - 3), Total(4.0, low, low)], 1, 1)
    assert moved.places.text(0) == "1 to 2, tied"


def test_notes_call_no_shift_known_that_checks_of_one_piece_leave_open() -> None:
    # Off by 1.0 at 95 GU: a gain makes 1 % of a change, an offset nothing.
    readings = trial(wax=RISE, oil=tuple(v - 30 for v in RISE))
    one = [
        Bracket(stage, 1000.0 * k, 1000.0 * (k + 1), 0.0, 0.0, "", 1.0, piece="T1", certified=95.0)
        for k, stage in enumerate(("bare", "applied"))
    ]
    two = [replace(b, foot=Beside("T0", 0.0, 0.0, 0.0, 0.0)) for b in one]
    for brackets, wanted in ((one, "With what the meter's error may have left"),
                             (two, "With the known shifts of the meter taken off: ")):  # fmt: skip
        notes = scored(readings, change(), brackets=brackets).notes
        assert [n.startswith(wanted) for n in notes if "taken off" in n] == [True]


def test_a_life_that_may_have_gone_on_keeps_others_from_being_ahead() -> None:
    high, low = np.full(100, 5.0), np.full(100, 4.0)
    for slack, place in ((0.5, "1"), (2.0, "1 to 2, tied"), (math.inf, "1 to 2, tied")):
        found = ranks([Total(5.0, high, high), Total(4.0, low, low, slack)], 1, 1)
        assert found.places.text(0) == place


@pytest.mark.parametrize(
    ("points", "decimals", "text"),
    [(2.5, 0, "3"), (-2.5, 0, "−3"), (0.25, 1, "0.3"), (2.675, 2, "2.68"), (-0.04, 1, "0.0"),
     (12.0, 2, "12.00")],
)  # fmt: skip
def test_points_are_rounded_once_and_halves_go_outwards(
    points: float, decimals: int, text: str
) -> None:
    assert printed(points, decimals) == text
    assert in_steps(np.array([points]), decimals)[0] == float(text.replace("−", "-")) * 10**decimals


def test_the_total_is_rounded_once_and_not_item_by_item() -> None:
    # 0.4 GU twice at 1.1 points: 0.44 + 0.44 = 0.88 is 0.9, while 0.4 + 0.4 would be 0.8.
    found = scored(
        trial(wax=(90.4, 90.5, 90.6)), change("a", points="1.1"), change("b", points="1.1")
    )
    assert printed(product(found, "wax").total or 0.0, 1) == "0.9"


def test_a_score_goes_into_text_and_back_without_loss() -> None:
    found = scored(trial(wax=RISE, seal=STILL), change(), change("late", when=When((), 5)))
    assert from_text(as_text(found)) == found
    for broken in ("", "{}", "[]", '{"items": 3}', as_text(found).replace('"products"', '"x"')):
        with pytest.raises(ValueError, match="score"):
            from_text(broken)
