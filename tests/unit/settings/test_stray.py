"""``[measure.stray_light]`` of a plan: read, refused, written again, and told when it changes."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.errors import SettingsError
from acquire.model.plan import BandLamp, StrayLight
from acquire.pipeline.plan_growth import additions
from acquire.settings import parse_plan
from acquire.trial.writing import plan_text
from tests.unit.report.test_quantities import THREE

LAMP = "\n[[measure.lamp]]\ncentre_nm = 365\nwidth_nm = 12\n"
TABLE = "\n[measure.stray_light]\nblocked_percent = 0.08\nu_percent = 0.03\n"
STRAY = THREE + TABLE


def test_a_plan_says_what_light_goes_round_the_slides_and_is_written_again_with_it() -> None:
    plan = parse_plan(STRAY, "trial.toml")
    known = plan.measures[2].stray_light
    assert known == StrayLight(Decimal("0.08"), Decimal("0.03"))
    assert parse_plan(plan_text(plan), "again").measures[2].stray_light == known


def test_stray_light_belongs_to_a_transmittance_and_a_change_of_it_is_told() -> None:
    wrong = THREE.replace('[[measure]]\nid = "light"', f'{TABLE}\n[[measure]]\nid = "light"')
    with pytest.raises(SettingsError, match="a measure of transmittance, or no stray_light"):
        parse_plan(wrong, "trial.toml")
    before, now = (parse_plan(text, "trial.toml") for text in (THREE, STRAY))
    assert additions(before, replace(now, digest="other")) == [
        "measure light now has other stray light, by which its results are worked out anew"
    ]


def test_lamps_of_band_meters_are_read_written_again_and_told_when_they_change() -> None:
    plan = parse_plan(STRAY + LAMP, "trial.toml")
    lamps = (BandLamp(Decimal(365), Decimal(12)),)
    assert plan.measures[2].lamps == lamps
    assert parse_plan(plan_text(plan), "again").measures[2].lamps == lamps
    wrong = THREE.replace('[[measure]]\nid = "light"', f'{LAMP}\n[[measure]]\nid = "light"')
    with pytest.raises(SettingsError, match="a measure of transmittance, or no lamp"):
        parse_plan(wrong, "trial.toml")
    assert additions(parse_plan(STRAY, "trial.toml"), replace(plan, digest="other")) == [
        "measure light now tells its spectra as other band meters would"
    ]
