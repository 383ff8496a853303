"""The sled of a measure in a trial file: what it gives, every fault, and what may change later."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.cli.trial import plan_lines
from acquire.errors import SettingsError
from acquire.model import Angle, Measure, Plan, SledCorrection, SteadyWindow
from acquire.pipeline.plan_change import contradictions
from acquire.pipeline.plan_growth import additions
from acquire.settings import parse_plan
from tests.unit.two_zones import TWO_ZONES

_TEXT = (
    """
[trial]
id = "quay-1"
title = "Two protectants"
stages = ["bare", "applied"]
"""
    + TWO_ZONES
    + """
[[measure]]
id = "slick"
quantity = "{quantity}"
{geometry}
replicates = 3
higher_is_better = false
{margin}

[measure.sled]
{sled}
"""
)
_PLAIN = 'mass = "512.4 g"\nexpanded_uncertainty = "0.2 g"'


def _plan(sled: str = _PLAIN, quantity: str = "force", margin: str = "") -> Plan:
    geometry = "geometry = 20" if quantity == "gloss" else ""
    return parse_plan(
        _TEXT.format(sled=sled, quantity=quantity, geometry=geometry, margin=margin), "trial.toml"
    )


def _measure(sled: str = _PLAIN) -> Measure:
    return _plan(sled).measures[0]


def _faults(sled: str, quantity: str = "force") -> dict[str, tuple[str, str]]:
    with pytest.raises(SettingsError) as caught:
        _plan(sled, quantity)
    return {f.path: (f.got, f.wanted) for f in caught.value.faults}


def test_a_sled_has_its_mass_in_kilogram_and_half_the_expanded_uncertainty() -> None:
    sled = _measure().sled
    assert sled is not None
    assert (sled.mass_kg, sled.u_kg) == (Decimal("0.5124"), Decimal("0.0001"))
    assert sled.as_weighed == "512.4 g"
    assert sled.weight_n == pytest.approx(0.5124 * 9.80665)
    assert sled.corrections == (SledCorrection.ZERO,)


def test_results_and_margin_are_then_pure_numbers_and_readings_stay_newton() -> None:
    measure = _measure()
    assert (measure.unit, measure.result_unit) == ("newton", "one")
    lines = "\n".join(plan_lines(_plan(margin="margin = 0.02")))
    assert "equivalent within 0.02" in lines
    assert "0.02 N" not in lines


@pytest.mark.parametrize(
    ("written", "kg"),
    [
        ("0.2 kg", "0.2"),
        # One avoirdupois ounce is 28.349523125 g, one pound 453.59237 g, exact by definition
        # (international yard and pound agreement, 1959; from memory).
        ("10 oz", "0.28349523125"),
        ("1 lb", "0.45359237"),
        ("203g", "0.203"),
    ],
)
def test_a_mass_says_its_unit(written: str, kg: str) -> None:
    sled = _measure(f'mass = "{written}"\nstandard_uncertainty = "0.05 g"').sled
    assert sled is not None
    assert (sled.mass_kg, sled.u_kg) == (Decimal(kg), Decimal("0.00005"))


def test_an_angle_that_is_given_is_used_unless_the_list_leaves_it_out() -> None:
    angles = f"{_PLAIN}\npull_angle_deg = 4\npull_angle_u_deg = 0.5\ntilt_deg = -1.5"
    sled = _measure(angles).sled
    assert sled is not None
    assert sled.pull_angle == Angle(Decimal(4), Decimal("0.5"))
    assert sled.tilt == Angle(Decimal("-1.5"), Decimal(0))
    assert sled.corrections == tuple(SledCorrection)
    without = _measure(f'{angles}\ncorrections = ["tilt"]').sled
    assert without is not None
    assert without.corrections == (SledCorrection.TILT,)
    assert without.pull_angle == Angle(Decimal(4), Decimal("0.5"))


def test_a_window_is_in_millimetres_behind_the_start_of_motion() -> None:
    window = "[measure.sled.window]\nskip_mm = 6\nlength_mm = 60\nspeed_mm_per_s = 2.5"
    sled = _measure(f"{_PLAIN}\n{window}").sled
    assert sled is not None
    assert sled.window == SteadyWindow(Decimal(6), Decimal(60), Decimal("2.5"))


def test_every_fault_of_a_sled_is_told_at_once_with_its_place() -> None:
    found = _faults(
        'mass = 512.4\nexpanded_uncertainty = "0.2 stone"\ngravity = 1.62\npull_angle_deg = 60\n'
        'tilt_u_deg = 1\ncorrections = ["tilt", "tilt", "heat"]\ncolour = "blue"\n'
        "[measure.sled.window]\nskip_mm = -1\nlength_mm = 0\nspeed_mm_per_s = 2"
    )
    at = "measure[0].sled"
    assert set(found) == {
        f"{at}.mass", f"{at}.expanded_uncertainty", f"{at}.gravity", f"{at}.pull_angle_deg",
        f"{at}.tilt_u_deg", f"{at}.corrections[2]", f"{at}.colour", f"{at}.window.skip_mm",
        f"{at}.window.length_mm",
    }  # fmt: skip
    got, wanted = found[f"{at}.mass"]
    assert got == "512.4"
    assert '"512.4 g"' in wanted


@pytest.mark.parametrize(
    ("sled", "path"),
    [
        ('mass = "203 g"', "sled"),
        (f'{_PLAIN}\nstandard_uncertainty = "0.1 g"', "sled"),
        ('mass = "203 g"\nstandard_uncertainty = "0.1 g"\ncoverage_factor = 2',
         "sled.coverage_factor"),
        ('mass = "203 g"\nstandard_uncertainty = "30 g"', "sled.standard_uncertainty"),
        ('mass = "0 g"\nstandard_uncertainty = "0 g"', "sled.mass"),
        ('mass = "1e3 g"\nstandard_uncertainty = "1 g"', "sled.mass"),
        ('mass = "-203 g"\nstandard_uncertainty = "1 g"', "sled.mass"),
        (f'{_PLAIN}\ncorrections = ["pull-angle"]', "sled.corrections[0]"),
        (f'{_PLAIN}\ncorrections = ["zero", "zero"]', "sled.corrections[1]"),
    ],
)  # fmt: skip
def test_what_a_sled_lacks_or_has_twice_is_a_fault(sled: str, path: str) -> None:
    assert list(_faults(sled)) == [f"measure[0].{path}"]


def test_only_a_measure_of_force_has_a_sled() -> None:
    assert _faults(_PLAIN, "gloss")["measure[0].sled"] == (
        "a measure of gloss", "a measure of force, or no sled"
    )  # fmt: skip


def test_a_mass_may_be_put_right_after_readings_and_a_margin_keeps_its_unit() -> None:
    runs, zones = {("slick", "bare")}, {"A"}
    heavier = _plan('mass = "512.9 g"\nexpanded_uncertainty = "0.2 g"')
    assert contradictions(_plan(), heavier, runs, zones) == []
    assert additions(_plan(), heavier) == [
        "measure slick now has another sled, by which its results are worked out anew"
    ]
    with_margin = _plan(margin="margin = 0.05")
    text = with_margin.text.replace("[measure.sled]", "").replace(_PLAIN, "")
    bare = parse_plan(text, "trial.toml")
    assert bare.measures[0].sled is None
    assert len(contradictions(bare, with_margin, runs, zones)) == 1
