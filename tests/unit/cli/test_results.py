"""`coatbench results`: tables for a person, rows for a program, and the budgets checked."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.settings import config_dir
from tests.unit.reported import full, small
from tests.yard import Yard

Captured = pytest.CaptureFixture[str]


def with_bench(yard: Yard, folder: Path) -> list[str]:
    """The option of a bench file that names the yard's store."""
    text = (config_dir() / "boatyard" / "bench.toml").read_text(encoding="utf-8")
    (folder / "bench.toml").write_text(text.replace("boatyard.sqlite", yard.bench.store.name))
    return ["--bench", str(folder / "bench.toml")]


@pytest.fixture
def option(tmp_path: Path) -> list[str]:
    yard = full(tmp_path)
    found = with_bench(yard, tmp_path)
    yard.close()
    return found


def test_every_pair_place_and_chance_is_shown_in_tables(
    option: list[str], capsys: Captured
) -> None:
    assert run([*option, "results", "gelcoat-1"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert "Gloss at 20° at wash-5: places and chances" in lines
    at = lines.index("Gloss at 20° at wash-5: each against each other, GU")
    assert len(lines[at + 2 : at + 12]) == 10
    assert lines[at + 2].split("\t")[:2] == ["Dunlin ceramic", "Plover sealant"]
    assert lines[at + 2].split("\t")[-1] == "▲ better"


def test_rows_go_to_a_file_or_through_a_pipe(
    option: list[str], tmp_path: Path, capsys: Captured
) -> None:
    out = tmp_path / "results.csv"
    assert run([*option, "results", "gelcoat-1", "--out", str(out)]) == 0
    # Two stages of five treatments: each against the control, ten pairs, five places.
    assert capsys.readouterr().out == f"written: {out}, 40 rows\n"
    assert run([*option, "results", "gelcoat-1", "--format", "csv"]) == 0
    assert capsys.readouterr().out == out.read_text(encoding="utf-8")
    with out.open(encoding="utf-8", newline="") as file:
        kinds = [row["result"] for row in csv.DictReader(file)]
    assert {k: kinds.count(k) for k in kinds} == {"control": 10, "pair": 20, "place": 10}
    # Neither kind of file takes the place of the other.
    assert run([*option, "export", "gelcoat-1", "--out", str(out)]) == 1
    assert "a CSV file of results" in capsys.readouterr().err


def test_budgets_are_checked_and_each_is_said_to_hold(tmp_path: Path, capsys: Captured) -> None:
    yard = small(tmp_path)
    option = with_bench(yard, tmp_path)
    yard.close()
    assert run([*option, "results", "small", "--check-budgets"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("holds  Gloss at 20°, Brine Shield, cured\n")
    assert "Shaken reading by reading" in told
    assert "200000 drawn errors" in told
    assert told.endswith("It holds.\n")


def test_columns_are_explained_and_what_does_not_go_together_is_refused(
    option: list[str], capsys: Captured
) -> None:
    assert run([*option, "results", "--columns"]) == 0
    assert "chance_first " in capsys.readouterr().out
    assert run([*option, "results"]) == 2
    assert run([*option, "results", "gelcoat-1", "--check-budgets", "--format", "csv"]) == 2
    capsys.readouterr()
    assert run([*option, "results", "hull"]) == 1
    assert "gelcoat-1" in capsys.readouterr().err
