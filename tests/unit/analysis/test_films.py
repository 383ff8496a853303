"""Films are judged as ratios to their blanks: by reckoning on paper and by drawing errors."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from uncertainties import ufloat

from acquire.analysis.budget.reach import reach_of, shared_level
from acquire.analysis.budget.uncertainty import Combined, Kind
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.meterscale import Beside
from acquire.analysis.comparisons.comparison import Refusal
from acquire.analysis.correction import corrected_measure
from acquire.analysis.films.film import Film
from acquire.analysis.places.standing import standing
from acquire.analysis.scale import ratio_scale
from acquire.analysis.transmission.slides import film_of_slides
from acquire.analysis.treatments.decision import Decision
from acquire.model import DriftCorrection, Quantity
from tests.unit.analysis.bench import (
    has_nan,
    judged,
    plan_of,
    quiet,
    refused,
    samples_of,
    texts_in,
)
from tests.unit.film_bench import BAND, NAME, films_of

BARE = (89.9, 90.0, 90.1)
SLIDES = {
    ("control", "bare"): BARE,
    ("control", "applied"): (89.9, 90.0, 90.1),
    ("wax", "bare"): BARE,
    ("wax", "applied"): (55.7, 55.8, 55.9),
}


def film(readings: dict[tuple[str, str], tuple[float, ...]], treatment: str = "wax") -> Film:
    found = judged(films_of(readings), treatment).film
    assert found is not None
    return found


def test_a_film_is_what_the_slide_lets_through_over_itself_bare_and_over_the_controls_ratio() -> (
    None
):
    """The control lost a hundredth meanwhile, which is not the film's doing: 0.62 / 0.99."""
    found = film(SLIDES | {("control", "applied"): (89.0, 89.1, 89.2)})
    assert found.transmittance == pytest.approx(55.8 / 90 / (89.1 / 90), rel=1e-12)
    assert found.blocking == pytest.approx(1 - found.transmittance)
    assert found.absorbance == pytest.approx(-math.log10(found.transmittance))
    assert found.what == NAME


def test_relative_uncertainties_of_the_four_means_add_up_in_squares() -> None:
    """JCGM 100:2008 (GUM), 5.1.6: (u_y / y)^2 is the sum of (p_i u(x_i) / x_i)^2, p = 1 or -1.

    Each mean of three readings has u = 0.1 / sqrt(3): (1/90^2 + 1/90^2 + 1/90^2 + 1/55.8^2).
    """
    found = judged(films_of(SLIDES), "wax")
    u = 0.1 / math.sqrt(3) * math.sqrt(3 / 90**2 + 1 / 55.8**2)
    assert found.budget.combined == pytest.approx(u, rel=1e-9)
    assert found.budget.unit == "one"
    assert found.film is not None
    ratio = found.film.transmittance
    assert found.film.absorbance_u == pytest.approx(u / math.log(10), rel=1e-9)
    assert found.film.interval == pytest.approx(
        (ratio * math.exp(-found.budget.expanded), ratio * math.exp(found.budget.expanded))
    )


def test_the_budget_is_that_of_the_library_uncertainties() -> None:
    step = 0.1
    found = judged(films_of(SLIDES, resolution=step), "wax")
    scatter = 0.1 / math.sqrt(3)
    means = [ufloat(m, math.hypot(scatter, step / math.sqrt(12))) for m in (55.8, 90.0, 90.0, 90.0)]
    ratio = means[0] / means[1] / (means[2] / means[3])
    # An offset does not cancel, so how the opening check showed it is in there as well.
    check = step / math.sqrt(12) * (1 / 55.8 - 1 / 90)
    assert found.budget.combined == pytest.approx(
        math.hypot(ratio.std_dev / ratio.nominal_value, check), rel=1e-9
    )


def test_the_sentence_speaks_of_the_ratio_with_band_and_weights() -> None:
    found = judged(films_of(SLIDES), "wax")
    assert found.decision is Decision.BETTER
    assert found.sentence.startswith(
        f"Wax, applied: better than the control. In {NAME}, the film lets 62.0"
    )
    assert "% of the light through that its blank lets through (95 % interval 61." in found.sentence
    assert ": it blocks 38.0" in found.sentence


def test_where_more_light_counts_as_better_the_same_film_is_worse() -> None:
    assert judged(films_of(SLIDES, higher_is_better=True), "wax").decision is Decision.WORSE


