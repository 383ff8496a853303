"""A simulated bench of one's own trial: its meters, its panel, what products do, and blind ones."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from acquire.errors import Misuse
from acquire.settings import parse_plan
from acquire.testkit.own_bench import OwnBench, is_trial
from acquire.testkit.own_panel import OwnPanel
from acquire.testkit.simulated import Simulated
from acquire.trial.key import digest_of, key_text, products_of
from tests.unit.worked_yard import PLAN

MORE = """
[[measure]]
id = "slip"
quantity = "force"
replicates = 2
[measure.sled]
mass = "203.0 g"
standard_uncertainty = "0.1 g"

[[measure]]
id = "uv"
quantity = "transmittance"
band = "315-400"
higher_is_better = false
replicates = 2
"""


def own(folder: Path, text: str = PLAN + MORE, **more: Any) -> OwnBench:
    file = folder / "quay.toml"
    file.write_text(text, encoding="utf-8")
    assert is_trial(file)
    return OwnBench(file, folder, **more)


def words(panel: OwnPanel, zone: str) -> Any:
    return panel.words_of(next(z for z in panel.plan.zones if z.id == zone))


def test_a_trial_has_the_meters_of_its_measures_and_a_counter_and_a_probe(tmp_path: Path) -> None:
    scenario = own(tmp_path).scenario
    assert [(d.name, d.wire_name) for d in scenario.devices] == [
        ("shore", "gloss-press"), ("pull", "force-peak"), ("light", "transmission-bands"),
        ("hub", "counter-strokes"), ("hygro", "climate-asked"),
    ]  # fmt: skip
    assert scenario.devices[0].channels == ("20",)
    assert scenario.script == ()  # nothing drifts by itself
    assert set(scenario.things) == {
        "A1", "A2", "A3", "T1", "T2", "Z0", "W0", "W200", "W500", "OPEN", "DARK", "N50",
    }  # fmt: skip


def test_a_plan_that_asks_for_traces_and_spectra_gets_a_gauge_and_a_head_that_have_them(
    tmp_path: Path,
) -> None:
    text = (PLAN + MORE).replace(
        'standard_uncertainty = "0.1 g"\n',
        'standard_uncertainty = "0.1 g"\n[measure.sled.window]\nskip_mm = 5\nlength_mm = 40\n'
        "speed_mm_per_s = 20\n",
    )
    text += "[[measure.lamp]]\ncentre_nm = 365\nwidth_nm = 20\n"
    bench = own(tmp_path, text)
    scenario = bench.scenario
    assert [(d.name, d.wire_name) for d in scenario.devices][1:3] == [
        ("pull", "force-stream"), ("light", "usbtmc-head"),
    ]  # fmt: skip
    with Simulated(scenario, tmp_path) as simulated:
        bench.settle(simulated)
        assert any(place.is_usb for place in simulated.places)
        for line in ("put pull A1", "press pull", "put light A1", "press light"):
            simulated.do(line)


def test_a_product_is_on_a_zone_once_it_is_applied_and_wears_off(tmp_path: Path) -> None:
    panel = own(tmp_path, seed=5).panel
    bare = words(panel, "A1")
    effect = panel.effects["tern"]
    panel.do("apply a1 A2")
    fresh = words(panel, "A1")
    gain = fresh["gloss"]["20"] - bare["gloss"]["20"]
    assert gain == pytest.approx(effect.gloss_gu, rel=0.3)
    assert fresh["static"] < bare["static"]
    assert fresh["film"]["315-400"] < 1
    told, washes = panel.do("wash 400")
    assert (washes, "A1 400" in told[0]) == (400, True)
    worn = words(panel, "A1")
    assert abs(worn["static"] - bare["static"]) < 0.001
    # Nothing is put on the control, whatever is said; it is washed with the others.
    assert panel.effects["none"].gloss_gu == 0.0
    panel.do("strip all")
    assert words(panel, "A1") == bare


def test_the_same_seed_draws_the_same_products_and_another_one_others(tmp_path: Path) -> None:
    first = own(tmp_path, seed=1).panel.effects["tern"]
    assert own(tmp_path, seed=1).panel.effects["tern"] == first
    assert own(tmp_path, seed=2).panel.effects["tern"] != first
    # Without one it is the plan's own.
    assert own(tmp_path).panel.effects == own(tmp_path).panel.effects


def test_what_is_on_the_panel_is_there_the_next_day_and_a_spoilt_file_is_bare(
    tmp_path: Path,
) -> None:
    own(tmp_path).panel.do("apply A1")
    again = own(tmp_path).panel
    assert [state.is_applied for state in again.states.values()] == [True, False, False]
    for text in ("", "[]", '{"trial": "quay-1", "zones": 3}', '{"trial": "other", "zones": {}}'):
        (tmp_path / "panel.json").write_text(text, encoding="utf-8")
        assert not any(state.is_applied for state in own(tmp_path).panel.states.values())


def test_what_a_product_does_is_told_when_it_is_asked_for(tmp_path: Path) -> None:
    panel = own(tmp_path).panel
    told, _ = panel.do("truth")
    assert told[0] == "Untreated: nothing"
    assert told[1].startswith("Tern wax: ")
    assert [panel.knows(line) for line in ("truth", "apply A1", "put shore A1", "")] == [
        True, True, False, False,
    ]  # fmt: skip
    assert panel.do("look A1")[0] == [
        "A1, How water behaves: 1 of 3: lies flat",
        panel.do("look A3")[0][1].replace("A3", "A1"),
    ]


@pytest.mark.parametrize("line", ["apply", "apply Z9", "wash A1 0", "wash A1 x", "look"])
def test_a_line_that_cannot_be_done_says_what_it_wants(tmp_path: Path, line: str) -> None:
    with pytest.raises(Misuse, match=r"A1, A2, A3, or all|1 to 100000 times"):
        own(tmp_path).panel.do(line)


def test_a_band_that_no_simulated_head_has_is_named(tmp_path: Path) -> None:
    with pytest.raises(Misuse, match="no bench is simulated for measure uv"):
        own(tmp_path, PLAN + MORE.replace("315-400", "200-290"))


def test_a_blind_trial_is_tried_by_a_copy_with_invented_names(tmp_path: Path) -> None:
    key = key_text("quay-1", {"tern": "Grebe wax"}, bytes(16))
    blind = PLAN.replace("[panel]", f'[trial.blind]\nkey = "{digest_of(key)}"\n\n[panel]')
    bench = own(tmp_path, blind)
    file, text, invented = bench.trial(tmp_path / "bench.toml", tmp_path / "none.sqlite")
    assert file.read_text(encoding="utf-8") == text
    plan = parse_plan(text, "copy")
    assert plan.key_digest == digest_of(invented)
    assert products_of(invented) == ("quay-1", {"tern": "invented product Tern wax"})
    assert bench.trial(tmp_path / "bench.toml", tmp_path / "none.sqlite")[1] == text
    file.write_text("mine", encoding="utf-8")
    with pytest.raises(Misuse, match="is not overwritten"):
        bench.trial(tmp_path / "bench.toml", tmp_path / "none.sqlite")
    open_trial = own(tmp_path, PLAN)
    assert open_trial.trial(tmp_path / "b.toml", tmp_path / "none.sqlite")[0].name == "quay.toml"
