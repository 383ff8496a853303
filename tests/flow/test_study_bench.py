"""Studies on simulated meters of known scatter: found, shared by people, resumed, and warmed up."""

from __future__ import annotations

import sys

import pytest

from acquire.errors import CoatbenchError, Refused
from acquire.model import Quantity, StudyKind
from acquire.report.evidence.evidence import evidence_of
from acquire.report.record.loading import load_trial
from acquire.store import StoreReader
from acquire.study.found import FoundStudy, next_number, studies
from acquire.study.lending import Key, candidates, in_use
from acquire.study.words import verdict_of
from acquire.study.writing import Wanted, study_id, study_text
from acquire.testkit.maker import Maker
from acquire.testkit.scenario_bench import ScenarioBench

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals")

# At 85 GU a meter of 0.5 GU at 100 GU scatters by 0.5 (0.2 + 0.8 x 0.85) = 0.44 GU.
SCATTER = 0.5 * (0.2 + 0.8 * 0.85)
BENCH = """
[scenario]
name = "Study"
seed = 12
[[zone]]
name = "A1"
gloss = { 60 = 85.0 }
[[zone]]
name = "A2"
treatment = "Tern sealant"
gloss = { 60 = 85.0 }
[[piece]]
name = "T1"
gloss = { 60 = 95.2 }
[[device]]
name = "shore"
wire = "gloss-press"
serial = "SH-0417"
angles = [60]
repeatability_sd = 0.5
cold_share = 0.05
"""
KEY = Key("SH-0417", Quantity.GLOSS, "60")


@pytest.fixture
def bench(coatbench: Maker) -> ScenarioBench:
    made = coatbench.scenario(BENCH)
    made.check("shore")
    made.put("shore", "A1")
    return made


def begin(
    bench: ScenarioBench,
    people: tuple[str, ...] = (),
    *,
    spots: int = 5,
    readings: int = 4,
    kind: StudyKind = StudyKind.REPEATABILITY,
    stage: str = "",
) -> str:
    """Begin the run of one person of a new study; its plan."""
    with StoreReader(bench.store) as store:
        number = next_number(store)
    wanted = Wanted(kind, "shore", Quantity.GLOSS, ("60",), spots, readings, people, "zone A1")
    text = study_text(number, wanted)
    go_on(bench, text, stage or (people or ("one-person",))[0])
    return text


def go_on(bench: ScenarioBench, text: str, stage: str) -> None:
    bench.client.call("begin_run", text=text, source="study", stage=stage, instrument="shore")


def press(bench: ScenarioBench, times: int) -> None:
    for _ in range(times):
        (row,) = bench.press("shore")
        assert row["role"] == "run", row["loose_reason"]


def found(bench: ScenarioBench) -> list[FoundStudy]:
    with StoreReader(bench.store) as store:
        return studies(store)


def test_the_scatter_of_the_meter_is_found_within_its_limits_and_is_in_use(
    bench: ScenarioBench,
) -> None:
    begin(bench)
    press(bench, 20)
    assert in_use(candidates(found(bench)), KEY) is None, "a study under way is not in use"
    bench.client.call("finish_run")
    (one,) = found(bench)
    (finding,) = one.findings
    assert finding.study is not None
    assert finding.study.repeatability is not None
    low, high = finding.study.repeatability.interval()
    assert low < SCATTER < high
    assert (one.open_places, finding.study.repeatability.nu, finding.resolution) == (0, 15, 0.1)
    now = in_use(candidates([one]), KEY)
    assert now is not None
    assert now.repeatability.source == "study 1 of 2026-05-04"
    told = "\n".join(verdict_of(one, candidates([one]), 1.0).lines)
    assert "IN USE" in told
    assert "to show a net change of 1.0 GU in 8 of 10 trials take" in told
    assert told.splitlines()[-1].startswith("next: coatbench check shore (the closing check")
    assert bench.check("shore")["outcome"] == "pass"
    (one,) = found(bench)
    assert verdict_of(one, candidates([one])).lines[-1].startswith("next: coatbench trial new")


def test_a_study_needs_a_valid_pass_like_any_run(coatbench: Maker) -> None:
    bench = coatbench.scenario(BENCH)
    with pytest.raises(Refused, match="shore cannot start a run"):
        begin(bench)


