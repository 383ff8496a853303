"""Packages of traces, spectra and a long story compute to the same, and hold for other programs.

The other program is frictionless-py, which is kept by those who keep the standard.
"""

from __future__ import annotations

import base64
import subprocess
import sys
import zipfile
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from acquire.model import Flag, NoticeKind
from acquire.pipeline.trial_acts import SHOWN
from acquire.report.package.recompute import recompute
from acquire.report.package.writing import write_package
from acquire.report.record.loading import load_trial
from acquire.report.rows import export
from acquire.store.worked import UNSEALED
from tests.streamed import PULLED, StreamYard, drawn_pull
from tests.unit.packed import repacked, with_cell
from tests.unit.report.test_blinding import PRODUCT, keep, read, tell
from tests.unit.report.test_films import BOX, LEVELS, Slides
from tests.unit.reported import SMALL, SMALL_VALUES, full, read_stage, small
from tests.unit.worked_yard import PLAN, WorkedYard
from tests.yard import Yard

SLIDING = (
    """
[trial]
id = "sliding"
title = "One wax, pulled"
stages = ["applied"]
unchecked = true
"""
    + PULLED.replace("replicates = 3", "replicates = 1")
    + """[measure.sled]
mass = "512.4 g"
expanded_uncertainty = "0.4 g"
"""
)

_VALIDATE = """
import sys
from frictionless import Package
report = Package(sys.argv[1]).validate()
print(report.valid, *report.flatten(["message"])[:5], sep="\\n")
table = Package(sys.argv[1]).get_resource("reading").read_rows()
print(len(table), table[0]["value"], type(table[0]["raw"]).__name__)
"""


def _is_same(store: Path, trial: str, out: Path) -> None:
    write_package(store, trial, out)
    found = recompute(out)
    assert found.files == found.rows == found.refused == found.misjudged == ()
    assert [text for one in found.compared for text in one.unlike] == []
    assert all(one.figures for one in found.compared)


def test_traces_and_what_lies_in_the_minute_before_compute_to_the_same(tmp_path: Path) -> None:
    yard = StreamYard(tmp_path)
    # A loose pull within the minute that is looked at before the first reading.
    yard.pull(drawn_pull(2.0, 1.5))
    yard.begin_slick("applied", SLIDING)
    for static in (2.1, 1.0):
        yard.pull(drawn_pull(static, 0.8 * static))
    yard.finish()
    yard.close()
    _is_same(yard.bench.store, "sliding", tmp_path / "data.zip")
    # One that was changed with every digest made to fit is betrayed by the bytes of the line.
    with zipfile.ZipFile(tmp_path / "data.zip") as file:
        lines = file.read("store/reading.csv").decode().splitlines()
    place = next(k for k, line in enumerate(lines[1:]) if ",run," in line)
    text = "\n".join(lines) + "\n"
    for column in ("value", "value_real"):
        text = with_cell(place, column, "1.5")(text)
    bad = repacked(tmp_path / "data.zip", tmp_path / "bad.zip",
                   {"store/reading.csv": lambda _: text}, sums=True)  # fmt: skip
    found = recompute(bad)
    assert (found.files, found.again.came) == ((), 1)
    (said,) = found.again.unlike
    assert "value '1.5' stored, " in said
    assert "from the tape" in said


