"""The page says what was read on a surface that was gone, and what was given up."""

from __future__ import annotations

from pathlib import Path

from acquire.report.evidence import evidence_of
from acquire.report.headline import answer, coverage
from acquire.report.loading import load_trial
from acquire.report.page import render
from acquire.report.resultlines import told
from acquire.report.sections.tables import treatment_tables, zone_tables
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


def test_a_mark_stands_beside_each_figure_that_a_reading_was_too_late_for_and_no_other(
    tmp_path: Path,
) -> None:
    yard = WorkedYard(tmp_path, PLAN)
    yard.plug("shore")
    yard.check("shore")
    yard.begin("bare", text=PLAN)
    yard.press("shore", "80.0")
    yard.press("shore", "80.1")
    yard.call("finish_run", why="A2 later")
    yard.call("apply", trial="quay-1", zones=["A1", "A3"])
    for stage in ("bare", "wash-10", "wash-5"):
        yard.clock.advance(60)
        yard.begin(stage, text=PLAN)
        for value in ("81.0", "81.1") * (2 if stage == "bare" else 3):
            yard.press("shore", value)
        if yard.desk.run is not None:
            yard.call("finish_run", why="")
    yard.close()
    record = load_trial(yard.bench.store, "quay-1")
    (one,) = evidence_of(record)
    marked = {
        (table.stage, row.zone): (row.late, row.change_late)
        for table in zone_tables(record, one)
        for row in table.rows
        if row.change_late
    }
    late = "TOO LATE"
    assert marked == {
        ("bare", "A3"): (late, late),
        ("wash-5", "A1"): (late, late),
        ("wash-5", "A2"): (late, late),
        ("wash-5", "A3"): (late, late),
        ("wash-10", "A3"): ("", late),
    }
    assert {t.stage: [r.late for r in t.rows] for t in treatment_tables(record, one)} == {
        "wash-5": [late], "wash-10": [late],
    }  # fmt: skip
    last = answer(record, one).last
    assert last is not None
    assert all(v.sentence.endswith(f" {late}, see below.") for v in last.verdicts)
    assert last.lead.endswith(f" {late}, see below.")
    tables = {t.title: t.rows for t in told(yard.bench.store, "quay-1").tables}
    (row,) = tables["Gloss at 20° at wash-5: against the control, GU"][1:]
    assert row[2].startswith(late)
    page = render(record)
    assert page.count('<small class="late">TOO LATE</small>') == 11
    assert page.count("yes, TOO LATE") == 8