def test_two_people_read_the_same_spots_and_one_who_presses_otherwise_is_told(
    bench: ScenarioBench,
) -> None:
    text = begin(bench, ("ines", "jonas"), readings=3)
    press(bench, 15)
    bench.client.call("finish_run")
    bench.do("drift shore offset=1.5")
    go_on(bench, text, "jonas")
    press(bench, 15)
    bench.client.call("finish_run")
    (one,) = found(bench)
    (finding,) = one.findings
    assert finding.study is not None
    assert finding.study.people == ("ines", "jonas")
    assert finding.study.between == pytest.approx(1.5 / 2**0.5, abs=0.5)
    told = "\n".join(verdict_of(one, candidates([one])).lines)
    assert "people DIFFER on the whole" in told
    assert "two people say little of how people differ" in told


def test_a_void_and_a_failed_closing_check_change_what_the_study_says(
    bench: ScenarioBench,
) -> None:
    begin(bench)
    press(bench, 20)
    bench.client.call("finish_run")
    first = bench.readings("role = 'run'")[0]["reading_id"]
    bench.client.call("void", reading_id=first, reason="the meter slipped")
    (one,) = found(bench)
    assert (one.void, one.open_places) == (1, 1)
    assert one.findings[0].study is not None
    assert one.findings[0].study.repeatability is not None
    assert one.findings[0].study.repeatability.nu == 14
    bench.do("drift shore gain=1.2")
    assert bench.check("shore")["outcome"] == "fail"
    (one,) = found(bench)
    assert one.suspect == 19
    assert one.findings == ()
    assert in_use(candidates([one]), KEY) is None
    assert not verdict_of(one, candidates([one])).is_usable


def test_a_later_study_takes_over_now_and_not_for_what_came_before_it(
    bench: ScenarioBench,
) -> None:
    begin(bench)
    press(bench, 20)
    bench.client.call("finish_run")
    bench.advance(3600)
    begin(bench)
    press(bench, 20)
    bench.client.call("finish_run")
    lists = candidates(found(bench))
    first, second = lists[KEY]
    assert (first.study.id, second.study.id) == (study_id(1), study_id(2))
    assert in_use(lists, KEY) == second
    assert in_use(lists, KEY, second.last_utc_ns - 1) == first
    assert in_use(lists, KEY, first.last_utc_ns - 1) == first
    told = "\n".join(verdict_of(first.study, lists).lines)
    assert "NOT IN USE: study 2 is later" in told


def test_a_study_with_too_few_readings_is_told_and_lent_to_nobody(bench: ScenarioBench) -> None:
    begin(bench, spots=1, readings=3)
    press(bench, 3)
    bench.client.call("finish_run")
    (one,) = found(bench)
    verdict = verdict_of(one, candidates([one]))
    assert not verdict.is_usable
    assert "NOT IN USE: 2 degrees of freedom, wanted 9" in "\n".join(verdict.lines)


def warm_up(bench: ScenarioBench, readings: int, *, every_s: float) -> FoundStudy:
    bench.do("power shore on=false")
    bench.do("power shore on=true")
    begin(bench, kind=StudyKind.WARM_UP, spots=1, readings=readings, stage="switch-on")
    taken = 0
    while taken < readings:
        # The lamp burns by the meter's own time, of which a press takes two seconds.
        bench.do(f"wait shore seconds={every_s - 2:g}")
        bench.advance(every_s)
        taken += bench.press("shore")[0]["role"] == "run"
    bench.client.call("finish_run")
    return found(bench)[-1]


def test_a_cold_lamp_is_found_warm_when_its_drift_is_lost_in_the_scatter(
    coatbench: Maker,
) -> None:
    bench = coatbench.scenario(BENCH.replace("repeatability_sd = 0.5", "repeatability_sd = 0.1"))
    bench.put("shore", "A1")
    one = warm_up(bench, 40, every_s=30)
    (finding,) = one.findings
    warm = finding.warm_up
    assert warm is not None
    assert finding.trouble == ""
    assert warm.curve is not None
    # The lamp comes up with 120 s (`simulators.gloss.meter`), by 5 % of 85 GU.
    assert warm.curve.constant_s == pytest.approx(120, rel=0.15)
    assert warm.ready_s == pytest.approx(600, abs=120)
    assert warm.warm_up_s is not None
    told = "\n".join(verdict_of(one, candidates([one])).lines)
    assert f"Put warm_up_s = {warm.warm_up_s} into the check policy" in told
    assert "count for no result" in told
    # No check was made: a warm-up study is the one that goes without, and lends nothing.
    assert {r["bracket"] for r in bench.readings("role = 'run'")} == {"unchecked"}
    assert candidates([one]) == {}


