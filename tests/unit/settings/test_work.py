"""What a trial file says beside its measures: panels, places, scales, cure times, recipe, codes."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.errors import SettingsError
from acquire.model import Design, Layout, Panel, Rated, Scale
from acquire.settings import parse_plan
from tests.unit.settings.test_trial import MEASURES, SOUND
from tests.unit.two_zones import TREATMENTS, ZONES

PANEL = '[panel]\nname = "Panel 7"\n'
WATER = """
[[scale]]
id = "water"
name = "How water behaves"
rated = "zone"
stages = ["applied", "wash-5"]
steps = ["lies flat", "flat drops", "round drops"]
gone_below = 2
"""
EASE = """
[[scale]]
id = "removal"
name = "How it comes off"
rated = "treatment"
steps = ["scrubbed", "wiped"]
"""
WASHED = SOUND.replace("[panel]", "[trial.washes]\nwash-5 = 5\n\n[panel]")


def _faults(text: str) -> list[str]:
    with pytest.raises(SettingsError) as caught:
        parse_plan(text, "trial.toml")
    return [str(fault) for fault in caught.value.faults]


def test_a_plan_without_any_of_it_is_as_it_was() -> None:
    plan = parse_plan(SOUND, "trial.toml")
    assert plan.panels == (Panel("", "Panel 7"),)
    assert plan.panel == "Panel 7"
    assert (plan.layout, plan.scales, plan.recipe, plan.cure_hours) == (None, (), (), ())
    assert not plan.is_blind


def test_scales_cure_times_recipe_and_layout_come_into_the_plan() -> None:
    extra = (
        "[trial.cure_hours]\napplied = 12.5\n[trial.recipe]\nmitt = 'wool'\nshampoo = 'neutral'\n"
        "[layout]\ndesign = 'complete-blocks'\nseed = 7\n[panel]"
    )
    plan = parse_plan(WASHED.replace("[panel]", extra) + WATER + EASE, "trial.toml")
    assert plan.cure_hours == (("applied", Decimal("12.5")),)
    assert plan.recipe == (("shampoo", "neutral"), ("mitt", "wool"))
    assert plan.layout == Layout(Design.COMPLETE_BLOCKS, 7)
    water, removal = plan.scales
    steps = ("lies flat", "flat drops", "round drops")
    assert water == Scale("water", "How water behaves", Rated.ZONE, steps, ("applied", "wash-5"), 2)
    assert removal.stages == ()
    assert water.words(3) == "3 of 3: round drops"


def test_a_scale_of_zones_that_names_no_stages_has_all_of_them() -> None:
    text = SOUND + WATER.replace('stages = ["applied", "wash-5"]\n', "").replace(
        "gone_below = 2", ""
    )
    assert parse_plan(text, "t").scales[0].stages == ("bare", "applied", "wash-5")


def test_several_panels_have_ids_and_each_zone_says_which() -> None:
    panels = '[[panel]]\nid = "P1"\nname = "Hull"\n[[panel]]\nid = "P2"\nname = "Deck"\n'
    zones = ZONES.replace('id = "A"\n', 'id = "A"\npanel = "P1"\nrow = 1\ncolumn = 2\nblock = 1\n')
    zones = zones.replace('id = "B"\n', 'id = "B"\npanel = "P2"\nrow = 1\ncolumn = 2\nblock = 2\n')
    head = SOUND[: SOUND.index("[panel]")] + panels
    plan = parse_plan(head + TREATMENTS + zones + MEASURES, "t")
    assert plan.panel == "Hull; Deck"
    assert [(z.panel, z.row, z.column, z.block) for z in plan.zones] == [
        ("P1", 1, 2, 1),
        ("P2", 1, 2, 2),
    ]
    assert _faults(head + TREATMENTS + ZONES + MEASURES) == [
        "zone[0].panel: got nothing, wanted the panel it is on: 'P1' or 'P2'",
        "zone[1].panel: got nothing, wanted the panel it is on: 'P1' or 'P2'",
    ]
    twice = head.replace('"P2"', '"P1"') + TREATMENTS + zones + MEASURES
    assert _faults(twice) == [
        "panel[1].id: got 'P1', wanted an id of its own: panel[0] has this one",
        "zone[1].panel: got 'P2', wanted the id of a panel: 'P1' or 'P1'",
    ]


def test_a_fault_of_a_single_panel_has_the_path_that_the_file_has() -> None:
    assert _faults(SOUND.replace('name = "Panel 7"', 'nam = "Panel 7"')) == [
        "panel.nam: got an unknown key, wanted name (the nearest key there is)"
    ]


def test_places_on_a_panel_are_whole_and_taken_once() -> None:
    both = ZONES.replace('treatment = "none"', 'treatment = "none"\nrow = 1\ncolumn = 1')
    same = both.replace('treatment = "tern"', 'treatment = "tern"\nrow = 1\ncolumn = 1')
    assert _faults(SOUND.replace(ZONES, same)) == [
        "zone[1]: got row 1, column 1, wanted a place of its own: zone[0] is there"
    ]
    half = both.replace('treatment = "tern"', 'treatment = "tern"\nrow = 2')
    assert _faults(SOUND.replace(ZONES, half)) == [
        "zone[1].column: got nothing, wanted row and column, or neither"
    ]


def test_all_faults_of_scales_and_handling_are_told_at_once() -> None:
    extra = (
        "[trial.recipe]\n[trial.cure_hours]\nbare = 1\nwash-5 = 2\ndone = 3\n"
        "[trial.blind]\nkey = 'AB'\n[panel]"
    )
    bad = WATER.replace('"applied", "wash-5"', '"wash-5", "applied"').replace("= 2", "= 4")
    ease = EASE.replace("[[scale]]", '[[scale]]\nstages = ["bare"]\ngone_below = 2')
    assert _faults(WASHED.replace("[panel]", extra) + bad + ease) == [
        "trial.recipe: got an empty table, wanted one of 'shampoo', 'dilution', 'pressure', "
        "'mitt', 'order', 'strokes_per_wash' or 'notes', or none",
        "trial.cure_hours.bare: got 1, wanted no time: bare is before any treatment",
        "trial.cure_hours.wash-5: got 2, wanted no time: wash-5 comes after a count of washes",
        "trial.cure_hours.done: got 'done', wanted a stage of this trial: 'bare', 'applied' or "
        "'wash-5'",
        "trial.blind.key: got 'AB', wanted 64 digits 0-9 and a-f, as coatbench trial new writes "
        "them",
        "scale[0].stages: got ['wash-5', 'applied'], wanted each stage once, in the order of "
        "trial.stages",
        "scale[0].gone_below: got 4, wanted a step, 2 to 3",
        "scale[1].stages: got ['bare'], wanted no stages: a product is rated once",
        "scale[1].gone_below: got 2, wanted no gone_below: only zones are looked at after a wash",
    ]


def test_a_scale_that_no_washed_stage_is_rated_on_ends_no_life() -> None:
    assert _faults(SOUND + WATER) == [
        "scale[0].gone_below: got no stage with a count of washes, wanted a stage of this scale "
        "with its count in [trial.washes]"
    ]


def test_a_life_that_ends_beyond_all_steps_is_told_with_the_steps_there_are() -> None:
    assert _faults(WASHED + WATER.replace("gone_below = 2", "gone_below = 90")) == [
        "scale[0].gone_below: got 90, wanted a step, 2 to 3"
    ]
