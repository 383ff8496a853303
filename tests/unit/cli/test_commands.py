"""Commands that need no daemon, and the words of those that do."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.serve import STOP_WITHIN_S, await_end
from acquire.cli.status import status_lines
from acquire.control.door import Door, door_path, write_door
from acquire.errors import ControlError
from acquire.pipeline.status import status
from tests.unit.reported import plan_text
from tests.yard import TRIAL, Yard

BOATYARD = Path(__file__).parents[3] / "config" / "boatyard"
Captured = pytest.CaptureFixture[str]


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    """A yard whose store is that of the bench file beside it."""
    text = (BOATYARD / "bench.toml").read_text(encoding="utf-8")
    (tmp_path / "bench.toml").write_text(text.replace("boatyard.sqlite", "bench.sqlite"))
    yard = Yard(tmp_path)
    yard.plug("shore")
    yield yard
    yard.close()


def bench(yard: Yard) -> list[str]:
    return ["--bench", str(yard.bench.store.with_name("bench.toml"))]


# -- trial check ---------------------------------------------------------------------------------


def test_a_sound_trial_is_told_in_short(capsys: Captured) -> None:
    assert run(["trial", "check", str(BOATYARD / "trial.toml")]) == 0
    shown = capsys.readouterr().out
    for wanted in (
        "Five protectants on dark gelcoat",
        "6 zones",
        "A2  Untreated  (the control)",
        "changes are taken against bare",
        "5 of each zone, 30 targets and 30 readings a stage, 90 in all",
        "bare, interleaved: A1 A2 A3 B1 B2 B3 A1 A2 A3 B1 B2 B3 ...",
        "by-zone: A1 A1",
        "equivalent within 1.0 GU",
        "no faults",
    ):
        assert wanted in shown


def test_a_shuffled_order_is_told_with_its_seed_and_an_unchecked_trial_loudly(
    tmp_path: Path, capsys: Captured
) -> None:
    text = (BOATYARD / "trial.toml").read_text(encoding="utf-8")
    text = text.replace('"interleaved"', '"shuffled"').replace(
        "unchecked = false", "unchecked = true"
    )
    (tmp_path / "t.toml").write_text(text)
    assert run(["trial", "check", str(tmp_path / "t.toml")]) == 0
    shown = capsys.readouterr().out
    assert "shuffled, seed 7" in shown
    assert "UNCHECKED: its readings count without a valid check" in shown


def test_what_two_coated_slides_cost_is_told_before_the_trial(
    tmp_path: Path, capsys: Captured
) -> None:
    zones = {f"B{i}": "none" for i in range(5)} | {"C1": "wax", "C2": "wax"}
    text = plan_text({"none": "Blank", "wax": "Tern wax"}, zones, stages=("bare", "applied"))
    text = text.replace('quantity = "gloss"', 'quantity = "transmittance"').replace(
        "geometry = 20", 'band = "315-400"\nstages = ["applied"]'
    )
    (tmp_path / "t.toml").write_text(text)
    assert run(["trial", "check", str(tmp_path / "t.toml")]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "has of Tern wax two coated slides, whose spread is hardly known" in shown


def test_every_fault_of_a_trial_is_told_at_once(tmp_path: Path, capsys: Captured) -> None:
    text = (BOATYARD / "trial.toml").read_text(encoding="utf-8")
    text = text.replace("replicates = 5", "replicates = 0").replace(
        '"plover"\n\n', '"heron"\n\n', 1
    )
    (tmp_path / "t.toml").write_text(text.replace("control = true", "control = false"))
    assert run(["trial", "check", str(tmp_path / "t.toml")]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert "measure[0].replicates" in told.err
    assert "exactly one treatment with control = true" in told.err
    assert told.err.count("got  ") >= 2


# -- export, report ------------------------------------------------------------------------------


def test_export_writes_to_the_screen_or_to_a_file(
    yard: Yard, tmp_path: Path, capsys: Captured
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    assert run([*bench(yard), "export", "gelcoat", "--format", "jsonl"]) == 0
    (line,) = capsys.readouterr().out.splitlines()
    assert json.loads(line)["zone"] == "A1"
    out = tmp_path / "all.csv"
    assert run([*bench(yard), "export", "--all", "--out", str(out)]) == 0
    assert capsys.readouterr().out == f"written: {out}, 5 readings\n"
    assert len(out.read_text().splitlines()) == 6


@pytest.mark.parametrize(
    ("name", "options", "is_json"),
    [
        ("x.jsonl", [], True),
        ("X.JSONL", [], True),
        ("x.csv", [], False),
        ("x.dat", [], False),
        ("x.jsonl", ["--format", "csv"], False),
        ("x.csv", ["--format", "jsonl"], True),
    ],
)
def test_export_takes_the_format_from_the_ending_unless_one_is_named(
    yard: Yard, tmp_path: Path, name: str, options: list[str], is_json: bool
) -> None:
    yard.check("shore")
    out = tmp_path / name
    assert run([*bench(yard), "export", "--all", "--out", str(out), *options]) == 0
    first = out.read_text(encoding="utf-8").splitlines()[0]
    assert first.startswith("{") is is_json


def test_export_loose_lists_loose_readings(yard: Yard, capsys: Captured) -> None:
    yard.press("shore", "70.1")
    assert run([*bench(yard), "export", "--loose"]) == 0
    shown = capsys.readouterr().out.splitlines()
    assert len(shown) == 2
    assert "no run is open for this instrument" in shown[1]


def test_export_of_an_unknown_trial_is_refused(yard: Yard, capsys: Captured) -> None:
    assert run([*bench(yard), "export", "hull"]) == 1
    assert "no readings of a trial 'hull'" in capsys.readouterr().err


def test_export_explains_its_columns(capsys: Captured, yard: Yard) -> None:
    assert run([*bench(yard), "export", "--columns"]) == 0
    assert "counts" in capsys.readouterr().out


def test_a_store_that_is_not_there_is_told_with_the_next_step(
    tmp_path: Path, capsys: Captured
) -> None:
    (tmp_path / "bench.toml").write_text((BOATYARD / "bench.toml").read_text(encoding="utf-8"))
    assert run(["--bench", str(tmp_path / "bench.toml"), "export", "--all"]) == 1
    assert "there is no store" in capsys.readouterr().err


# -- the daemon ----------------------------------------------------------------------------------


def test_a_fault_elsewhere_in_the_bench_file_stands_in_no_command_s_way(
    yard: Yard, capsys: Captured
) -> None:
    file = yard.bench.store.with_name("bench.toml")
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace('kind = "gloss"', 'kind = "glos"'), encoding="utf-8")
    assert run([*bench(yard), "export", "--loose", "--format", "csv"]) == 0
    file.write_text(text.replace("bench.sqlite", "other/bench.sqlite"), encoding="utf-8")
    capsys.readouterr()
    assert run([*bench(yard), "export", "--loose"]) == 1
    assert "bench.store" in capsys.readouterr().err


def test_without_a_daemon_the_way_to_start_one_is_told(yard: Yard, capsys: Captured) -> None:
    for line in (["status"], ["watch"], ["check", "shore"], ["stop"], ["run", "--resume"]):
        assert run([*bench(yard), *line]) == 3
        told = capsys.readouterr().err
        assert "no daemon runs for this bench" in told
        assert "next    start it: coatbench serve" in told


def test_a_run_without_an_instrument_names_those_there_are(yard: Yard, capsys: Captured) -> None:
    file = yard.bench.store.parent / "pulled.toml"
    file.write_text(TRIAL.replace('"gloss"', '"force"').replace("geometry = 20\n", ""))
    assert run([*bench(yard), "run", str(file), "bare"]) == 2
    assert "with --with: shore, deck" in capsys.readouterr().err


@pytest.mark.parametrize("text", ["", "  "])
def test_a_note_without_a_word_is_refused_before_the_daemon_is_asked(
    yard: Yard, capsys: Captured, text: str
) -> None:
    assert run([*bench(yard), "note", text]) == 1
    shown = capsys.readouterr().err
    assert "there is no remark to keep" in shown
    assert "next    say it in quotes" in shown


def test_the_status_for_a_person_says_state_reason_and_next_step(yard: Yard) -> None:
    yard.check("shore", tile="95.6")
    shown = "\n".join(status_lines(status(yard.desk, yard.clock.now())))
    for wanted in (
        "bench    boatyard",
        "sitting  1",
        "shore: gloss, serial SH-0417",
        "  link   connected as /dev/shore",
        "  check  needed: the last check of shore failed: T1 at 20° read 95.60 GU",
        "  next   clean piece and meter",
        "  last   0.0 GU at 20° (reading 4), accepted for a check",
        "  link   NOT THERE: not connected yet",
        "no run is open",
    ):
        assert wanted in shown


def test_the_status_tells_the_run_and_what_blocks_it(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    shown = "\n".join(status_lines(status(yard.desk, yard.clock.now())))
    assert "run 1: gelcoat, gloss20, bare" in shown
    assert "with shore: 1 of 4 taken" in shown
    assert "  check  valid for 59 min" in shown
    yard.clock.advance(4000)
    yard.tick()
    shown = "\n".join(status_lines(status(yard.desk, yard.clock.now())))
    assert "BLOCKED: the check of shore is older than" in shown


def test_another_serial_number_is_told_beside_the_one_wanted(yard: Yard) -> None:
    from acquire.model import NoticeKind

    yard.tell("shore", NoticeKind.IDENTITY, "SH-0999")
    shown = "\n".join(status_lines(status(yard.desk, yard.clock.now())))
    assert "serial SH-0999 (wanted SH-0417)" in shown


def test_stop_waits_until_the_door_is_closed_and_the_store_let_go(yard: Yard) -> None:
    store = yard.bench.store
    write_door(door_path(store), Door("127.0.0.1", 1, "token", 1))
    waits: list[float] = []

    def wait(seconds: float) -> None:
        waits.append(seconds)
        if len(waits) == 2:
            door_path(store).unlink()
        if len(waits) == 4:
            yard.close()

    await_end(store, lambda: 0.0, wait)
    assert len(waits) == 4


def test_a_daemon_that_does_not_stop_is_told_after_the_deadline(yard: Yard) -> None:
    waited = iter([0.0, STOP_WITHIN_S / 2, STOP_WITHIN_S])
    with pytest.raises(ControlError, match="has not yet"):
        await_end(yard.bench.store, lambda: next(waited), lambda _: None)