def test_a_change_inside_the_interval_is_not_shown_and_no_small_gain() -> None:
    found = judged(films_of(SLIDES | {("wax", "applied"): (89.8, 89.9, 90.0)}), "wax")
    assert found.decision is Decision.NOT_SHOWN
    assert "A change is not shown: it lies inside what was not certain." in found.sentence


def test_a_ratio_above_one_stays_and_is_not_clipped() -> None:
    found = judged(films_of(SLIDES | {("wax", "applied"): (92.9, 93.0, 93.1)}), "wax")
    assert found.film is not None
    assert found.film.transmittance == pytest.approx(93 / 90)
    assert found.film.blocking == pytest.approx(-1 / 30)
    assert found.film.absorbance is not None
    assert found.film.absorbance < 0
    assert found.decision is Decision.WORSE
    assert "103.3" in found.sentence
    assert "more than the blank by itself" in found.sentence


def test_the_margin_is_in_percent_of_the_blanks_light() -> None:
    near = SLIDES | {("wax", "applied"): (89.5, 89.6, 89.7)}
    found = judged(films_of(near, margin="3"), "wax")
    assert found.margin == pytest.approx(math.log(1.03))
    assert found.decision is Decision.EQUAL
    assert "within ±3 % of the blank's light" in found.sentence
    assert found.film is not None
    low, high = found.film.equality_interval
    assert 0.97 < 1 / 1.03 <= low <= high <= 1.03


def test_a_blank_that_lets_hardly_any_light_through_is_refused_with_a_next_step() -> None:
    dim = {place: tuple(v / 12 for v in values) for place, values in SLIDES.items()}
    found = refused(films_of(dim), "wax")
    assert "the blank wax lets only 7.5" in found.reason
    assert "less than 10 %" in found.reason
    assert "fused silica" in found.next_step


def test_no_light_gives_an_upper_limit_and_no_ratio() -> None:
    """Ends at 98.75 % each (four means, Bonferroni): (0.2 t/sqrt(3)) / ... below 2 %."""
    dark = SLIDES | {("wax", "applied"): (-0.1, 0.0, 0.1)}
    result = films_of(dark, resolution=0.1)
    found = refused(result, "wax")
    assert found.reason.startswith("no light came through wax, so there is no ratio; its film lets")
    assert "at most" in found.reason
    assert "upper limit of 95 %" in found.reason
    (change,) = [c for c in result.changes if c.zone == "wax"]
    assert change.estimate is None
    assert "no light came through at applied" in change.sentence
    assert not has_nan(result)


def test_hardly_any_light_gives_an_upper_limit_too() -> None:
    dark = SLIDES | {("wax", "applied"): (0.1, 0.3, 0.5)}
    found = refused(films_of(dark, resolution=0.1), "wax")
    assert "hardly any light came through wax" in found.reason
    assert "at most" in found.reason


def test_the_upper_limit_holds_in_95_of_100_drawn_trials() -> None:
    rng = np.random.default_rng(5)
    below = 0
    runs = 250
    truth = 0.2 / 90
    for _ in range(runs):
        drawn = {
            place: tuple(rng.normal(0.2 if place == ("wax", "applied") else 90.0, 0.3, 4))
            for place in SLIDES
        }
        found = films_of(drawn).comparison("wax", "applied")
        if not isinstance(found, Refusal):
            below += 1  # a ratio was taken: looked at by another test
            continue
        text = found.reason
        limit = float(text.split("at most ")[1].split(" %")[0]) / 100
        below += limit >= truth * 0.995
    assert below / runs >= 0.95


