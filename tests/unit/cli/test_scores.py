"""`coatbench rescore`, `alltime` and `import` by hand, without a daemon that runs already."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.reach import acting
from acquire.settings import config_dir
from acquire.trial.past import LARGEST_BYTES
from tests.unit.test_past import HEAD, MAPPING
from tests.unit.worked_yard import PLAN

Captured = pytest.CaptureFixture[str]

CARD = """[scorecard]
id = "water"
version = 1
title = "Water"
decimals = 0
[[rating]]
id = "water"
title = "How water behaves"
scale = "water"
stage = "applied"
points = [0, 4, 10]
"""


def test_points_are_reckoned_kept_shown_and_past_results_stand_below_them(
    tmp_path: Path, capsys: Captured
) -> None:
    bench = Path(shutil.copy(config_dir() / "boatyard" / "bench.toml", tmp_path))
    option = ["--bench", str(bench)]
    card, past, mapping = (tmp_path / name for name in ("card.toml", "past.csv", "map.toml"))
    card.write_text(CARD)
    past.write_text(HEAD + "2019,Tern coat,12.5,,white\n")
    mapping.write_text(MAPPING)
    with acting(bench) as client:
        client.call("keep_trial", text=PLAN, source="trial.toml")
        client.call("apply", trial="quay-1", zones=["A1"], amount="4 ml")
        client.call(
            "rate", trial="quay-1", scale="water", stage="applied", zone="A1", rater="Ada", step=3
        )
        assert run([*option, "alltime"]) == 0
        assert "nothing was imported yet" in capsys.readouterr().out
        assert run([*option, "rescore", "--scorecard", str(card)]) == 0
        out = capsys.readouterr().out
        assert "\t10\t10\t" in out
        assert out.endswith("Points by water, version 1: kept.\nnext: coatbench alltime\n")
        assert run([*option, "import", str(past), "--mapping", str(mapping), "--check"]) == 0
        assert "no faults: 1 figure of 1 product in 1 trial" in capsys.readouterr().out
        assert run([*option, "import", str(past), "--mapping", str(mapping)]) == 0
        capsys.readouterr()
    assert run([*option, "alltime", "--scorecard", "water"]) == 0
    out = capsys.readouterr().out
    assert "\t10\t10\tquay-1\tfirst" in out
    assert "imported, unchecked: Gloss gained (gloss at 20°; higher is better; panel: white)" in out
    assert "1\tTern coat\t12.5\t–\t2019\timported, unchecked: past.csv, line 2" in out


@pytest.mark.parametrize(
    ("name", "told"),
    [("none.csv", "no such file"), (".", "a folder"), ("huge.csv", "more than 2 MB")],
)
def test_what_is_no_table_gets_one_clear_message(
    name: str, told: str, tmp_path: Path, capsys: Captured
) -> None:
    with (tmp_path / "huge.csv").open("wb") as file:
        file.truncate(50 * LARGEST_BYTES)
    mapping = config_dir() / "scorecards" / "past-results.toml"
    assert run(["import", str(tmp_path / name), "--mapping", str(mapping), "--check"]) == 1
    assert told in capsys.readouterr().err


def test_a_table_and_a_mapping_that_are_both_missing_are_told_together(
    tmp_path: Path, capsys: Captured
) -> None:
    table, mapping = tmp_path / "a.csv", tmp_path / "b.toml"
    assert run(["import", str(table), "--mapping", str(mapping), "--check"]) == 1
    told = capsys.readouterr().err
    assert "has 2 faults" in told
    assert f"{table}, file" in told
    assert f"{mapping}, file" in told