def test_a_package_is_of_one_moment_while_the_bench_goes_on_recording(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard = small(tmp_path)

    def meanwhile(*arguments: Any, **named: Any) -> Any:
        yard.press("shore", "80.0")
        return records(*arguments, **named)

    records = export.records
    monkeypatch.setattr(export, "records", meanwhile)
    packed = write_package(yard.bench.store, "small", tmp_path / "data.zip")
    assert packed.misfit == ""
    assert recompute(tmp_path / "data.zip").is_same
    yard.close()


def test_spectra_compute_to_the_same(tmp_path: Path) -> None:
    yard = Slides(tmp_path)
    yard.plug("head")
    yard.slides(BOX, "cured", LEVELS, with_spectra=True)
    yard.close()
    _is_same(yard.bench.store, "three", tmp_path / "data.zip")


def test_work_beside_readings_comes_along_and_computes_to_the_same(tmp_path: Path) -> None:
    yard = WorkedYard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    read_stage(yard, "bare", PLAN, [("80.1", "80.2")] * 3)
    acts = yard.acts
    yard.act(lambda at: acts.applications.apply(
        "quay-1", ["A1"], "tern", "3 ml", Decimal("2.5"), None, "hazed evenly", at
    ))  # fmt: skip
    yard.act(lambda at: acts.applications.apply("quay-1", ["A3"], "", "", None, None, "", at))
    yard.act(lambda at: acts.applications.take_back("quay-1", [2], "it was <i>A1</i>", at))
    yard.act(lambda at: acts.washes.count("quay-1", [], 5, "typed", at))
    yard.act(lambda at: acts.washes.correct("quay-1", ["A1"], 1, "forgot one", at))
    for rater, step in (("Ada", 2), ("Bea", 3)):
        yard.act(lambda at, who=rater, n=step: acts.ratings.rate(  # type: ignore[misc]
            "quay-1", "water", "wash-5", "A1", "", who, n, "", at
        ))  # fmt: skip
    yard.act(lambda at: acts.photos.keep("quay-1", "wash-5", "A1", "a/b.jpg", "0" * 64, 7, "", at))
    yard.check("shore")
    yard.close()
    _is_same(yard.bench.store, "quay-1", tmp_path / "data.zip")
    with zipfile.ZipFile(tmp_path / "data.zip") as file:
        counts = {
            name: file.read(f"store/{name}.csv").count(b"\n") - 1
            for name in ("application", "application_void", "wash", "rating", "photo")
        }
    assert counts == {"application": 2, "application_void": 1, "wash": 2, "rating": 2, "photo": 1}


def test_a_sealed_key_stays_a_secret_and_an_unsealed_one_comes_along(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    keep(yard)
    yard.plug("shore")
    yard.check("shore")
    read(yard, "bare")
    tell(yard, SHOWN, "Jonas", "puts them on")
    store, packed = yard.bench.store, _packed_key(yard)
    _is_same(store, "small", tmp_path / "sealed.zip")
    assert _held(tmp_path / "sealed.zip", PRODUCT, packed) == []
    tell(yard, UNSEALED, "Ines", "done")
    yard.close()
    _is_same(store, "small", tmp_path / "open.zip")
    assert _held(tmp_path / "open.zip", PRODUCT, packed) == [PRODUCT, packed]


def _packed_key(yard: Yard) -> str:
    """The packed key as a cell has it."""
    return base64.b64encode(yard.writer.query("SELECT sealed FROM trial_key")[0][0]).decode()


def _held(package: Path, *texts: str) -> list[str]:
    with zipfile.ZipFile(package) as file:
        everything = "".join(file.read(name).decode() for name in file.namelist())
    return [text for text in texts if text in everything]


def test_a_long_story_with_drift_suspects_and_voids_computes_to_the_same(tmp_path: Path) -> None:
    yard = full(tmp_path)
    yard.close()
    _is_same(yard.bench.store, "gelcoat-1", tmp_path / "data.zip")


def test_presses_out_of_range_have_the_same_places_in_the_package(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    read_stage(yard, "bare", SMALL, [SMALL_VALUES[z, "bare"] for z in ("A1", "A2")])
    yard.begin("cured", text=SMALL)
    yard.act(lambda at: yard.acts.runs.go_to("A2", None, at))
    for value in ("84.0", None, None, "84.1", "84.2", *SMALL_VALUES["A1", "cured"]):
        yard.clock.advance(2)
        yard.press("shore", value, flags=frozenset() if value else frozenset({Flag.OVER_RANGE}))
    yard.act(lambda at: yard.acts.runs.finish("", at))
    yard.check("shore")
    slip, _ = load_trial(yard.bench.store, "small").beyond
    yard.act(lambda at: yard.acts.readings.void(slip.reading_id, "in the air", at))
    yard.close()
    (left,) = load_trial(yard.bench.store, "small").beyond
    assert (left.zone, left.stage) == ("A2", "cured")
    _is_same(yard.bench.store, "small", tmp_path / "data.zip")


def test_a_line_opened_before_the_sitting_and_killed_in_it_is_told_alike(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.plug("deck")
    yard.clock.advance(5)
    # This begins the sitting, and shore is neither checked nor read before the daemon is killed.
    yard.check("deck")
    for _ in range(3):
        yard.clock.advance(5)
        yard.tell("shore", NoticeKind.IDENTITY, "SH-0417")
        yard.restart()
        yard.clock.advance(5)
        yard.plug("shore")
    yard.check("shore")
    read_stage(yard, "bare", SMALL, [SMALL_VALUES[z, "bare"] for z in ("A1", "A2")])
    yard.check("shore")
    yard.close()
    kinds = [trouble.kind for trouble in load_trial(yard.bench.store, "small").troubles]
    assert kinds.count("daemon ended") == 3
    _is_same(yard.bench.store, "small", tmp_path / "data.zip")


def test_an_open_sitting_lasts_as_long_as_the_trial_has_something_in_it(tmp_path: Path) -> None:
    yard = small(tmp_path)
    (before,) = load_trial(yard.bench.store, "small").sittings
    yard.clock.advance(600)
    # What another meter does in the same sitting is in no package of the trial.
    yard.plug("deck")
    yard.check("deck")
    yard.clock.advance(600)
    yard.press("deck", "70.1")
    assert load_trial(yard.bench.store, "small").sittings == (before,)
    yard.close()
    _is_same(yard.bench.store, "small", tmp_path / "data.zip")


def test_what_a_withdrawn_certificate_made_suspect_is_so_in_the_package(tmp_path: Path) -> None:
    yard = small(tmp_path)
    wrong = yard.bench.pieces[0]
    (first,) = wrong.certificates
    own = (replace(first, withdrawn="of another tile"), replace(first, value=first.value + 3))
    yard.close()
    yard.bench = replace(
        yard.bench, pieces=(replace(wrong, certificates=own), *yard.bench.pieces[1:])
    )
    yard.open()
    assert yard.readings("bracket = 'suspect' AND reassessment_id IS NOT NULL")
    yard.close()
    _is_same(yard.bench.store, "small", tmp_path / "data.zip")
    # By the judgement that was made anew, and not by a word of the page.
    with zipfile.ZipFile(tmp_path / "data.zip") as file:
        lines = file.read("store/reassessment.csv").decode().splitlines()
    text = with_cell(0, "outcome", "pass")("\n".join(lines) + "\n")
    bad = repacked(tmp_path / "data.zip", tmp_path / "bad.zip",
                   {"store/reassessment.csv": lambda _: text}, sums=True)  # fmt: skip
    found = recompute(bad)
    assert any("outcome 'pass', and now 'fail'" in one for one in found.misjudged)


def test_the_standards_own_program_finds_a_package_valid(tmp_path: Path) -> None:
    yard = small(tmp_path)
    yard.act(lambda at: yard.acts.note("=1+1\r\nline 'two'", "small", "", at))
    yard.close()
    write_package(yard.bench.store, "small", tmp_path / "data")
    # In a process of its own: it brings warnings and settings of its own.
    found = subprocess.run(
        [sys.executable, "-c", _VALIDATE, str(tmp_path / "data" / "datapackage.json")],
        capture_output=True, text=True, check=True, timeout=100,
    )  # fmt: skip
    valid, table = found.stdout.splitlines()
    assert valid == "True"
    assert table.split()[:2] == ["24", "93.2"]