def test_intervals_hold_the_truth_in_95_of_100_drawn_trials_and_false_decisions_are_rare() -> None:
    """300 trials of two films and one that does nothing at all, 12,000 drawn readings."""
    rng = np.random.default_rng(11)
    films = {"wax": 0.62, "oil": 0.30, "gel": 1.0}
    runs, held, false = 300, dict.fromkeys(films, 0), 0
    for _ in range(runs):
        age = rng.uniform(0.97, 1.0)
        readings = {("control", "bare"): rng.normal(90, 0.4, 5)} | {
            ("control", "applied"): rng.normal(90 * age, 0.4, 5)
        }
        for name, ratio in films.items():
            blank = rng.uniform(88, 92)
            readings[name, "bare"] = rng.normal(blank, 0.4, 5)
            readings[name, "applied"] = rng.normal(blank * age * ratio, 0.4, 5)
        result = films_of({k: tuple(map(float, v)) for k, v in readings.items()})
        for name, ratio in films.items():
            found = judged(result, name)
            assert found.film is not None
            low, high = found.film.interval
            held[name] += low <= ratio <= high
        false += judged(result, "gel").is_difference_shown
    # Each holds more than 95 %, since all three hold 95 % together.
    assert all(n / runs >= 0.95 for n in held.values()), held
    assert false / runs <= 0.05


BOX = {
    ("control1", "applied"): (89.9, 90.0, 90.1),
    ("control2", "applied"): (90.4, 90.5, 90.6),
    ("control3", "applied"): (89.4, 89.5, 89.6),
    ("control4", "applied"): (90.1, 90.2, 90.3),
    ("wax1", "applied"): (55.7, 55.8, 55.9),
    ("wax2", "applied"): (55.2, 55.3, 55.4),
    ("wax3", "applied"): (56.0, 56.1, 56.2),
    ("oil1", "applied"): (80.0, 80.1, 80.2),
}


def test_a_slide_of_a_box_keeps_the_uncertainty_of_its_own_readings() -> None:
    level = films_of(BOX).level("oil1", "applied")
    assert level is not None
    assert level.budget is not None
    assert level.budget.combined == pytest.approx(0.1 / math.sqrt(3))


def test_against_a_box_of_blanks_the_film_is_that_of_the_slides_engine() -> None:
    """First order in the spread of slides, so ratio and uncertainty agree to a thousandth."""
    result = films_of(BOX)
    blanks = [0.90, 0.905, 0.895, 0.902]
    for name, coated in {"wax": [0.558, 0.553, 0.561], "oil": [0.801]}.items():
        found = judged(result, name)
        other = film_of_slides("UVA", coated, blanks)
        assert found.film is not None
        assert other.value is not None
        assert other.budget is not None
        assert found.film.transmittance == pytest.approx(other.value, rel=2e-5)
        spread = math.hypot(
            *(t.contribution for t in found.budget.terms if t.name.startswith("spread"))
        )
        assert spread == pytest.approx(other.budget.combined / other.value, rel=2e-3)
    assert judged(result, "wax").is_of_zones
    assert not judged(result, "oil").is_of_zones
    assert result.changes == ()


def test_of_slides_against_blanks_it_is_not_said_that_changes_of_zones_tell() -> None:
    rules = " ".join(films_of(BOX).rules)
    assert "uncertainty comes from the spread of the slides of each side" in rules
    assert "from  to the stage" not in rules
    assert "zones tell together" not in rules
    assert "if all treatments spread alike" not in rules


def test_what_a_bent_scale_does_to_a_film_is_said_with_a_figure_that_is_true() -> None:
    (said,) = [rule for rule in films_of(BOX).rules if "straight" in rule]
    assert "nothing tells how far it is bent" in said

    def read(t: float) -> float:
        return t + 4 * 0.003 * t * (1 - t)

    off = read(0.62 * 0.92) / read(0.92) - 0.62
    assert f"by {100 * off:.2f} %" in said.replace("\n", " ")
    assert off / 0.62 == pytest.approx(4 * 0.003 * (0.92 - 0.62 * 0.92), rel=0.02)


def test_the_limit_of_a_box_is_that_of_the_least_known_line() -> None:
    found = judged(films_of(BOX), "wax")
    reach = reach_of(found.budget.terms)
    assert found.budget.expanded == pytest.approx(reach.half_width(shared_level(0.05, 2)))
    assert {t.nu for t in found.budget.terms if t.kind is Kind.A and t.contribution} == {2, 3}


def test_one_blank_gives_no_decision() -> None:
    lone = {k: v for k, v in BOX.items() if k[0] not in ("control2", "control3", "control4")}
    found = refused(films_of(lone), "wax")
    assert found.reason == "one blank does not show by how much blanks differ"
    assert "at least two blanks of the same box, better five" in found.next_step


