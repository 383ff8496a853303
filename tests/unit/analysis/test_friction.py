"""Forces over the weight of a sled: figures, budget and decisions, against arithmetic by hand."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from uncertainties import ufloat, umath

from acquire.analysis.budget.uncertainty import Combined, Term
from acquire.analysis.budgetproof import proof_of
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.gaugezero import Zero, zero_off
from acquire.analysis.correction import corrected_measure
from acquire.analysis.meter.friction import Friction, FrictionKind, brought
from acquire.analysis.places.standing import standing
from acquire.analysis.results import MeasureResult, Sample, measure_results
from acquire.analysis.samples.repeatability import NOTHING, Lent, Repeatability
from acquire.analysis.slickness.slope import slope_of
from acquire.analysis.treatments.basis import Basis
from acquire.analysis.treatments.decision import Decision
from acquire.model import (
    Angle,
    DriftCorrection,
    Measure,
    Plan,
    Quantity,
    SledCorrection,
    SledSpec,
)
from tests.unit.analysis.bench import judged, plan_of, refused, samples_of, texts_in

G = 9.80665
SLED = SledSpec(Decimal("0.2"), Decimal("0.002"), "200 g", Decimal("9.80665"), ())
W = 0.2 * G

BARE_N = (0.80, 0.82, 0.84)
WAXED_N = (0.20, 0.22, 0.24)
FORCES: Mapping[tuple[str, str], Sequence[float]] = {
    ("control", "bare"): BARE_N,
    ("control", "applied"): BARE_N,
    ("wax", "bare"): BARE_N,
    ("wax", "applied"): WAXED_N,
}


def _planned(
    zones: Sequence[str], sled: SledSpec | None = SLED, margin: str | None = None
) -> tuple[Plan, Measure]:
    plan, measure = plan_of(zones, channels=("",), margin=margin, higher_is_better=False)
    measure = replace(measure, id="slick", quantity=Quantity.FORCE, unit="newton", sled=sled)
    return replace(plan, measures=(measure,)), measure


def _quiet(stage: str, opening_at_s: float, drift: float = 0.0, offset: float = 0.0) -> Bracket:
    return Bracket(
        stage, opening_at_s, opening_at_s + 900, drift=drift, tile_u=0.001,
        opening_deviation=offset, certified=1.961,
    )  # fmt: skip


BRACKETS = (_quiet("bare", 0.0), _quiet("applied", 1000.0))


def _result(
    forces: Mapping[tuple[str, str], Sequence[float]] = FORCES,
    sled: SledSpec | None = SLED,
    *,
    brackets: Sequence[Bracket] = BRACKETS,
    resolution: float = 0.01,
    margin: str | None = None,
    friction: Friction | None = None,
    lent: Lent = NOTHING,
) -> MeasureResult:
    zones = list(dict.fromkeys(z for z, _ in forces))
    plan, measure = _planned(zones, sled, margin)
    samples = samples_of(forces, "")
    (result,) = measure_results(
        plan, measure, samples, brackets, resolution, lent, friction=friction
    )
    return result


def _line(result: MeasureResult, name: str) -> Term:
    return next(t for t in judged(result, "wax").budget.terms if t.name == name)


# -- figures ---------------------------------------------------------------------------------------


def test_a_level_is_the_mean_force_over_the_weight() -> None:
    level = _result().level("wax", "applied")
    assert level is not None
    assert level.cell.mean == pytest.approx(0.22 / W)
    assert level.cell.summary.sd == pytest.approx(0.02 / W)


def test_gram_force_over_gram_is_the_same_number() -> None:
    """100 gf on a sled of 200 g: 0.5, whatever gravity is said to be."""
    gram_force = 100 * 0.001 * G
    assert Friction(SLED).slope(gram_force).mu == pytest.approx(0.5, rel=1e-12)


def test_a_net_change_and_its_budget_are_those_of_the_forces_over_the_weight_and_the_sled() -> None:
    found = judged(_result(), "wax")
    assert found.estimate == pytest.approx(-0.60 / W)
    assert found.decision is Decision.BETTER
    # Four means of three pulls with s = 0.02 N; half a step of 0.01 N for each mean; the sled 1 %.
    scatter = 4 * (0.02**2 / 3) / W**2
    display = 4 * (0.005**2 / 3) / W**2
    of_sled = (0.01 * 0.60 / W) ** 2
    # The piece of 1.961 N, known to 0.001 N and read no better than its display shows it, at the
    # check around the stage at which the sides differ.
    of_gain = ((0.001**2 + 0.01**2 / 12) / 1.961**2) * (0.60 / W) ** 2
    assert found.budget.combined == pytest.approx(math.sqrt(scatter + display + of_sled + of_gain))
    mass = _line(_result(), "mass of the sled")
    assert mass.u == pytest.approx(0.01)
    assert mass.sensitivity == pytest.approx(0.60 / W)
    assert "one" in _result().unit


def test_the_mass_moves_a_difference_in_proportion_and_a_level_too() -> None:
    heavier = replace(SLED, mass_kg=Decimal("0.202"))
    one, other = judged(_result(), "wax"), judged(_result(sled=heavier), "wax")
    assert other.estimate / one.estimate == pytest.approx(0.200 / 0.202)
    level = _result().level("control", "bare")
    assert level is not None
    assert level.budget is not None
    (mass,) = [t for t in level.budget.terms if t.name == "mass of the sled"]
    assert mass.contribution == pytest.approx(0.01 * 0.82 / W)


def test_of_slides_alike_the_sled_adds_nothing() -> None:
    alike = {**FORCES, ("wax", "applied"): BARE_N}
    assert _line(_result(alike), "mass of the sled").contribution == pytest.approx(0.0, abs=1e-12)
    assert judged(_result(alike), "wax").decision is Decision.NOT_SHOWN


def test_last_digits_of_figures_that_cancel_are_no_sensitivity_to_the_sled() -> None:
    # Both fell alike, from other levels: 0.87 + 0.84 is not 0.85 + 0.86 to the last bit.
    forces = {
        ("control", "bare"): (0.87, 0.84, 0.81), ("control", "applied"): (0.77, 0.74, 0.71),
        ("wax", "bare"): (0.86, 0.85, 0.83), ("wax", "applied"): (0.76, 0.75, 0.73),
    }  # fmt: skip
    found = judged(_result(forces), "wax")
    assert found.estimate != 0.0
    assert found.estimate == pytest.approx(0.0, abs=1e-15)
    assert _line(_result(forces), "mass of the sled").sensitivity == 0.0


def test_without_a_sled_everything_stays_in_newton() -> None:
    plain = _result(sled=None)
    assert plain.unit == "newton"
    assert judged(plain, "wax").estimate == pytest.approx(-0.60)
    names = [t.name for t in judged(plain, "wax").budget.terms]
    assert "mass of the sled" not in names
    assert not any("sled" in text.lower() for text in texts_in(plain))


def test_a_coefficient_decides_as_its_force_where_the_sled_is_known_well() -> None:
    """Nothing but a scale: the same decision, p and ratio of the interval to the change."""
    known = replace(SLED, u_kg=Decimal(0))
    one, plain = judged(_result(sled=known), "wax"), judged(_result(sled=None), "wax")
    assert one.p == pytest.approx(plain.p)
    assert one.interval[0] * W == pytest.approx(plain.interval[0])
    assert one.smallest_visible * W == pytest.approx(plain.smallest_visible)


def test_a_margin_is_one_of_coefficients() -> None:
    alike = {z: [0.80 + 0.0002 * k for k in range(3)] for z in FORCES}
    fine = replace(SLED, u_kg=Decimal(0))
    result = _result(alike, fine, margin="0.05", resolution=0.0001)
    assert judged(result, "wax").decision is Decision.EQUAL
    assert "±0.05" in judged(result, "wax").sentence
    assert judged(_result(alike, fine, margin="0.0001"), "wax").decision is Decision.NOT_SHOWN


def test_checks_are_divided_by_the_weight_too() -> None:
    brackets = (_quiet("bare", 0.0), _quiet("applied", 1000.0, drift=0.1, offset=0.05))
    level = _result(brackets=brackets).level("wax", "applied")
    plain = _result(brackets=brackets, sled=None).level("wax", "applied")
    assert level is not None
    assert level.budget is not None
    assert plain is not None
    assert plain.budget is not None
    assert level.budget.bias * W == pytest.approx(plain.budget.bias)
    own = math.hypot(plain.budget.combined / W, 0.01 * 0.22 / W)
    assert level.budget.combined == pytest.approx(own)


def test_the_budget_holds_when_its_model_is_shaken_and_its_errors_drawn() -> None:
    result = _result()
    assert proof_of(judged(result, "wax"), result, 20_000).holds


def test_drift_is_taken_off_forces_before_they_are_divided() -> None:
    brackets = (_quiet("bare", 0.0), _quiet("applied", 1000.0, drift=0.09, offset=0.0))
    plan, measure = _planned(("control", "wax"))
    measure = replace(measure, drift_correction=DriftCorrection.GAIN)
    samples = samples_of(FORCES, "")
    found = corrected_measure(plan, measure, "", samples, brackets, 0.01)
    assert found.result is not None
    at_s = [s.at_s for s in samples if (s.zone, s.stage) == ("wax", "applied")]
    read = [1.961 + 0.09 * (t - 1000) / 900 for t in at_s]
    by_hand = sum(f * 1.961 / x for f, x in zip(WAXED_N, read, strict=True)) / 3 / W
    level = found.result.level("wax", "applied")
    assert level is not None
    assert level.cell.mean == pytest.approx(by_hand)


# -- angles ----------------------------------------------------------------------------------------

TILTED = replace(
    SLED,
    corrections=(SledCorrection.PULL_ANGLE, SledCorrection.TILT),
    pull_angle=Angle(Decimal(10), Decimal("0.5")),
    tilt=Angle(Decimal(2), Decimal("0.2")),
)


@pytest.mark.parametrize("force", [0.0, 0.1, 0.5, 1.2, 3.0])
@pytest.mark.parametrize(("line", "tilt"), [(0.0, 0.0), (10.0, 0.0), (0.0, 3.0), (-8.0, -4.0)])
def test_value_and_slopes_are_those_of_the_law_with_variables(
    force: float, line: float, tilt: float
) -> None:
    """A second road: the library `uncertainties` derives the same law by itself."""
    f, m = ufloat(force, 1e-3), ufloat(0.2, 0.002)
    a, b = ufloat(math.radians(line), 0.01), ufloat(math.radians(tilt), 0.004)
    along = f * umath.cos(a) - m * G * umath.sin(b)
    found = along / (m * G * umath.cos(b) - f * umath.sin(a))
    slope = slope_of(force, W, line, tilt)
    assert slope.mu == pytest.approx(found.nominal_value, abs=1e-12)
    by = found.derivatives
    assert slope.by_force == pytest.approx(by[f])
    assert slope.by_weight == pytest.approx(by[m] * 0.2, abs=1e-12)
    assert slope.by_line == pytest.approx(by[a], abs=1e-12)
    assert slope.by_tilt == pytest.approx(by[b], abs=1e-12)


def test_an_angle_has_a_line_of_its_own_and_counts_once_for_all_readings() -> None:
    result = _result(sled=TILTED)
    a, b = math.radians(10), math.radians(2)

    def mu(force: float, line: float = a, tilt: float = b) -> float:
        along = force * math.cos(line) - W * math.sin(tilt)
        return along / (W * math.cos(tilt) - force * math.sin(line))

    def net(line: float = a, tilt: float = b) -> float:
        waxed, bare = (sum(mu(f, line, tilt) for f in forces) / 3 for forces in (WAXED_N, BARE_N))
        return waxed - bare

    assert judged(result, "wax").estimate == pytest.approx(net())
    step = 1e-6
    by_line = (net(line=a + step) - net(line=a - step)) / (2 * step)
    by_tilt = (net(tilt=b + step) - net(tilt=b - step)) / (2 * step)
    line, tilt = (_line(result, n) for n in ("angle of the line", "tilt of the panel"))
    assert line.sensitivity == pytest.approx(by_line, rel=1e-6)
    assert tilt.sensitivity == pytest.approx(by_tilt, rel=1e-6)
    assert line.u == pytest.approx(math.radians(0.5))


def test_an_angle_off_the_list_is_on_record_and_changes_nothing() -> None:
    off = replace(TILTED, corrections=())
    assert judged(_result(sled=off), "wax").estimate == judged(_result(), "wax").estimate
    said = " ".join(_result(sled=off).rules)
    assert "off (10° with a standard uncertainty of 0.5°, not taken into account)" in said
    assert "on (10° with a standard uncertainty of 0.5°)" in " ".join(_result(sled=TILTED).rules)


def test_a_pull_that_lifts_the_sled_is_said_and_left_out() -> None:
    steep = replace(SLED, corrections=(SledCorrection.PULL_ANGLE,),
                    pull_angle=Angle(Decimal(45), Decimal(0)))  # fmt: skip
    forces = {**FORCES, ("wax", "applied"): (*WAXED_N, 5.0)}
    result = _result(forces, steep)
    level = result.level("wax", "applied")
    assert level is not None
    assert level.cell.n == 3
    assert any("lifts the sled" in rule for rule in result.rules)


# -- the gauge's zero ------------------------------------------------------------------------------


def test_the_zero_comes_off_along_its_line_and_off_what_the_checks_found() -> None:
    samples = [Sample("A", "wax", "bare", k, "", 1.0, at, k)
               for k, at in enumerate((0.0, 450.0, 900.0))]  # fmt: skip
    bracket = replace(
        _quiet("bare", 0.0, drift=0.05, offset=0.03), opening_doubt=Combined(0.003, math.inf)
    )
    zero = Zero(0.02, 0.04, Combined(0.004, math.inf), Combined(0.002, math.inf))
    found = zero_off(samples, [bracket], {0: zero})
    assert found is not None
    (off,) = found[1]
    assert [s.value for s in found[0]] == pytest.approx([0.98, 0.97, 0.96])
    assert (off.opening_deviation, off.drift) == pytest.approx((0.01, 0.03))
    assert (off.opening_doubt.u, off.closing_doubt.u) == pytest.approx((0.005, 0.002))


def test_readings_with_and_without_a_zero_never_meet() -> None:
    outside = Sample("A", "wax", "cured", 1, "", 1.0, 5000.0, 9)
    assert zero_off([outside], BRACKETS, {0: Zero(0.1, None), 1: Zero(0.1, None)}) is None
    assert zero_off([], BRACKETS, {0: Zero(0.1, None)}) is None


# -- what is lent, said and refused ----------------------------------------------------------------


def test_a_study_of_forces_is_lent_over_the_weight_and_never_to_traces() -> None:
    known = Repeatability(0.02, 30, 0.1, 2.0, "study 3")
    lent = Lent({"": known})
    held = brought(Friction(SLED), [], [], 0.01, lent).lent.known[""]
    assert (held.sd, held.low, held.high) == pytest.approx((0.02 / W, 0.1 / W, 2.0 / W))
    of_traces = brought(Friction(SLED, of_traces=True), [], [], 0.01, lent).lent
    assert not of_traces.known
    assert "traces" in of_traces.missing[""]


def test_one_pull_a_zone_gives_no_decision_whatever_is_known_of_the_sled() -> None:
    single = {place: forces[:1] for place, forces in FORCES.items()}
    assert "only one reading" in refused(_result(single), "wax").reason


def test_equal_pulls_without_a_known_step_give_no_decision_by_the_sled_alone() -> None:
    still = {place: (forces[0],) * 3 for place, forces in FORCES.items()}
    assert "nothing tells how far" in refused(_result(still, resolution=0.0), "wax").reason


def test_a_kinetic_result_has_the_published_precision_beside_it() -> None:
    kinetic = Friction(SLED, FrictionKind.KINETIC)
    result = _result(friction=kinetic)
    said = " ".join(result.advice)
    assert "0.06" in said
    assert "0.17" in said
    assert "ASTM D2534" in said
    assert "applied: 1 of 1 net changes are larger than that repeatability." in said
    assert result.basis.scale.what == "kinetic coefficient of friction"
    assert "D2534" not in " ".join(_result().advice)


def test_a_mixed_up_unit_is_not_plausible_and_said() -> None:
    kilograms = {place: [f * 9.8 for f in forces] for place, forces in FORCES.items()}
    assert "is the sled's mass of 200 g right" in " ".join(_result(kilograms).advice)
    assert "is the sled's mass" not in " ".join(_result().advice)


# -- coverage --------------------------------------------------------------------------------------


def test_intervals_hold_the_truth_where_sled_scatter_and_angle_are_off_by_chance() -> None:
    """800 trials drawn by numpy: the truth is in its interval in 95 of 100 or more."""
    draws = np.random.default_rng(20_260)
    u_mass, u_deg, scatter = 0.03, 1.0, 0.015
    truth = {("control", "bare"): 0.4, ("control", "applied"): 0.4,
             ("wax", "bare"): 0.4, ("wax", "applied"): 0.12}  # fmt: skip
    held = 0
    trials = 800
    for _ in range(trials):
        true_mass = 0.2 * (1 + u_mass * draws.standard_normal())
        true_deg = math.radians(8 + u_deg * draws.standard_normal())
        forces = {}
        for place, mu in truth.items():
            pulled = mu + scatter * draws.standard_normal(5)
            # mu (W - F sin a) = F cos a, solved for the force that such a sled is pulled by.
            forces[place] = [
                float(m * true_mass * G / (math.cos(true_deg) + m * math.sin(true_deg)))
                for m in pulled
            ]
        sled = replace(
            SLED,
            u_kg=Decimal(repr(0.2 * u_mass)),
            corrections=(SledCorrection.PULL_ANGLE,),
            pull_angle=Angle(Decimal(8), Decimal(repr(u_deg))),
        )
        low, high = judged(_result(forces, sled, resolution=0.0001), "wax").interval
        held += low <= 0.12 - 0.4 <= high
    assert held / trials >= 0.94


def test_without_the_line_of_the_sled_the_same_intervals_would_hold_too_few() -> None:
    """The check of the check above: a mass taken as exact leaves out what moves the difference."""
    draws = np.random.default_rng(20_261)
    held = 0
    for _ in range(300):
        true_mass = 0.2 * (1 + 0.10 * draws.standard_normal())
        forces = {
            place: [float(m * true_mass * G) for m in mu + 0.004 * draws.standard_normal(5)]
            for place, mu in {("control", "bare"): 0.4, ("control", "applied"): 0.4,
                              ("wax", "bare"): 0.4, ("wax", "applied"): 0.1}.items()
        }  # fmt: skip
        exact = replace(SLED, u_kg=Decimal(0))
        low, high = judged(_result(forces, exact, resolution=0.0001), "wax").interval
        held += low <= -0.3 <= high
    assert held / 300 < 0.7


# -- among one another -----------------------------------------------------------------------------


def test_two_treatments_share_the_sled_so_that_their_difference_has_little_of_it() -> None:
    forces = dict(FORCES)
    forces |= {("oil", "bare"): BARE_N, ("oil", "applied"): (0.30, 0.32, 0.34)}
    result = _result(forces)
    found = standing(result, {"wax": "Wax", "oil": "Oil"}, "applied")
    assert found is not None
    assert found.chances is not None
    (pair,) = found.pairs
    mass = next(t for t in pair.evaluation.terms if t.name == "mass of the sled")
    assert mass.contribution == pytest.approx(0.01 * 0.10 / W)
    assert found.chances.first[0] > 0.95


def test_a_basis_without_a_sled_has_nothing_in_common() -> None:
    basis: Basis = _result(sled=None).basis
    assert basis.common == ()
