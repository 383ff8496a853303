"""Beside each life it is said where other washes were counted than the plan says."""

from __future__ import annotations

import html
from pathlib import Path

import pytest

from acquire.report.evidence.othercount import OtherCount, counted_mark, other_count_lines
from acquire.report.page import render
from acquire.report.record.loading import load_trial
from acquire.report.terminal.shortlines import short_lines
from acquire.report.terminal.summary import lines_of
from acquire.report.washing.waterlives import life_lines, water_lives
from acquire.store.work_rows import WashRow
from tests.unit.reported import plan_text, read_stage
from tests.unit.worked_yard import PLAN, WorkedYard
from tests.yard import Yard

NAMES = {"none": "Untreated", "tern": "Tern wax", "knot": "Knot sealant"}
ZONES = {"A1": "none", "A2": "tern", "A3": "knot"}
STAGES = ("bare", "applied", "wash-5", "wash-10")
COUNTS = "[trial.washes]\nwash-5 = 5\nwash-10 = 10\n"
TEXT = plan_text(NAMES, ZONES, stages=STAGES, head=COUNTS) + "\n[measure.end_of_life]\nlost = 0.5\n"
GLOSS = {"none": (80, 80, 80, 80), "tern": (80, 88, 85, 83), "knot": (80, 88, 88, 88)}
SCATTER = (-0.1, 0.0, 0.1, 0.0, 0.0)
LED = "Knot sealant lasted at least 10 washes"


def washed_yard(yard: Yard, *counted: tuple[int, ...]) -> None:
    """All four stages; before each of both after washing, so many washes are counted, row by row.

    A row of fewer than none is a correction.
    """
    yard.check("shore", tile="93.2")
    number = 0
    for place, stage in enumerate(STAGES):
        for washes in counted[place - 2] if place >= 2 and counted else ():
            number += 1
            why = "pressed twice" if washes < 0 else ""
            at = yard.clock.now().utc_ns
            row = WashRow(number, at, 1, "gelcoat-1", "A1,A2,A3", washes, "typed", None, why)
            yard.store([row])
        read_stage(
            yard, stage, TEXT,
            [[f"{GLOSS[ZONES[z]][place] + d:.1f}" for d in SCATTER] for z in ZONES],
        )  # fmt: skip
        yard.check("shore", tile="93.2")


def told(yard: Yard) -> tuple[list[str], list[str], str]:
    """Results in full, in short, and the page."""
    store = yard.bench.store
    page = html.unescape(render(load_trial(store, "gelcoat-1"))).replace("\xa0", " ")
    return lines_of(store, "gelcoat-1"), short_lines(store, "gelcoat-1"), page


def test_a_life_over_washes_that_nobody_counted_is_marked_wherever_it_stands(yard: Yard) -> None:
    washed_yard(yard, (2,), (2,))
    full, short, page = told(yard)
    assert f"  {LED} (COUNTED 4, not 10)." in full
    assert "  Tern wax lasted 5 to 10 washes (COUNTED 2, not 5; 4, not 10)." in full
    assert f"  {LED} (COUNTED 4, not 10)" in short
    lived = "lasted at least 10 washes"
    for text in (page, *full, *short):
        assert text.count(lived) == text.count(f"{lived} (COUNTED 4, not 10)")
    assert page.count(LED) >= 2
    (outlived,) = [line for line in full if "outlived" in line]
    assert outlived == (
        "  Knot sealant outlived Tern wax: it lasted at least 10 washes (COUNTED 4, not 10), Tern "
        "wax lasted 5 to 10 washes (COUNTED 2, not 5; 4, not 10)."
    )
    (kept,) = [line for line in full if line.startswith("  Knot sealant: it lasted")]
    assert " COUNTED 2, not 5; 4, not 10, see below." in kept
    said = (
        "At wash-10, which comes after 10 washes, A1, A2 and A3 were read when 4 washes had been "
        "counted. Results go by the plan's count."
    )
    assert said in full
    assert said in short
    assert said in page


@pytest.mark.parametrize(
    "counted",
    [((5,), (5,)), ((6, -1), (5,)), ()],
    ids=["as planned", "put right before it was read", "none with the program"],
)
def test_no_mark_stands_where_the_plan_s_washes_were_counted_or_none_were(
    yard: Yard, counted: tuple[tuple[int, ...], ...]
) -> None:
    washed_yard(yard, *counted)
    full, short, page = told(yard)
    assert f"  {LED}." in full
    assert "COUNTED" not in "\n".join([*full, *short, page])
    assert not any("had been counted" in line for line in full)


def test_more_washes_than_planned_are_marked_too(yard: Yard) -> None:
    washed_yard(yard, (5,), (7,))
    full, _, _ = told(yard)
    assert f"  {LED} (COUNTED 12, not 10)." in full
    assert "  Tern wax lasted 5 to 10 washes (COUNTED 12, not 10)." in full


def test_a_life_by_a_written_scale_is_marked_by_the_count_when_it_was_rated(tmp_path: Path) -> None:
    yard = WorkedYard(tmp_path, PLAN)
    yard.plug("shore")
    yard.check("shore")
    yard.call("wash", trial="quay-1", zones=["A1"], washes=2)
    yard.clock.advance(60)
    yard.begin("bare", text=PLAN)
    yard.call("finish_run", why="")
    yard.call("rate", trial="quay-1", scale="water", stage="wash-5", zone="A1", rater="Ada", step=3)
    yard.close()
    record = load_trial(yard.bench.store, "quay-1")
    (lives,) = water_lives(record)
    assert "Tern wax lasted at least 5 washes (COUNTED 2, not 5)." in life_lines(lives)
    assert lives.zones[0].words == "lasted at least 5 washes (COUNTED 2, not 5)"
    assert list(other_count_lines(record)) == [
        "At wash-5, which comes after 5 washes, A1 was rated when 2 washes had been counted. "
        "Results go by the plan's count."
    ]


def test_zones_that_were_washed_otherwise_are_told_together_and_others_are_not() -> None:
    others = {
        ("A1", "wash-5"): OtherCount(3, 5),
        ("A2", "wash-5"): OtherCount(2, 5),
        ("B1", "wash-5"): OtherCount(4, 5),
        ("A1", "wash-10"): OtherCount(12, 10),
    }
    assert counted_mark(others, ["A1", "A2"], [5, 10]) == "COUNTED 2 and 3, not 5; 12, not 10"
    assert counted_mark(others, ["A1", "A2"], [5.0]) == "COUNTED 2 and 3, not 5"
    assert counted_mark(others, ["B2"], [5, 10]) == ""