def test_a_box_holds_the_truth_in_95_of_100_drawn_trials_also_with_one_coated_slide() -> None:
    rng = np.random.default_rng(23)
    runs, held, false = 300, {"wax": 0, "oil": 0}, 0
    for _ in range(runs):
        readings = {}
        for place in BOX:
            name = place[0].rstrip("0123456789")
            ratio = {"control": 1.0, "wax": 0.62, "oil": 1.0}[name]
            slide = 90 * (1 + rng.normal(0, 0.006)) * ratio
            readings[place] = tuple(map(float, rng.normal(slide, 0.1, 3)))
        result = films_of(readings)
        for name, ratio in (("wax", 0.62), ("oil", 1.0)):
            found = judged(result, name).film
            assert found is not None
            held[name] += found.interval[0] <= ratio <= found.interval[1]
        false += judged(result, "oil").is_difference_shown
    assert all(n / runs >= 0.95 for n in held.values()), held
    assert false / runs <= 0.05


def test_films_are_held_against_one_another_by_their_ratio() -> None:
    both = SLIDES | {("oil", "bare"): BARE, ("oil", "applied"): (44.9, 45.0, 45.1)}
    result = films_of(both)
    (lead,) = result.leads
    assert (lead.leader, lead.rival) == ("oil", "wax")
    assert lead.pair.estimate == pytest.approx(math.log(45 / 55.8))
    assert "In " + NAME + ", the film of Oil lets 80.6" in lead.pair.sentence


def test_an_error_in_proportion_cancels_and_an_offset_counts_by_what_it_is_of_the_reading() -> None:
    """An open beam 0.3 % too high at both checks: b = 0.3 (1/55.8 - 1/90) of the ratio."""
    brackets = [
        Bracket(stage, 1000.0 * i, 1000.0 * i + 900, drift=0.0, tile_u=0.0, opening_deviation=0.3)
        for i, stage in enumerate(("bare", "applied"))
    ]
    found = judged(films_of(SLIDES, brackets=brackets), "wax")
    assert found.budget.bias == pytest.approx(0.3 * (1 / 55.8 - 1 / 90), rel=1e-9)
    assert judged(films_of(SLIDES), "wax").budget.bias == 0
    equal = SLIDES | {("wax", "applied"): SLIDES["control", "applied"]}
    assert judged(films_of(equal, brackets=brackets), "wax").budget.bias == 0


def test_under_no_check_a_film_is_judged_and_the_caveat_says_what_is_not_in_it() -> None:
    found = judged(films_of(SLIDES, brackets=[]), "wax")
    assert found.film is not None
    assert any("lie under no check" in text for text in found.caveats)


def test_a_drift_between_the_checks_widens_the_ratio_by_its_part_of_the_reading() -> None:
    drifting = [quiet("bare", 0.0), Bracket("applied", 1000.0, 1900.0, 0.5, 0.0, "", 0.0)]
    steady = judged(films_of(SLIDES), "wax").budget.expanded
    assert judged(films_of(SLIDES, brackets=drifting), "wax").budget.expanded > steady


def test_a_single_lamp_and_a_band_of_ones_own_are_named_as_they_are() -> None:
    lamp = judged(films_of(SLIDES, channel="940"), "wax").film
    own = judged(films_of(SLIDES, channel="350-450"), "wax").film
    assert lamp is not None
    assert own is not None
    assert lamp.what == "at 940 nm, as the meter weights it"
    assert own.what == "350-450 nm, as the meter weights it"


def test_a_band_whose_weights_are_known_is_named_by_them() -> None:
    name = "UVA 315-400 nm, arithmetic mean at 1 nm"
    found = judged(films_of(SLIDES, bands={"315-400": name}), "wax")
    assert f"In {name}, the film" in found.sentence


def test_no_figure_of_any_degenerate_trial_is_no_number() -> None:
    equal = dict.fromkeys(SLIDES, (90.0, 90.0, 90.0))
    single = {place: values[:1] for place, values in SLIDES.items()}
    for readings in (equal, single, SLIDES | {("wax", "applied"): ()}):
        result = films_of(readings)
        assert not has_nan(result)
        assert all(text for c in result.comparisons for text in texts_in(c.sentence))


