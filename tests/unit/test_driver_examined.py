"""`coatbench driver test`: whatever a driver does, the report comes."""

from __future__ import annotations

from pathlib import Path
from shutil import copy

import pytest

from acquire.cli.entry import run
from acquire.driverapi.examined import Report, examined
from acquire.driverapi.rules import Finding, Rule
from acquire.driverapi.verdict import report_lines
from acquire.settings import config_dir
from tests.captures import FOLDER

PROFILES = config_dir() / "profiles"
PLACE = "tests.unit.strange_families"
Captured = pytest.CaptureFixture[str]


def told_of(capsys: Captured, *arguments: str) -> tuple[int, str]:
    """Exit status and all that was said."""
    code = run(["driver", "test", *arguments])
    said = capsys.readouterr()
    assert "Traceback" not in said.out + said.err
    return code, said.out + said.err


@pytest.fixture
def empty(tmp_path: Path) -> str:
    """A profile that says nothing."""
    path = tmp_path / "empty.toml"
    path.write_text("")
    return str(path)


@pytest.mark.parametrize(
    ("family", "said"),
    [
        ("RAISES", "raised ZeroDivisionError('no such thing')"),
        ("LEAVES", "raised SystemExit(7)"),
        ("DIES", "the driver ended the program with status 9, in the stage 'junk'"),
        ("BREAKS_OFF", "KeyboardInterrupt() came out of it, in the stage 'junk'"),
        ("GARBAGE", "str where a Reading, Noise, Notice or array belongs"),
        ("NOTHING", "it has no driver()"),
        ("MISSING", "has no attribute 'MISSING'"),
    ],
)
def test_whatever_a_driver_does_the_report_comes(
    capsys: Captured, empty: str, family: str, said: str
) -> None:
    code, told = told_of(capsys, f"{PLACE}:{family}", "--profile", empty, "--bytes", "1")
    assert code == 1
    assert said in told
    assert "next: " in told


def test_a_driver_that_hangs_is_ended_and_named(capsys: Captured, empty: str) -> None:
    code, told = told_of(capsys, f"{PLACE}:HANGS", "--profile", empty, "--limit", "0.7")
    assert code == 1
    assert "did not come back within 0.7 s, in the stage 'junk'" in told
    assert "not tried  memory stays bounded" in told


def test_what_a_driver_writes_to_the_terminal_goes_nowhere(capfd: pytest.CaptureFixture[str],
                                                           empty: str) -> None:  # fmt: skip
    assert run(["driver", "test", f"{PLACE}:LOUD", "--profile", empty, "--bytes", "1"]) == 0
    assert "\x1b" not in capfd.readouterr().out


def test_a_sound_driver_keeps_every_rule_with_its_captures(capsys: Captured) -> None:
    code, told = told_of(
        capsys, "keyed", "--profile", str(PROFILES / "keyed-gloss.toml"), "--bytes", "500",
        "--captures", str(FOLDER / "keyed-gloss"),
    )  # fmt: skip
    assert code == 0
    assert "keyed-gloss (4 captures)" in told
    assert told.count("held  ") == len(Rule)


def test_a_capture_that_means_something_else_breaks_the_rule_of_captures(
    capsys: Captured, tmp_path: Path
) -> None:
    text = (FOLDER / "keyed-gloss" / "words.toml").read_text("utf-8")
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(text.replace('kind = "adjusted"', 'kind = "power-up"'), "utf-8")
    code, told = told_of(
        capsys, "keyed", "--profile", str(PROFILES / "keyed-gloss.toml"), "--bytes", "1",
        str(wrong),
    )  # fmt: skip
    assert code == 1
    assert "BROKEN     captures mean what they say" in told
    assert "wrong: fed whole: fact" in told


def test_files_that_are_none_are_told(capsys: Captured, tmp_path: Path) -> None:
    code, told = told_of(capsys, "keyed", "--profile", str(tmp_path / "gone.toml"))
    assert code == 1
    assert "gone.toml" in told
    bad = tmp_path / "bad.toml"
    bad.write_text("step = 1\nfact = 2\n")
    profile = str(PROFILES / "keyed-force.toml")
    code, told = told_of(capsys, "keyed", "--profile", profile, str(bad), "--bytes", "1")
    assert code == 1
    assert "bad.toml is no capture" in told


def test_the_profiles_of_a_family_are_found_and_no_others(tmp_path: Path) -> None:
    for name in ("keyed-force", "gloss-press"):
        copy(PROFILES / f"{name}.toml", tmp_path)
    report = examined("keyed", folders=[tmp_path], spoilt_bytes=1)
    assert report.profiles == {"keyed-force": 0}
    assert report.is_sound, report


def test_a_name_that_is_no_driver_is_told_with_those_that_are(capsys: Captured) -> None:
    code, told = told_of(capsys, "lime")
    assert code == 1
    assert "there is no such driver" in told
    assert "frame, hid, keyed, line, modbus, usbtmc" in told


def test_the_list_shows_every_driver_and_where_it_comes_from(capsys: Captured) -> None:
    assert run(["driver", "list"]) == 0
    rows = [line.split("\t") for line in capsys.readouterr().out.splitlines()]
    assert rows[0] == ["driver", "brought by", "reaches by", "state"]
    assert ["usbtmc", "package coatbench", "usb fe/03", "fits"] in rows


def test_many_findings_of_a_rule_are_told_as_a_number() -> None:
    findings = tuple(("p", Finding(Rule.BYTES, f"wrong {n}")) for n in range(9))
    lines = list(report_lines("d", Report({"p": 1}, frozenset(), findings, (), ""), 1))
    assert "           p: wrong 4" in lines
    assert "           and 4 more of this kind" in lines
