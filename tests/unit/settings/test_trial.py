"""Trial files: the plan they give, and every fault of them at once."""

from __future__ import annotations

import hashlib
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.errors import SettingsError
from acquire.model import DriftCorrection, Order, Quantity, arrange
from acquire.settings import config_dir, load_plan, parse_plan
from tests.unit.two_zones import PANEL, TREATMENTS, ZONES

HEAD = (
    """
[trial]
id = "quay-1"
title = "Two protectants"
stages = ["bare", "applied", "wash-5"]
"""
    + PANEL
)
MEASURES = """
[[measure]]
id = "gloss"
quantity = "gloss"
geometry = [20, 60]
replicates = 3
"""
SOUND = HEAD + TREATMENTS + ZONES + MEASURES


def _faults(text: str) -> list[str]:
    with pytest.raises(SettingsError) as caught:
        parse_plan(text, "trial.toml")
    return [str(fault) for fault in caught.value.faults]


def test_a_trial_file_becomes_a_plan() -> None:
    plan = parse_plan(SOUND, "trial.toml")
    assert (plan.id, plan.title, plan.panel) == ("quay-1", "Two protectants", "Panel 7")
    assert plan.stages == ("bare", "applied", "wash-5")
    assert plan.control.id == "none"
    assert plan.treatment_of("B").name == "Tern wax"
    assert not plan.unchecked
    [measure] = plan.measures
    assert measure.quantity is Quantity.GLOSS
    assert measure.channels == ("20", "60")
    assert measure.unit == "gloss_unit"
    assert measure.stages == plan.stages
    assert (measure.order, measure.seed, measure.margin) == (Order.BY_ZONE, 0, None)
    assert len(arrange(plan, measure, "bare")) == 6


def test_what_may_be_left_out_can_be_said() -> None:
    text = SOUND.replace('name = "Panel 7"', 'name = "Panel 7"\nmaterial = "dark gelcoat"').replace(
        "[20, 60]",
        '85\nstages = ["bare", "wash-5"]\norder = "shuffled"\nseed = 9\nmargin = 0.50\n'
        "higher_is_better = false",
    )
    plan = parse_plan(text.replace("[trial]", "[trial]\nunchecked = true"), "trial.toml")
    assert plan.panel == "Panel 7, dark gelcoat"
    assert plan.unchecked
    [measure] = plan.measures
    assert measure.channels == ("85",)
    assert measure.stages == ("bare", "wash-5")
    assert (measure.order, measure.seed) == (Order.SHUFFLED, 9)
    assert measure.margin == Decimal("0.50")
    assert not measure.higher_is_better


def test_the_digest_is_that_of_the_file_whatever_its_line_ends_or_byte_order_mark(
    tmp_path: Path,
) -> None:
    path = tmp_path / "trial.toml"
    for data in (SOUND.encode(), b"\xef\xbb\xbf" + SOUND.replace("\n", "\r\n").encode()):
        path.write_bytes(data)
        plan = load_plan(path)
        assert plan.digest == hashlib.sha256(data).hexdigest()
        assert plan.text.encode() == data
        assert parse_plan(plan.text, "as stored") == plan


def test_a_plan_read_again_from_its_own_text_is_the_same_plan() -> None:
    path = config_dir() / "boatyard" / "trial.toml"
    plan = load_plan(path)
    assert parse_plan(plan.text, "as stored") == plan


def test_the_example_trial_has_a_control_and_five_products() -> None:
    plan = load_plan(config_dir() / "boatyard" / "trial.toml")
    assert plan.control.id == "none"
    assert len(plan.treatments) == len(plan.zones) == 6
    assert [measure.channels for measure in plan.measures] == [("20",), ("60",), ("",)]


def test_force_has_no_geometry_and_is_kept_in_newton() -> None:
    text = SOUND.replace('"gloss"\ngeometry = [20, 60]', '"force"')
    [measure] = parse_plan(text, "trial.toml").measures
    assert (measure.channels, measure.unit) == (("",), "newton")