def test_a_scale_that_drifts_cancels_where_readings_are_corrected_by_gain() -> None:
    """Every reading of the applied stage is 2 % too high, and so was the open beam there.

    The dark was read right: without it what was found may be an offset
    (`tests/unit/analysis/test_onepiece.py`).
    """
    dark = Beside("DARK", 0.0, 0.0, 0.0, 0.0)
    high = {
        (zone, stage): tuple(v * (1.02 if stage == "applied" else 1.0) for v in values)
        for (zone, stage), values in SLIDES.items()
    }
    brackets = [
        Bracket(
            "bare", 0.0, 900.0, 0.0, 0.0, "", 0.0, piece="OPEN", certified=100.0, foot=dark,
            opening_doubt=Combined(0.02, 9), closing_doubt=Combined(0.02, 9),
        ),
        Bracket(
            "applied", 1000.0, 1900.0, 0.0, 0.0, "", 2.0, piece="OPEN", certified=100.0, foot=dark,
            opening_doubt=Combined(0.02, 9), closing_doubt=Combined(0.02, 9),
        ),
    ]  # fmt: skip
    plan, measure = plan_of(["control", "wax"], channels=(BAND,), higher_is_better=False)
    measure = replace(
        measure, quantity=Quantity.TRANSMITTANCE, unit="percent",
        drift_correction=DriftCorrection.GAIN,
    )  # fmt: skip
    found = corrected_measure(plan, measure, BAND, samples_of(high, BAND), brackets, 0.0)
    assert found.result is not None
    c = judged(found.result, "wax")
    assert c.film is not None
    assert c.film.transmittance == pytest.approx(55.8 / 90, rel=1e-9)
    assert c.budget.bias == 0
    # Errors of the checks are in proportion now, so they cancel and the scatter alone is left.
    scatter = [t.contribution for t in c.budget.terms if t.name.startswith("scatter")]
    assert c.budget.combined == pytest.approx(math.hypot(*scatter), rel=1e-4)


def test_pairs_of_films_that_do_not_differ_are_called_different_in_5_of_100_trials_at_most() -> (
    None
):
    """160 trials of four equal films, strong and weak ones alike; any false difference counts."""
    rng = np.random.default_rng(91)
    false = 0
    for ratio in (0.5, 0.95):
        for _ in range(80):
            readings = {("control", "bare"): rng.normal(90, 0.3, 4)} | {
                ("control", "applied"): rng.normal(90, 0.3, 4)
            }
            for name in ("wax", "oil", "gel", "tar"):
                readings[name, "bare"] = rng.normal(90, 0.3, 4)
                readings[name, "applied"] = rng.normal(90 * ratio, 0.3, 4)
            result = films_of({k: tuple(map(float, v)) for k, v in readings.items()})
            found = standing(
                result, {n: n for n in ("wax", "oil", "gel", "tar")}, "applied", draws=100
            )
            assert found is not None
            told = {Decision.BETTER, Decision.WORSE}
            false += any(p.decision in told for p in found.pairs)
    assert false / 160 <= 0.05


def test_the_best_film_is_the_likely_first() -> None:
    both = SLIDES | {("oil", "bare"): BARE, ("oil", "applied"): (44.9, 45.0, 45.1)} | {
        ("gel", "bare"): BARE, ("gel", "applied"): (80.9, 81.0, 81.1)
    }  # fmt: skip
    names = {"wax": "Wax", "oil": "Oil", "gel": "Gel"}
    found = standing(films_of(both), names, "applied")
    assert found is not None
    assert found.treatments == ("oil", "wax", "gel")
    assert found.chances is not None
    assert found.chances.first[0] > 0.99
    assert [round(math.exp(p.estimate), 4) for p in found.pairs] == [
        round(x, 4) for x in (45 / 55.8, 45 / 81, 55.8 / 81)
    ]


def test_where_little_light_comes_through_ratio_or_limit_holds_in_95_of_100_drawn_trials() -> None:
    """At 1.5 % of light a third of the trials has an upper limit in the place of a ratio."""
    rng = np.random.default_rng(4)
    runs, held, limits = 250, 0, 0
    for _ in range(runs):
        drawn = {
            place: tuple(map(float, rng.normal(1.5 if place == ("wax", "applied") else 90, 0.3, 5)))
            for place in SLIDES
        }
        found = films_of(drawn).comparison("wax", "applied")
        if isinstance(found, Refusal):
            limits += 1
            limit = float(found.reason.split("at most ")[1].split(" %")[0]) / 100
            # The limit is printed with two digits.
            held += limit * 1.01 >= 1.5 / 90
        else:
            assert found is not None
            assert found.film is not None
            low, high = found.film.interval
            held += low <= 1.5 / 90 <= high
    assert 0.1 < limits / runs < 0.5
    assert held / runs >= 0.94


