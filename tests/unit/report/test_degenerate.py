"""Trials with hardly anything in them: an answer or a reason everywhere, no figure that is none."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest

from acquire.report.evidence.evidence import evidence_of
from acquire.report.record.loading import load_trial
from acquire.report.rows.resultrows import COLUMNS, write_rows
from acquire.report.sections.leftouts import left_outs
from acquire.report.terminal.resultlines import check_budgets, told
from tests.unit.reported import Page, page, plan_text, read_stage
from tests.yard import Yard

NO_FIGURE = re.compile(r"(?<![\w’'])(?:nan|NaN|inf|Infinity|None)(?![\w’'])")
OFF = (-0.1, 0.0, 0.1)
STAGES = ("bare", "cured")


class Shown(NamedTuple):
    """Everything that is said of a trial: page, terminal, rows and the check of budgets."""

    page: Page
    lines: tuple[str, ...]
    rows: list[dict[str, object]]
    cells: list[dict[str, str]]
    checked: tuple[str, ...]

    def of(self, result: str) -> list[dict[str, object]]:
        return [row for row in self.rows if row["result"] == result]


def shown(
    folder: Path,
    values: Callable[[str, int], Sequence[float]],
    zones: Mapping[str, str],
    *,
    replicates: int = 3,
    unread: Sequence[str] = (),
    stages: Sequence[str] = ("bare", "cured"),
) -> Shown:
    """A trial of these zones (by treatment); `values` gives readings by treatment and stage."""
    names = {t: "Untreated" if t == "none" else f"Wax {t}" for t in zones.values()}
    text = plan_text(names, zones, stages=stages, replicates=replicates)
    yard = Yard(folder)
    yard.plug("shore")
    yard.check("shore")
    for k, stage in enumerate(stages):
        # What is not read comes last in the plan.
        read = [t for z, t in zones.items() if z not in unread]
        read_stage(yard, stage, text, [[f"{v:.1f}" for v in values(t, k)] for t in read])
        yard.check("shore")
    store = yard.bench.store
    found = page(yard, "gelcoat-1", folder)
    told_lines = told(store, "gelcoat-1")
    json_lines, table = io.StringIO(), io.StringIO()
    write_rows(store, "gelcoat-1", "jsonl", json_lines)
    write_rows(store, "gelcoat-1", "csv", table)
    checked = check_budgets(store, "gelcoat-1")
    yard.close()
    assert checked.holds
    cells = [cell for t in told_lines.tables for row in t.rows for cell in row]
    for text in (found.text, *told_lines.lines, *cells, *checked.lines, table.getvalue()):
        assert NO_FIGURE.search(text) is None, text
    assert re.search(r"NaN|Infinity", json_lines.getvalue()) is None
    return Shown(
        found,
        (*told_lines.lines, *cells),
        [json.loads(line) for line in json_lines.getvalue().splitlines()],
        list(csv.DictReader(io.StringIO(table.getvalue()))),
        checked.lines,
    )


def zones_of(*treatments: str) -> dict[str, str]:
    return {f"Z{k}": t for k, t in enumerate(treatments)}


def level(treatment: str, stage: int) -> list[float]:
    """Control 80; a treatment gains as many GU as its name says."""
    gain = 0.0 if treatment == "none" else float(treatment)
    return [80.0 + gain * stage + off for off in OFF]


def test_readings_that_are_all_equal_show_no_difference_and_say_what_could_be_seen(
    tmp_path: Path,
) -> None:
    found = shown(tmp_path, lambda t, k: [80.0] * 3, zones_of("none", "1", "2"))
    assert {row["decision"] for row in found.of("control")} <= {
        "no difference shown", "shown equal"
    }  # fmt: skip
    assert {row["tied"] for row in found.of("place")} == {1}
    assert all(float(str(row["smallest_visible"])) > 0 for row in found.of("pair"))
    assert "the resolution of the display stands for" in found.page.text
    first, second = (float(str(row["chance_first"])) for row in found.of("place"))
    assert first == pytest.approx(0.5, abs=0.2)
    assert first + second == pytest.approx(1.0)


def test_a_figure_that_nothing_could_measure_is_left_out_and_said(tmp_path: Path) -> None:
    text = plan_text(
        {"none": "Untreated", "x": "Wax x"}, zones_of("none", "x"), replicates=3, stages=STAGES
    )
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    for third in ("80.2", "1" + "0" * 150):
        stage = STAGES[third != "80.2"]
        read_stage(yard, stage, text, [["80.1", "80.0", "80.2"], ["80.1", "80.0", third]])
        yard.check("shore")
    lines = told(yard.bench.store, "gelcoat-1").lines
    record = load_trial(yard.bench.store, "gelcoat-1")
    (left_out,) = left_outs(record, evidence_of(record)).impossible
    yard.close()
    assert "1 reading of the zones is left out, because no measurement could be so large." in lines
    assert "11 of 12 planned readings count." in lines
    assert left_out.reason.startswith("no measurement could be so large")


def test_one_reading_a_zone_is_refused_with_its_reason_everywhere(tmp_path: Path) -> None:
    found = shown(tmp_path, lambda t, k: level(t, k)[:1], zones_of("none", "1", "2"), replicates=1)
    rows = found.of("control")
    assert {row["decision"] for row in rows} == {"no decision"}
    assert all("only one reading" in str(row["reason"]) for row in rows)
    assert all(row["difference"] is None for row in rows)
    assert not found.of("pair")
    assert "only one reading" in found.page.text
    assert any("only one reading" in line for line in found.lines)
    assert "there is no budget to check" in found.checked[-1]


def test_zones_without_scatter_that_differ_are_told_apart_by_the_step_of_the_display(
    tmp_path: Path,
) -> None:
    found = shown(tmp_path, lambda t, k: [level(t, k)[1]] * 3, zones_of("none", "3", "5"))
    assert [row["decision"] for row in found.of("control")] == ["better", "better"]
    (pair,) = found.of("pair")
    assert (pair["treatment"], pair["decision"]) == ("5", "better")
    assert [row["decision"] for row in found.of("place")] == ["first", "behind"]


def test_one_treatment_has_a_decision_and_no_pairs_or_places(tmp_path: Path) -> None:
    found = shown(tmp_path, level, zones_of("none", "4"))
    assert [row["result"] for row in found.rows] == ["control"]
    assert "Each treatment against each other one" not in found.page.text
    assert "Places and chances" not in found.page.text
    assert "Every two treatments are held" not in found.page.text


def test_two_treatments_are_one_pair_by_the_limit_of_one_difference(tmp_path: Path) -> None:
    found = shown(tmp_path, level, zones_of("none", "4", "2"))
    (pair,) = found.of("pair")
    assert pair["together"] == 1
    assert "Welch" in str(pair["rule"])
    of_pair = [row[2] for row in found.page.rows if row[:2] == ["Wax 4", "Wax 2"]]
    assert of_pair == ["ahead", "▲ better"]


def test_a_control_alone_has_nothing_to_be_compared_with(tmp_path: Path) -> None:
    found = shown(tmp_path, level, zones_of("none", "none"))
    assert found.rows == []
    assert found.cells == []
    assert any("no treatment besides the control" in line for line in found.lines)
    assert "no treatment besides the control" in found.page.text


def test_without_a_reading_of_the_control_nothing_is_judged_and_it_is_said_what_to_read(
    tmp_path: Path,
) -> None:
    found = shown(tmp_path, level, zones_of("4", "2", "none"), unread=("Z2",))
    assert {row["decision"] for row in found.rows} == {"no decision"}
    assert all("read zone Z2 at bare and cured" in str(row["reason"]) for row in found.rows)
    assert "no reading that counts at bare and cured" in found.page.text


def test_a_treatment_that_was_not_read_stands_beside_those_that_were(tmp_path: Path) -> None:
    found = shown(tmp_path, level, zones_of("none", "4", "2", "3"), unread=("Z3",))
    (refused,) = [row for row in found.of("control") if row["decision"] == "no decision"]
    assert refused["treatment"] == "3"
    assert len(found.of("pair")) == 1
    assert [row["treatment"] for row in found.of("place")] == ["4", "2"]


def test_thirty_treatments_are_all_held_against_one_another(tmp_path: Path) -> None:
    treatments = [f"{k / 2:g}" for k in range(30)]
    found = shown(tmp_path, level, zones_of("none", *treatments))
    assert len(found.of("pair")) == 435
    assert len(found.of("place")) == 30
    places = found.of("place")
    assert sum(float(str(row["chance_first"])) for row in places) == pytest.approx(1.0)
    assert all(int(str(row["place_first"])) <= int(str(row["place_last"])) <= 30 for row in places)
    # Page and rows: the same decisions.
    words = [row[2][2:] for row in found.page.rows if len(row) == 7 and row[2][:1] in "▲▼○="]
    assert words == [row["decision"] for row in found.of("pair")]


def test_treatments_with_the_same_net_change_are_tied_and_neither_is_preferred(
    tmp_path: Path,
) -> None:
    found = shown(tmp_path, lambda t, k: level("4" if t in "ab" else t, k),
                  zones_of("none", "a", "b"))  # fmt: skip
    assert [row["decision"] for row in found.of("place")] == ["first together"] * 2
    assert [row["chance_first"] for row in found.of("place")] == [0.5, 0.5]


def test_the_rows_have_their_columns_and_figures_without_made_up_digits(tmp_path: Path) -> None:
    found = shown(tmp_path, level, zones_of("none", "4", "2", "1"))
    names = [column.name for column in COLUMNS]
    assert all(list(row) == names for row in found.rows)
    assert [list(row) for row in found.cells] == [names] * len(found.rows)
    for row in found.rows:
        for value in row.values():
            if isinstance(value, float):
                assert len(re.sub(r"e.*|[-.]", "", repr(value)).lstrip("0")) <= 10
    # Every decision has its rule, every refusal its reason.
    assert all(row["rule"] or row["reason"] for row in found.rows)