def test_every_fault_of_a_trial_is_told_at_once() -> None:
    text = """
[trial]
id = "quay 1"
title = ""
stages = ["bare", "applied", "bare"]
uncheked = true

[panel]
stages = ["bare"]

[[treatment]]
id = "none"
name = "Untreated"

[[treatment]]
id = "tern"
name = "Tern\\nwax"

[[treatment]]
id = "tern"
name = "Skua sealant"

[[zone]]
id = "A"
treatment = "gull"

[[zone]]
id = "A"
treatment = "tern"

[[measure]]
id = "gloss"
quantity = "shine"
replicates = 0

[[measure]]
id = "gloss-2"
quantity = "gloss"
replicates = 3
stages = ["applied", "bare", "wash-9"]

[[measure]]
id = "pull"
quantity = "force"
geometry = 20
replicates = 3
margin = 0
order = "random"
seed = -1
"""
    with pytest.raises(SettingsError) as caught:
        parse_plan(text, "trial.toml")
    assert str(caught.value) == (
        "trial.toml has 21 faults:\n"
        "  trial.id: got 'quay 1', wanted 1 to 64 letters (A to Z), digits, dots, - or _, a letter "
        "or digit first\n"
        "  trial.title: got '', wanted a name\n"
        "  trial.stages[2]: got 'bare', wanted each stage once\n"
        "  trial.uncheked: got an unknown key, wanted unchecked (the nearest key there is)\n"
        "  panel.stages: got an unknown key, wanted it under [trial] or under [[measure]] or under "
        "[[scale]]\n"
        "  panel.name: got nothing, wanted a name in quotes\n"
        "  treatment: got none, wanted exactly one treatment with control = true\n"
        "  treatment[0]: got 'none', which is on no zone, wanted at least one zone with it\n"
        "  treatment[1].name: got 'Tern\\nwax', wanted a name on one line without control "
        "characters\n"
        "  treatment[2].id: got 'tern', wanted an id of its own: treatment[1] has this one\n"
        "  zone[0].treatment: got 'gull', wanted a treatment of this trial: 'none' or 'tern'\n"
        "  zone[1].id: got 'A', wanted an id of its own: zone[0] has this one\n"
        "  measure[0].quantity: got 'shine', wanted 'gloss', 'force' or 'transmittance'\n"
        "  measure[0].replicates: got 0, wanted a whole number from 1 to 1000\n"
        "  measure[1].stages: got ['applied', 'bare', 'wash-9'], wanted each stage once, in the "
        "order of trial.stages\n"
        "  measure[1].stages[2]: got 'wash-9', wanted a stage of this trial: 'bare' or 'applied'\n"
        "  measure[1].geometry: got nothing, wanted 20, 60 or 85, or a list of them such as "
        "[20, 60]\n"
        "  measure[2].geometry: got 20, wanted no geometry, which only gloss has (here: force)\n"
        "  measure[2].margin: got 0, wanted a number, more than 0\n"
        "  measure[2].order: got 'random', wanted 'by-zone', 'interleaved' or 'shuffled'\n"
        "  measure[2].seed: got -1, wanted a whole number, 0 or more and less than 2147483648\n"
        "Next: mend trial.toml and try again"
    )


def test_stages_at_the_top_of_the_file_are_told_where_they_belong() -> None:
    text = 'stages = ["bare"]\n' + SOUND
    assert _faults(text) == [
        "stages: got an unknown key, wanted it under [trial] or under [[measure]] or under "
        "[[scale]]"
    ]


def test_a_typo_in_one_zone_does_not_hide_the_missing_control() -> None:
    text = SOUND.replace("control = true", "").replace('id = "B"', 'id = "B "')
    assert [fault.split(":")[0] for fault in _faults(text)] == ["treatment", "zone[1].id"]


def test_two_controls_are_named() -> None:
    text = SOUND.replace('name = "Tern wax"', 'name = "Tern wax"\ncontrol = true')
    assert _faults(text) == [
        "treatment: got 2 controls ('none' and 'tern'), wanted exactly one treatment with "
        "control = true"
    ]


