"""`coatbench driver test`: whatever a driver does, the report comes."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from shutil import copy
from types import ModuleType
from typing import Any

import pytest

from acquire.cli.entry import run
from acquire.driverapi.conformance import violations
from acquire.driverapi.examined import Report, examined
from acquire.driverapi.rules import Finding, Rule
from acquire.driverapi.verdict import report_lines
from acquire.settings import config_dir
from tests.captures import FOLDER
from tests.kit import strange_families

PROFILES = config_dir() / "profiles"
PLACE = "tests.kit.strange_families"
Captured = pytest.CaptureFixture[str]


def told_of(capfd: Captured, *arguments: str) -> tuple[int, str]:
    """Exit status and all that was said, the report last.

    On a busy computer it is said before, by the other way, for what somebody waits.
    """
    code = run(["driver", "test", *arguments])
    said = capfd.readouterr()
    assert "Traceback" not in said.out + said.err
    assert "\x1b" not in said.out, "what a driver writes to the terminal got there"
    return code, said.err + said.out


@pytest.fixture
def empty(tmp_path: Path) -> str:
    """A profile that says nothing."""
    path = tmp_path / "empty.toml"
    path.write_text("")
    return str(path)


@pytest.mark.parametrize(
    ("family", "said"),
    [
        (strange_families.RAISES, "raised ZeroDivisionError('no such thing')"),
        (strange_families.LEAVES, "raised SystemExit(7)"),
        (strange_families.GARBAGE, "str where a Reading, Noise, Notice or array belongs"),
        (strange_families.NOTHING, "it has no driver()"),
    ],
)
def test_whatever_a_driver_raises_or_gives_is_a_finding(family: Any, said: str) -> None:
    found = violations(family, {}, [])
    assert any(said in one for one in found), found


@pytest.mark.parametrize(
    ("family", "said"),
    [
        ("COUNTS_IN_FILE", "strange.count'; what one driver leaves there another one finds"),
        ("COUNTS_IN_ENVIRONMENT", "it changes the environment variable 'STRANGE_COUNT'"),
        ("LOOKS_UP", "it reads the file '/no-such-folder/strange.ini', which came with no package"),
        ("OPENS_A_DATABASE", "it opens the database ':memory:'"),
        ("CALLS", "it opens a connection: ('127.0.0.1', 1)"),
    ],
)
def test_what_a_driver_shares_outside_of_itself_is_found(
    capfd: Captured, empty: str, family: str, said: str
) -> None:
    code, told = told_of(capfd, f"{PLACE}:{family}", "--profile", empty, "--bytes", "1")
    assert code == 1
    assert f"BROKEN     {Rule.APART.value}" in told
    assert said in told
    assert not (Path(tempfile.gettempdir()) / "strange.count").exists()
    assert ("it leaves files: 'strange.count'" in told) == (family == "COUNTS_IN_FILE")


def test_a_driver_may_look_at_what_came_with_it_and_nobody_else_is_watched(
    empty: str, tmp_path: Path
) -> None:
    found = violations(strange_families.LOOKS_AT_ITS_OWN_CODE, {}, [])
    assert found == []
    watched = violations(strange_families.COUNTS_IN_ENVIRONMENT, {}, [])
    assert len(watched) == 1
    (tmp_path / "after").write_text("what is done behind an examination is nobody's matter")
    assert violations(strange_families.LOOKS_AT_ITS_OWN_CODE, {}, []) == []


def test_a_package_that_is_on_no_path_may_read_the_tables_that_came_with_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "edited").mkdir()
    table = tmp_path / "edited" / "table.txt"
    beside = tmp_path / "beside.txt"
    for file in (table, beside):
        file.write_text("1")
    package = ModuleType("edited")
    package.__path__ = [str(tmp_path / "edited")]
    monkeypatch.setitem(sys.modules, "edited", package)

    class Edited(strange_families.StrangeFamily):
        __module__ = "edited.family"

    assert violations(Edited(lambda _: table.read_text()[:0]), {}, []) == []
    (found,) = violations(Edited(lambda _: beside.read_text()[:0]), {}, [])
    assert f"it reads the file {str(beside)!r}, which came with no package" in found


@pytest.mark.parametrize(
    ("family", "said"),
    [
        ("DIES", "the driver ended the program with status 9, in the stage 'junk'"),
        ("BREAKS_OFF", "KeyboardInterrupt() came out of it, in the stage 'junk'"),
    ],
)
def test_a_driver_that_ends_its_process_does_not_end_the_report(
    capfd: Captured, empty: str, family: str, said: str
) -> None:
    code, told = told_of(capfd, f"{PLACE}:{family}", "--profile", empty, "--bytes", "1")
    assert code == 1
    assert said in told
    assert "next: " in told
    assert f"BROKEN     {Rule.BYTES.value}\n           empty: junk: the driver " in told
    assert f"not tried  {Rule.ORDER.value} (not to its end)\n" in told


@pytest.mark.parametrize(
    ("place", "parts"),
    [
        (
            "plumbroken:FAMILY",
            ("there is no module 'plumbroken'", "go to the folder that it is in", "driver list"),
        ),
        (
            f"{PLACE}:MISSING",
            (
                f"there is no 'MISSING' in the module '{PLACE}'",
                f"{PLACE}:RAISES",
                "name the family",
            ),
        ),
        ("json:FAMILY", ("there is no 'FAMILY' in the module 'json'", "there is none in it")),
    ],
)
def test_a_family_that_is_nowhere_is_said_to_be_and_is_no_broken_driver(
    capfd: Captured, place: str, parts: tuple[str, ...]
) -> None:
    code, told = told_of(capfd, place)
    assert code == 1
    for part in (*parts, "got ", "wanted ", "next "):
        assert part in told
    assert "BROKEN" not in told
    assert "not tried" not in told
    assert "plug" not in told.replace("plumbroken", "")


def test_a_driver_whose_own_import_fails_is_broken_and_not_absent(
    tmp_path: Path, capfd: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "halfway.py").write_text("import no_such_thing_at_all\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    code, told = told_of(capfd, "halfway:FAMILY")
    assert code == 1
    assert "BROKEN     it fits the interface" in told
    assert "No module named 'no_such_thing_at_all'" in told


def test_a_driver_that_hangs_is_ended_and_named(capfd: Captured, empty: str) -> None:
    code, told = told_of(capfd, f"{PLACE}:HANGS", "--profile", empty, "--limit", "2")
    assert code == 1
    assert "did not come back within 2 s, in the stage 'junk'" in told
    assert "not tried  memory stays bounded" in told
    assert (
        f"BROKEN     {Rule.BYTES.value}\n           empty: junk: the driver did not come " in told
    )
    assert f"not tried  {Rule.ORDER.value} (not to its end)\n" in told
    waited = [line for line in told.splitlines() if line.startswith("wait    ")]
    # A busy computer may be waited for in an earlier one, too.
    waited = [line for line in waited if "in the stage 'junk' with profile empty; " in line]
    assert len(waited) == 1, "once a stage, and not at each look"
    assert " s so far for the driver, " in waited[0]
    assert waited[0].endswith("after 2 s it counts as hung")


def test_no_rule_is_said_to_hold_whose_last_stage_a_driver_hung_in(capfd: Captured) -> None:
    code, told = told_of(
        capfd, "tests.kit.hanging_families:ON_JUNK",
        "--profile", str(PROFILES / "gloss-press.toml"),
        "--captures", str(FOLDER / "gloss-press" / "repeat.toml"), "--limit", "4",
    )  # fmt: skip
    assert code == 1
    assert "did not come back within 4 s, in the stage 'junk'" in told
    held = [line for line in told.splitlines() if line.startswith("held  ")]
    # The captures were heard to their end. Whether the profile is as it was is looked at last.
    assert held == [f"held       {Rule.CAPTURES.value}"]
    assert f"not tried  {Rule.INTERFACE.value} (not to its end)\n" in told
    assert f"not tried  {Rule.MEMORY.value}\n" in told
    assert f"BROKEN     {Rule.BYTES.value}" in told
    assert f"not tried  {Rule.ORDER.value} (not to its end)\n" in told


def test_no_rule_is_said_to_hold_since_another_profile_kept_it(
    tmp_path: Path, capfd: Captured
) -> None:
    good, bad = tmp_path / "good.toml", tmp_path / "hangs.toml"
    good.write_text("hangs = false\n")
    bad.write_text("hangs = true\n")
    code, told = told_of(
        capfd, "tests.kit.hanging_families:WITH_ONE", "--profile", str(good), "--profile", str(bad),
        "--bytes", "500", "--limit", "3",
    )  # fmt: skip
    assert code == 1
    assert "with good (no capture), hangs (no capture)" in told
    assert "did not come back within 3 s, in the stage 'junk' with profile hangs" in told
    assert "held  " not in told
    assert f"not tried  {Rule.MEMORY.value} (not to its end)\n" in told


def test_a_sound_driver_keeps_every_rule_with_its_captures(capfd: Captured) -> None:
    code, told = told_of(
        capfd, "keyed", "--profile", str(PROFILES / "keyed-gloss.toml"), "--bytes", "500",
        "--captures", str(FOLDER / "keyed-gloss" / "lapsed.toml"),
    )  # fmt: skip
    assert code == 0
    assert "keyed-gloss (1 capture)" in told
    assert told.count("held  ") == len(Rule)
    assert told.strip().splitlines()[-1] == "all rules were tried and held"


def test_rules_that_only_a_reading_can_show_broken_are_not_said_to_hold_without_one(
    capfd: Captured,
) -> None:
    profile = str(PROFILES / "keyed-gloss.toml")
    code, told = told_of(capfd, "keyed", "--profile", profile)
    assert code == 1, "what was not tried is not shown to hold"
    assert "BROKEN" not in told
    wants = "(no capture with a reading was given)"
    assert f"not tried  {Rule.UNITS.value} {wants}" in told
    assert f"not tried  {Rule.LOST.value} {wants}" in told
    assert f"not tried  {Rule.RATES.value} (no capture was given)" in told
    last, way = told.strip().splitlines()[-2:]
    assert last.startswith("coatbench: no rule was broken, but 4 rules were not tried, ")
    assert way.startswith("next: ")
    assert "acquire.driverapi.capture" in way
    assert "--captures FOLDER" in way


HASTY = "tests.kit.hasty_families"
PRESSED = [
    "--profile", str(PROFILES / "gloss-press.toml"),
    "--captures", str(FOLDER / "gloss-press"), "--bytes", "500",
]  # fmt: skip


def test_a_line_at_the_usual_speed_is_held_to_it(capfd: Captured) -> None:
    code, told = told_of(capfd, f"{HASTY}:AT_THE_USUAL_SPEED", *PRESSED)
    assert code == 1
    assert f"BROKEN     {Rule.RATES.value}" in told
    assert "bytes a second are sent on a line that is declared to carry 960" in told


def test_rates_that_no_speed_of_the_line_was_declared_for_are_not_said_to_hold(
    capfd: Captured,
) -> None:
    code, told = told_of(capfd, f"{HASTY}:WITHOUT_A_SPEED", *PRESSED)
    assert code == 1
    assert "BROKEN" not in told
    assert f"not tried  {Rule.RATES.value} (no speed of its line is declared)" in told
    last, way = told.strip().splitlines()[-2:]
    assert last.endswith("but 1 rule was not tried, so that this says nothing of it")
    assert way == "next: have needs give LinkNeeds(baud_rate=...) as the line is set"


def test_a_device_on_the_network_has_no_line_whose_speed_could_be_declared(
    capfd: Captured,
) -> None:
    code, told = told_of(capfd, f"{HASTY}:ON_THE_NETWORK", *PRESSED)
    assert code == 0
    assert f"held       {Rule.RATES.value}" in told


def test_a_driver_that_comes_along_is_held_against_the_captures_that_come_along(
    capfd: Captured,
) -> None:
    code, told = told_of(capfd, "keyed", "--bytes", "400")
    assert code == 0
    assert "keyed-gloss (4 captures)" in told
    assert "left  " not in told, "captures of other drivers are no matter of this one"
    assert "bare    keyed-bands, keyed-force, keyed-gloss-20: without a capture" in told
    assert told.strip().splitlines()[-1] == "all rules were tried and held"


def test_captures_beside_the_module_of_a_family_are_its_own(tmp_path: Path) -> None:
    package = tmp_path / "keyed_copy"
    package.mkdir()
    (package / "__init__.py").write_text(
        "from drivers.keyed.family import KeyedFamily\n"
        "class Copy(KeyedFamily):\n    name = 'keyed_copy'\n"
        "FAMILY = Copy()\n"
    )
    (package / "profiles").mkdir()
    copy(PROFILES / "keyed-gloss.toml", package / "profiles" / "mine.toml")
    (package / "captures" / "mine").mkdir(parents=True)
    copy(FOLDER / "keyed-gloss" / "words.toml", package / "captures" / "mine")
    sys.path.insert(0, str(tmp_path))
    try:
        report = examined("keyed_copy:FAMILY", shipped=FOLDER, spoilt_bytes=0)
    finally:
        sys.path.remove(str(tmp_path))
    assert report.profiles == {"mine": 1}
    assert report.is_kept


def test_files_that_are_none_are_told(capfd: Captured, tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("step = 1\nfact = 2\n")
    code, told = told_of(capfd, "keyed", "--profile", str(tmp_path / "gone.toml"), str(bad))
    assert code == 1
    assert "gone.toml" in told
    assert "bad.toml is no capture" in told
    assert "next: name a profile" in told


def test_captures_of_other_profiles_are_passed_over_unless_there_are_no_others(
    tmp_path: Path,
) -> None:
    for name in ("keyed-force", "keyed-gloss", "gloss-press"):
        copy(PROFILES / f"{name}.toml", tmp_path)
    own = FOLDER / "keyed-gloss" / "words.toml"
    strange = FOLDER / "hid-gloss" / "press.toml"
    report = examined("keyed", folders=[tmp_path], captures=[own, strange], spoilt_bytes=0)
    assert report.profiles == {"keyed-force": 0, "keyed-gloss": 1}
    assert report.passed_over == ("hid-gloss",)
    assert report.is_sound
    assert any("captures of hid-gloss" in line for line in report_lines("keyed", report, 1))
    alone = examined("keyed", folders=[tmp_path], captures=[strange], spoilt_bytes=0)
    assert alone.faults == (
        "captures of hid-gloss alone, where the profiles are keyed-force, keyed-gloss",
    )


def test_a_name_that_is_no_driver_is_told_with_those_that_are(capfd: Captured) -> None:
    code, told = told_of(capfd, "lime")
    assert code == 1
    assert "there is no such driver" in told
    assert "frame, hid, keyed, line, modbus, usbtmc" in told


def test_the_list_shows_every_driver_and_where_it_comes_from(capfd: Captured) -> None:
    assert run(["driver", "list"]) == 0
    rows = [line.split("\t") for line in capfd.readouterr().out.splitlines()]
    assert rows[0] == ["driver", "brought by", "reaches by", "state"]
    assert ["usbtmc", "package coatbench", "usb fe/03", "fits"] in rows


def test_many_findings_of_a_rule_are_told_as_a_number() -> None:
    findings = tuple(("p", Finding(Rule.BYTES, f"wrong {n}")) for n in range(9))
    lines = list(report_lines("d", Report({"p": 1}, frozenset(), findings, (), ""), 1))
    assert "           p: wrong 4" in lines
    assert "           and 4 more of this kind" in lines


def test_a_capture_that_is_not_there_and_faults_in_lines_are_told_in_plain_words(
    tmp_path: Path, capfd: Captured
) -> None:
    profile = tmp_path / "bare.toml"
    profile.write_text("kind = 3\n")
    missing = tmp_path / "none"
    _, told = told_of(capfd, "line", "--profile", str(profile), "--captures", str(missing))
    assert f"{missing} cannot be read: No such file or directory" in told
    assert "Error(" not in told
    assert "\\n" not in told
    assert "             kind: got 3, wanted" in told


def test_a_family_in_the_folder_of_the_person_is_found_from_there(
    tmp_path: Path, capfd: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "keelhere.py").write_text("FAMILY = 1\n")
    monkeypatch.chdir(tmp_path)
    _, told = told_of(capfd, "keelhere:FAMILY")
    assert "there is no module" not in told
    assert "it fits the interface" in told
