"""A check that makes readings suspect: what the results were, and what they are without them."""

from __future__ import annotations

from pathlib import Path

from acquire.report.answers.recomputed import MOST_LINES, recomputed_lines
from tests.unit.reported import SMALL, SMALL_VALUES, plan_text, read_stage, small
from tests.yard import Yard


def take(yard: Yard, stage: str) -> None:
    read_stage(yard, stage, SMALL, [SMALL_VALUES[zone, stage] for zone in ("A1", "A2")])


def told(yard: Yard, check_id: int) -> list[str]:
    return recomputed_lines(yard.bench.store, check_id)


def test_a_decision_that_rested_on_suspect_readings_is_told_as_it_was_and_is(yard: Yard) -> None:
    yard.check("shore", tile="93.2")
    take(yard, "bare")
    yard.check("shore", tile="93.3")
    take(yard, "cured")
    yard.check("shore", tile="95.6")
    first, last = told(yard, 3)
    assert first.startswith("small, gloss at 20°, cured: Brine Shield was “better” (+3.20 ± 0.")
    assert first.endswith(
        "; without them “no decision”, because zone A2 of Brine Shield has no reading that counts "
        "at cured"
    )
    assert last == "all results of small without them: coatbench report small"


def test_where_there_is_no_decision_the_means_of_the_zones_are_told(yard: Yard) -> None:
    yard.check("shore", tile="93.2")
    take(yard, "bare")
    yard.check("shore", tile="95.6")
    lines = told(yard, 2)
    assert lines[:2] == [
        "small, gloss at 20°, bare: the mean of zone A1 (untreated) was 80.20 GU of 3; without "
        "them no reading counts",
        "small, gloss at 20°, bare: the mean of zone A2 (Brine Shield) was 81.10 GU of 3; without "
        "them no reading counts",
    ]


def test_readings_that_stay_make_a_figure_of_their_own(yard: Yard) -> None:
    yard.check("shore", tile="93.2")
    yard.begin("bare", text=SMALL)
    for value in ("80.1", "80.3"):
        yard.clock.advance(2)
        yard.press("shore", value)
    yard.check("shore", tile="93.3")
    yard.press("shore", "80.8")
    yard.check("shore", tile="95.6")
    (line, _) = told(yard, 3)
    assert line.endswith("was 80.40 GU of 3; without them 80.20 GU of 2")


def test_a_check_that_made_nothing_suspect_changes_nothing(tmp_path: Path) -> None:
    yard = small(tmp_path)
    assert told(yard, 3) == []
    yard.close()


def test_of_many_zones_only_some_are_told_and_the_others_counted(yard: Yard) -> None:
    names = {"none": "Untreated"} | {f"p{k}": f"Product {k}" for k in range(20)}
    zones = {f"A{k}": treatment for k, treatment in enumerate(names)}
    text = plan_text(names, zones, stages=("bare", "cured"), replicates=1)
    yard.check("shore", tile="93.2")
    read_stage(yard, "bare", text, [("80.1",)] * len(zones))
    yard.check("shore", tile="95.6")
    lines = told(yard, 2)
    assert len(lines) == MOST_LINES + 2
    assert lines[-2] == "... and 9 figures more of gelcoat-1"
