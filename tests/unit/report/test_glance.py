"""Who won what stands first on the page, in the words and figures of the sections below it."""

from __future__ import annotations

from pathlib import Path

from acquire.report.sections.glance import _of_points
from acquire.report.sections.scores import ScorePart, ScoreRow
from acquire.report.terminal.shortlines import short_lines
from acquire.report.terminal.summary import lines_of
from acquire.report.words.tabled import NONE
from tests.unit.reported import SMALL, SMALL_VALUES, full, page, plan_text, read_stage
from tests.yard import Yard

HEAD = ["What", "Who is first", "Its figure, 95 % interval", "Chance to be truly the best"]


def test_the_table_comes_before_the_answers_and_says_what_they_say(tmp_path: Path) -> None:
    yard = full(tmp_path)
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert found.rows[0] == HEAD
    what, first, figure, chance = found.rows[1]
    name = first.split(" is first")[0]
    assert what.startswith("Gloss at 20°, at ")
    stage = what.removeprefix("Gloss at 20°, at ")
    assert f"At {stage}: {first.split(';')[0]}." in found.text
    assert first.endswith("better than the control")
    # The figure of the answer: "+1.2 GU (95 % interval +0.8 to +1.6 GU)".
    change, span = figure.split(" (")
    low_to_high = span.rstrip(")")
    assert f"{change} (95 % interval {low_to_high} GU)" in found.text
    assert chance.startswith(name)
    assert f"given these readings: {chance}" in found.text
    # The same in the terminal.
    said = short_lines(yard.bench.store, "gelcoat-1")
    assert said[said.index(what) + 1 :][:3] == [
        f"  {first}",
        f"  with its 95 % interval: {figure}",
        f"  chance to be truly the best, which decides nothing: {chance}",
    ]


def test_a_stage_that_is_read_in_part_says_so_beside_what_is_said_of_it(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    read_stage(yard, "bare", SMALL, [SMALL_VALUES[z, "bare"] for z in ("A1", "A2")])
    read_stage(yard, "cured", SMALL, [SMALL_VALUES["A1", "cured"], SMALL_VALUES["A2", "cured"][:2]])
    said = short_lines(yard.bench.store, "small")
    assert "Gloss at 20°, at cured (5 of 6 planned readings)" in said
    assert any("It rests on 5 of 6 planned readings of this stage." in line
               for line in lines_of(yard.bench.store, "small"))  # fmt: skip
    read_stage(yard, "cured", SMALL, [SMALL_VALUES["A2", "cured"][2:]])
    said = short_lines(yard.bench.store, "small")
    yard.close()
    assert "Gloss at 20°, at cured" in said


def test_where_nothing_is_judged_there_is_no_table(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin("bare", text=plan_text())
    yard.press("shore", "82.0")
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert HEAD not in found.rows
    assert "Nothing is judged yet." in short_lines(yard.bench.store, "gelcoat-1")


def test_the_one_treatment_of_a_trial_is_said_to_be_alone(tmp_path: Path) -> None:
    text = plan_text(
        {"none": "Untreated", "x": "Slipway wax"}, {"A1": "none", "A2": "x"}, replicates=2,
        stages=("bare", "applied"),
    )  # fmt: skip
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    for stage, values in (("bare", "80.1 80.2 81.0 81.1"), ("applied", "80.1 80.2 84.0 84.1")):
        yard.begin(stage, text=text)
        for value in values.split():
            yard.press("shore", value)
        yard.act(lambda at: yard.acts.runs.finish("", at))
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert found.rows[1][1:2] == [
        "Slipway wax alone is judged; Slipway wax: better than the control"
    ]
    assert found.rows[1][3] == "–"


def test_a_chance_by_points_says_where_lives_are_counted_at_their_least() -> None:
    row = ScoreRow("Tern", "at least 9.0", "8.0 to 9.9", "1 to 2, tied", "above 99 %", NONE, NONE)
    note = "Chance to be first, each life counted at its least: Tern above 99 %."
    part = ScorePart("yard, version 1", (row,), (), (note,), (), "", has_shift=False)
    assert _of_points(part, "points").chance == "Tern above 99 %, each life counted at its least"
    assert _of_points(part._replace(notes=()), "points").chance == "Tern above 99 %"


def test_of_products_that_are_first_together_by_points_each_has_its_figures() -> None:
    one = ScoreRow("Tern", "at least 9.0", "8.0 to 9.9", "1 to 2, tied", "80 %", NONE, NONE)
    two = ScoreRow("Knot", "at least 4.0", "3.0 to 6.0", "1 to 2, tied", "20 %", NONE, NONE)
    last = ScoreRow("Ruff", "2.0", "1.0 to 3.0", "3", "below 1 %", NONE, NONE)
    part = ScorePart("yard, version 1", (one, two, last), (), (), (), "", has_shift=False)
    row = _of_points(part, "points")
    assert row.first == "first together: Tern and Knot"
    assert row.figure == "Tern: at least 9.0 (8.0 to 9.9); Knot: at least 4.0 (3.0 to 6.0)"
