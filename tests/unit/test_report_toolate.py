"""The page says what was read on a surface that was gone, and what was given up."""

from __future__ import annotations

from pathlib import Path

from acquire.report.headline import coverage
from acquire.report.loading import load_trial
from acquire.report.sections.work import work_part
from acquire.report.toolate import too_late_lines
from tests.unit.worked_yard import PLAN, WorkedYard

ORDERLY = PLAN.replace("replicates = 2", "replicates = 1")


def test_a_bare_zone_that_was_read_with_its_product_on_is_told_and_what_was_given_up(
    tmp_path: Path,
) -> None:
    yard = WorkedYard(tmp_path, ORDERLY)
    yard.plug("shore")
    yard.check("shore")
    yard.call("apply", trial="quay-1", zones=["A1"])
    yard.call("wash", trial="quay-1", zones=["A2"], washes=2)
    yard.clock.advance(60)
    yard.begin("bare", text=ORDERLY)
    for _ in range(2):
        yard.press("shore", "80.0")
    yard.call("finish_run", why="")
    yard.call("give_up_stage", trial="quay-1", stage="bare", why="it is waxed")
    yard.close()
    record = load_trial(yard.bench.store, "quay-1")
    late, left = too_late_lines(record)
    assert late.startswith(
        "TOO LATE: 1 reading of bare at A1 was taken after the product was put on."
    )
    assert left.startswith("Given up: bare of A3, on ")
    assert left.endswith("(it is waxed); 1 planned reading was not taken.")
    assert {late, left} <= set(coverage(record))
    assert (
        "At bare, which comes before any wash, A2 was read when 2 washes had been counted. Results "
        "go by the plan's count."
    ) in work_part(record).sentences


def test_a_stage_that_was_read_after_the_next_washes_is_told_too(tmp_path: Path) -> None:
    yard = WorkedYard(tmp_path, ORDERLY)
    yard.plug("shore")
    yard.check("shore")
    for stage in ("wash-10", "wash-5"):
        yard.begin(stage, text=ORDERLY)
        yard.press("shore", "80.0")
        yard.call("finish_run", why="")
        yard.clock.advance(60)
    yard.close()
    (late,) = too_late_lines(load_trial(yard.bench.store, "quay-1"))
    assert "1 reading of wash-5 at A1 was taken after wash-10 was read there" in late