@pytest.mark.parametrize(
    ("blanks", "coated", "most", "least"),
    [
        ((0, 0, 0), (0, 0, 0), 0.1, 0.0),  # of one box: 0.05 and two standard errors
        ((0, 0, 1, 1), (0, 1), 0.1, 0.0),  # as many blanks of each box as coated slides
        ((0, 0, 0, 0, 0), (1, 1, 1), 1.0, 0.3),  # of another box: what the rules warn of
    ],
)
def test_blanks_of_another_box_make_films_where_there_are_none_and_the_rules_warn_of_it(
    blanks: tuple[int, ...], coated: tuple[int, ...], most: float, least: float
) -> None:
    """Boxes differ by 0.3 percent of light, slides of a box by 0.1; nothing is on any slide."""
    draw = np.random.default_rng(4)
    called, trials = 0, 80
    for _ in range(trials):
        box = 90 + draw.normal(0, 0.3, 2)
        readings = {
            (f"{side}{k}", "cured"): tuple(
                np.round(box[of] + draw.normal(0, 0.1) + draw.normal(0, 0.03, 3), 2).tolist()
            )
            for side, boxes in (("control", blanks), ("wax", coated))
            for k, of in enumerate(boxes)
        }
        result = films_of(readings, resolution=0.01)
        low, high = judged(result, "wax", "cured").interval
        called += low > 0 or high < 0
    assert least <= called / trials <= most
    assert any("as many blanks are wanted as slides are coated" in rule for rule in result.rules)


def test_the_smallest_change_is_that_of_the_side_on_which_the_film_lies() -> None:
    """A ratio that falls by the logarithm s falls by 1 - exp(-s), and rises by exp(s) - 1."""
    scale = ratio_scale(NAME)
    assert scale.seen(0.5, 0.01, -0.1) == f"{100 * (1 - math.exp(-0.5)):.1f}"
    assert scale.seen(0.5, 0.01, 0.1) == f"{100 * (math.exp(0.5) - 1):.1f}"
    found = judged(films_of(SLIDES, resolution=0.1), "wax")
    fallen = scale.seen(found.smallest_visible, found.budget.expanded, -1.0)
    assert f"could have seen is {fallen} % of the blank's light" in found.sentence


def test_a_ratio_and_its_half_width_show_whether_they_reach_100_percent() -> None:
    """Above it the printed half width is of the upper side, and may reach it though none does."""
    scale = ratio_scale(NAME)
    assert scale.reached(-0.5, 0.02) == "60.7 ± 1.2 %"
    assert scale.reached(-0.00544, 0.00545) == "99.457 ± 0.544 %"
    assert scale.reached(0.0198, 0.0202) == "102.0 ± 2.1 %"
    assert scale.reached(0.0198, 0.0197) == "102.0 %, 95 % from 100.01 to 104.03 %"


def test_of_several_films_the_chance_of_a_false_equality_is_said_to_be_larger() -> None:
    oil = {("oil", stage): SLIDES["wax", stage] for stage in ("bare", "applied")}
    larger = "the chance that any of the 2 is falsely called equal is larger than 5 %"
    assert larger in " ".join(films_of(SLIDES | oil, margin="3").rules)
    assert "falsely called equal" not in " ".join(films_of(SLIDES, margin="3").rules)


def test_a_dark_blank_of_a_box_is_named_and_breaks_nothing() -> None:
    # With one blank in the dark only one had a logarithm, and no spread could be told.
    box = {("control1", "applied"): BARE, ("control2", "applied"): (0.0, 0.1, -0.1)}
    found = films_of({**box, ("wax1", "applied"): (60.0, 60.1, 60.2)}, resolution=0.1)
    assert "the blank control2 lets only" in refused(found, "wax").reason
    faint = {**box, ("control2", "applied"): (1e-300, 1e-300, 1e-300)}
    dim = films_of({**faint, ("wax1", "applied"): (1e-300, 2e-300, 1e-300)}, resolution=0.1)
    assert not has_nan(dim)
    assert refused(dim, "wax").reason