@pytest.mark.parametrize(
    "geometry", ["45", "20.0", '"20"', "[]", "[20, 20]", "[20, 45]", "true", "{}", "[[20]]"]
)
def test_a_geometry_gloss_does_not_have_is_refused(geometry: str) -> None:
    [fault] = _faults(SOUND.replace("[20, 60]", geometry))
    assert fault.startswith("measure[0].geometry: got ")
    assert "20, 60 or 85, or a list of them such as [20, 60]" in fault


@pytest.mark.parametrize("bad", ["a b", "-a", ".a", "", "a" * 65, "ä", "a/b", "a\\nb", "a\\n"])
def test_an_id_is_safe_in_commands_columns_and_file_names(bad: str) -> None:
    [fault] = _faults(SOUND.replace('"quay-1"', f'"{bad}"'))
    assert fault.startswith("trial.id: got ")


@pytest.mark.parametrize("good", ["a", "0", "A.b_c-9", "a" * 64])
def test_ids_of_letters_digits_dots_dashes_and_underscores_are_fine(good: str) -> None:
    assert parse_plan(SOUND.replace('"quay-1"', f'"{good}"'), "trial.toml").id == good


def test_more_than_500_zones_are_too_many_and_500_are_not() -> None:
    def trial(count: int) -> str:
        zones = "".join(f'[[zone]]\nid = "z{i}"\ntreatment = "tern"\n' for i in range(count - 1))
        return HEAD + TREATMENTS + '[[zone]]\nid = "A"\ntreatment = "none"\n' + zones + MEASURES

    assert len(parse_plan(trial(500), "trial.toml").zones) == 500
    assert _faults(trial(501)) == ["zone: got a list of 501 entries, wanted 500 or fewer entries"]


@pytest.mark.parametrize("replicates", ["0", "1001", "3.0", '"3"', "true"])
def test_replicates_are_a_whole_number_from_1_to_1000(replicates: str) -> None:
    text = SOUND.replace("replicates = 3", f"replicates = {replicates}")
    shown = replicates.replace('"', "'")
    assert _faults(text) == [
        f"measure[0].replicates: got {shown}, wanted a whole number from 1 to 1000"
    ]


def test_text_that_is_no_unicode_is_a_fault_and_no_crash() -> None:
    assert _faults(SOUND.replace("Panel 7", "Panel \ud800")) == [
        "file: got text that cannot be written as UTF-8, wanted UTF-8 text"
    ]


def test_an_empty_file_is_told_all_that_is_missing() -> None:
    assert [fault.split(":")[0] for fault in _faults("")] == [
        "trial",
        "panel",
        "treatment",
        "zone",
        "measure",
    ]


@pytest.mark.parametrize("number", ["1e999999999", "-1e999999999", "1e-999999999"])
def test_an_absurd_number_is_a_fault_like_any_other(number: str) -> None:
    example = (config_dir() / "boatyard" / "trial.toml").read_text(encoding="utf-8")
    text = example.replace("margin = 1.0 ", f"margin = {number} ")
    assert text != example
    with pytest.raises(SettingsError, match="margin"):
        parse_plan(text, "trial.toml")


def test_nothing_is_corrected_for_drift_unless_the_plan_says_how() -> None:
    (measure,) = parse_plan(SOUND, "trial.toml").measures
    assert measure.drift_correction is DriftCorrection.NONE
    for how in DriftCorrection:
        text = f'{SOUND}drift_correction = "{how}"\n'
        (measure,) = parse_plan(text, "trial.toml").measures
        assert measure.drift_correction is how


def test_a_correction_that_is_not_known_is_told_with_all_other_faults() -> None:
    faults = _faults(SOUND.replace("replicates = 3", 'replicates = 0\ndrift_correction = "slope"'))
    assert len(faults) == 2
    assert any("replicates" in fault for fault in faults)
    (told,) = [fault for fault in faults if "drift_correction" in fault]
    assert "'slope'" in told
    assert all(word in told for word in ("none", "offset", "gain"))
