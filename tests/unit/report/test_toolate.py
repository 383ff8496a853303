"""The page says what was read on a surface that was gone, and what was given up."""

from __future__ import annotations

from pathlib import Path

from acquire.analysis.durability.retention import Kept
from acquire.analysis.scoring.scored import as_text, from_text
from acquire.report.answers.coverage import coverage
from acquire.report.answers.headline import answer
from acquire.report.evidence.evidence import evidence_of
from acquire.report.evidence.toolate import late_readings, too_late_lines
from acquire.report.film.moments import moments_of
from acquire.report.package.comparing import compare_rows
from acquire.report.package.writing import write_package
from acquire.report.page import render
from acquire.report.plots.retention import retention_heights, retention_plot
from acquire.report.points.scorelines import total_rows
from acquire.report.points.scores import trial_score
from acquire.report.record.loading import load_trial
from acquire.report.rows.export import Scope, records
from acquire.report.rows.resultrows import result_records
from acquire.report.sections.drawings import changes_gallery, readings_gallery
from acquire.report.sections.tables import treatment_tables, zone_tables
from acquire.report.sections.work import work_part
from acquire.report.terminal.resultlines import told
from acquire.report.words.columns import Column
from acquire.settings.scorecard import parse_scorecard
from acquire.store import StoreReader
from tests.scorecard import CARD
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


def late_yard(folder: Path) -> WorkedYard:
    """A3 is read bare with its product on, and wash-5 of all zones after wash-10."""
    yard = WorkedYard(folder, PLAN)
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
    return yard


def test_a_mark_stands_beside_each_figure_that_a_reading_was_too_late_for_and_no_other(
    tmp_path: Path,
) -> None:
    yard = late_yard(tmp_path)
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
    assert page.count("<li>TOO LATE: rests on a reading that was taken when") == 2


def test_every_figure_that_leaves_the_house_has_the_mark(tmp_path: Path) -> None:
    yard = late_yard(tmp_path)
    store = yard.bench.store
    record = load_trial(store, "quay-1")
    (one,) = evidence_of(record)
    late = {r.id: (r.zone, r.stage) for r in record.readings if r.id in one.late_ids}
    assert sorted(set(late.values())) == [
        ("A1", "wash-5"), ("A2", "wash-5"), ("A3", "bare"), ("A3", "wash-5"),
    ]  # fmt: skip

    # Drawings: every reading, net changes, what is kept.
    drawn = {d.title: d.svg for d in readings_gallery(record, one, "r").drawings}
    assert {title: svg.count("TOO LATE ") for title, svg in drawn.items()} == {
        "bare": 1, "wash-5": 3, "wash-10": 0,
    }  # fmt: skip
    for number, (_, stage) in late.items():
        assert str(number) in drawn[stage].partition("TOO LATE ")[2]
    changes = changes_gallery(record, one, "c").drawings
    assert [d.svg.count("TOO LATE, ") for d in changes] == [1, 1]

    # Tables for spreadsheets and programs.
    rows = [r for r in result_records(record) if r["result"] in ("control", "life", "kept")]
    assert rows
    assert {r["too_late"] for r in rows} == {1}
    with StoreReader(store) as reader:
        found = {
            r["reading_id"]: r["too_late"]
            for r in records(reader, Scope("quay-1"))
            if r["too_late"]
        }
    assert found == late_readings(record)
    assert found.keys() == late.keys()

    # Captions: readings, means, verdicts.
    said = [m.text for m in moments_of(record, [one])]
    assert sum(": 8" in text and text.endswith(" GU, TOO LATE") for text in said) == len(late)
    means = [text for text in said if ": mean " in text]
    assert sum(text.endswith(", TOO LATE") for text in means) == 4
    assert len(means) > 4

    # Points, and the table of all years.
    card = parse_scorecard(f"{CARD}washes = 5\n", "card.toml")
    score = trial_score(record, card)
    (total,) = [row for row in total_rows(score) if "Tern" in row[0]]
    assert total[1].endswith(" TOO LATE")
    kept = from_text(as_text(score))
    assert [p.is_late for p in kept.products] == [True]

    # And the page that people see first.
    assert "TOO LATE" in render(record).partition("The trial in brief")[0]


def test_a_package_has_the_marks_and_one_of_before_is_held_without_them(tmp_path: Path) -> None:
    yard = late_yard(tmp_path / "bench")
    out = tmp_path / "package"
    write_package(yard.bench.store, "quay-1", out)
    readings = (out / "readings.csv").read_text("utf-8")
    assert readings.splitlines()[0].endswith(",too_late")
    assert readings.count("the product was put on") == 2
    columns = (Column("reading_id", ""), Column("too_late", ""))
    now = [{"reading_id": 1, "too_late": 1}]
    assert compare_rows("r", ["reading_id,too_late", "1,1"], columns, now).unlike == ()
    assert compare_rows("r", ["reading_id,too_late", "1,0"], columns, now).unlike
    assert compare_rows("r", ["reading_id", "1"], columns, now).unlike == ()
    assert compare_rows("r", ["too_late", "1"], columns, now).unlike


def test_a_drawing_over_time_has_the_mark_in_its_corner() -> None:
    kept = [Kept(5.0, 0.8, low=0.6, high=1.0), Kept(10.0, 0.4, low=0.2, high=0.6)]
    heights = retention_heights([kept])
    marked = retention_plot(kept, heights, 0.5, "Tern", remark="TOO LATE at 5 washes")
    assert ">TOO LATE at 5 washes</text>" in marked
    assert marked.replace(marked[marked.rindex("<text") : marked.rindex("</svg>")], "") == (
        retention_plot(kept, heights, 0.5, "Tern")
    )