def test_a_warm_up_that_ends_too_soon_is_not_reached(coatbench: Maker) -> None:
    bench = coatbench.scenario(BENCH.replace("repeatability_sd = 0.5", "repeatability_sd = 0.1"))
    bench.put("shore", "A1")
    verdict = verdict_of(warm_up(bench, 15, every_s=44), {})
    assert not verdict.is_usable
    assert "NOT REACHED" in "\n".join(verdict.lines)
    assert "with more readings" in verdict.lines[-1]


def test_a_meter_switched_off_in_the_midst_of_its_warm_up_makes_the_study_void(
    coatbench: Maker,
) -> None:
    bench = coatbench.scenario(BENCH)
    bench.put("shore", "A1")
    begin(bench, kind=StudyKind.WARM_UP, spots=1, readings=30, stage="switch-on")
    press(bench, 5)
    bench.do("power shore on=false")
    bench.do("power shore on=true")
    for _ in range(8):
        bench.advance(60)
        bench.press("shore")
    bench.client.call("finish_run")
    verdict = verdict_of(found(bench)[-1], {})
    assert not verdict.is_usable
    assert "switched off and on between its readings" in "\n".join(verdict.lines)


def test_readings_of_a_warm_up_never_become_those_of_a_trial(bench: ScenarioBench) -> None:
    text = begin(bench, kind=StudyKind.WARM_UP, spots=1, readings=15, stage="switch-on")
    press(bench, 3)
    bench.client.call("finish_run")
    for changed in (
        text.replace('kind = "warm-up"', 'kind = "repeatability"'),
        text.replace("unchecked = true", "unchecked = false"),
        text.replace('[study]\nkind = "warm-up"\n', ""),
        text.replace('[study]\nkind = "warm-up"\n', "").replace("unchecked = true", ""),
    ):
        with pytest.raises(CoatbenchError, match=r"contradicts its own readings|fault"):
            go_on(bench, changed, "switch-on")
    taken = bench.readings("role = 'run'")[0]["reading_id"]
    with pytest.raises(Refused):
        bench.client.call(
            "assign", reading_id=taken, trial="study-1", zone="spot-1",
            stage="switch-on", replicate=9, reason="moved",
        )  # fmt: skip


def rules_of(bench: ScenarioBench) -> str:
    """What the report of the scenario's trial says of its rules."""
    trial = bench.readings("trial NOT GLOB 'study-[0-9]*' AND role = 'run'")[-1]["trial"]
    (evidence,) = evidence_of(load_trial(bench.store, trial))
    return "\n".join(evidence.result.rules)


def test_the_report_names_the_default_and_then_the_study_in_use_and_keeps_it(
    bench: ScenarioBench,
) -> None:
    def run_trial(stage: str) -> None:
        bench.begin_run("shore", stage=stage)
        for zone in ("A1", "A2"):
            bench.put("shore", zone)
            press(bench, 3)
        bench.client.call("finish_run")

    def study() -> None:
        begin(bench)
        press(bench, 20)
        bench.client.call("finish_run")

    run_trial("bare")
    said = rules_of(bench)
    assert "No repeatability study of serial number SH-0417 at 60° is in use. The default" in said
    assert "Next: coatbench study shore" in said
    bench.put("shore", "A1")
    study()
    said = rules_of(bench)
    assert "from study 1 of 2026-05-04 (15 degrees of freedom)" in said
    bench.advance(60)
    study()
    assert rules_of(bench) == said, "a later study leaves what was read before it alone"
    run_trial("applied")
    assert "from study 2 of 2026-05-04" in rules_of(bench)


def test_one_of_several_people_who_reads_off_the_others_is_flagged(bench: ScenarioBench) -> None:
    people = ("ada", "ben", "cleo", "dora", "emil", "finn")
    text = begin(bench, people, spots=2, readings=3)
    for person in people:
        if person != "ada":
            go_on(bench, text, person)
        bench.do(f"drift shore offset={6 if person == 'emil' else 0}")
        press(bench, 6)
        bench.do(f"drift shore offset={-6 if person == 'emil' else 0}")
        bench.client.call("finish_run")
    (one,) = found(bench)
    told = "\n".join(verdict_of(one, candidates([one])).lines)
    assert "FLAG    emil reads off the others on the whole (Mandel h = 2." in told
    assert "FLAG    ada" not in told
    assert "36 readings of 2 spots by 6 people" in told
