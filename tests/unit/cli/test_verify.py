"""`coatbench verify`: what it shows, what it files, and when it says that all is right."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from acquire import __version__
from acquire.cli.entry import run
from acquire.errors import NotFound
from acquire.verify import apart
from acquire.verify.answering import answer_of
from acquire.verify.record import kind_of
from acquire.verify.shipped import case_files
from acquire.verify.task import Answer, Task
from acquire.verify.use import use_of
from tests.reference.shipped import CASES
from tests.unit.verify_cases import GOOD, text_of, written

Captured = pytest.CaptureFixture[str]

ASTRAY = text_of(id="two", expected={"mean": 2.5}, source="NIST, a table", status="VERIFIED")
UNKNOWN = text_of(id="three", calc="stats.oracle", status="MEMORY")
LIST = text_of(
    id="four", calc="stats.dunnett_critical", tolerance={"*": {"rel": 1e-3}},
    inputs={"k_treatments": [1, 2, 3], "rho": 0.5, "df": 9, "alpha": 0.05},
    expected={"two_sided": [2.262, 2.5, 2.9]},
)  # fmt: skip


def in_this_process(tasks: Sequence[Task]) -> list[Answer]:
    """As `apart.answers`, which takes a second for each process that it starts."""
    return [answer_of(task) for task in tasks]


@pytest.fixture
def here(monkeypatch: pytest.MonkeyPatch) -> None:
    """For what is said of answers, however they came; other tests have them from a process."""
    monkeypatch.setattr(apart, "answers", in_this_process)


def test_the_shipped_cases_are_all_right(capsys: Captured) -> None:
    assert run(["verify"]) == 0
    shown = capsys.readouterr().out
    for case in CASES:
        assert f"agrees  {case.area}: {case.id}, {case.quantity} ({case.calc})\n" in shown
        assert f"  source  {case.source}\n  status  {kind_of(case.status)}\n" in shown
        assert f"\n  used    {use_of(case.calc).words}\n" in shown
    assert shown.splitlines()[-1] == f"all right: all {len(CASES)} cases agree"
    whole = sum(use_of(case.calc).is_whole for case in CASES)
    assert f"of {len(CASES)} cases the calculation is used by results in {whole}, in part" in shown
    assert shown.count("\n  used    by results\n") == whole
    assert shown.count("\n  status  published") == sum(c.status == "VERIFIED" for c in CASES)


@pytest.mark.usefixtures("here")
def test_only_what_is_not_right_is_shown_with_failed(capsys: Captured) -> None:
    assert run(["verify", "--failed", "--area", "units"]) == 0
    shown = capsys.readouterr().out
    assert "agrees  " not in shown
    assert f"coatbench {__version__}" in shown
    assert "areas      units and no other" in shown
    assert "all right: all 16 cases agree" in shown


@pytest.mark.usefixtures("here")
def test_a_case_that_differs_shows_what_was_got_expected_and_how_near_it_should_be(
    tmp_path: Path, capsys: Captured
) -> None:
    path = written(tmp_path, f"[{text_of()}, {ASTRAY}, {UNKNOWN}, {LIST}, 17]")
    assert run(["verify", str(path)]) == 1
    shown = capsys.readouterr().out
    assert (
        "DIFFERS  stats: two, mean (stats.summary)\n"
        "  mean: got 2.0, expected 2.5 within 1e-12  <- differs\n"
        "  source  NIST, a table\n"
        "  status  published\n"
    ) in shown
    assert (
        "UNKNOWN  stats: three, mean (stats.oracle)\n"
        "  why     no calculation has this name\n"
        "  source  by hand\n"
        "  status  from memory\n"
    ) in shown
    # Results go by Dunnett's limit, and by a part of a summary.
    assert "\n  used    by results\n" in shown
    assert "of 3 cases the calculation is used by results in 1, in part in 2, and" in shown
    assert "    element 2: got 2.61" in shown  # the first is right, of these two each is told
    assert "    element 3: got 2.81" in shown
    assert "    element 1:" not in shown
    assert (
        f"FAULTY  unknown area: [4] of {path}\n  why     [4], line 1: got 17, wanted an object"
        in shown
    )
    assert "area\tcases\tagree\tdiffer\tunknown\tfaulty\tpublished\tfrom memory\tcomputed" in shown
    assert "stats\t4\t1\t2\t1\t0\t1\t1\t2" in shown
    assert "NOT RIGHT: 4 of 5 cases do not agree or were not run" in shown
    assert shown.splitlines()[-1] == (
        "next: rely on no figure of stats before you know whether program or case is wrong"
    )


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (["none.json"], "UNREADABLE  none.json"),
        (["empty.json"], "got     nothing"),
        (["hollow.json"], "got     no case"),
        (["--area", "surf"], "NOT RIGHT: no case of surf; there are bracketing, checks, control"),
        (["sound.json", "--area", "gloss"], "NOT RIGHT: no case of gloss; there are stats"),
        (["sound.json", "none.json"], "NOT RIGHT: none.json could not be read"),
    ],
)
@pytest.mark.usefixtures("here")
def test_nothing_to_verify_is_not_all_right(
    lines: list[str], words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("empty.json").touch()
    Path("hollow.json").write_text("[]")
    Path("sound.json").write_text(f"[{text_of()}]")
    assert run(["verify", *lines]) == 1
    shown = capsys.readouterr()
    assert words in shown.out
    assert "next: " in shown.out
    assert "all right" not in shown.out
    assert shown.err == ""


@pytest.mark.usefixtures("here")
def test_the_record_says_what_a_laboratory_files(tmp_path: Path, capsys: Captured) -> None:
    mine = written(tmp_path, f"[{text_of()}, {ASTRAY}]")
    for name in ("record.json", "record.txt"):
        assert run(["verify", str(mine), "--out", str(tmp_path / name)]) == 1
        assert f"written: {tmp_path / name}" in capsys.readouterr().out
    item = json.loads((tmp_path / "record.json").read_text(encoding="utf-8"))
    text = (tmp_path / "record.txt").read_text(encoding="utf-8")
    digest = hashlib.sha256(mine.read_bytes()).hexdigest()
    assert item["files"][0]["sha256"] == digest
    assert f"{mine}: 2 cases, sha256 {digest}" in text
    for part in (item["program"], item["program_sha256"], item["python"], item["platform"]):
        assert part in text
    assert item["program"] == f"coatbench {__version__}"
    assert item["python"].endswith(" " + ".".join(map(str, sys.version_info[:3])))
    assert {"numpy", "scipy", "pint", "uncertainties"} == set(item["libraries"])
    assert item["date"].endswith("Z")
    assert item["right"] is False
    assert item["files"][0]["cases"][1]["quantities"] == [
        {"key": "mean", "given": True, "got": 2.0, "expected": 2.5,
         "tolerance": {"abs": 1e-12, "rel": 0.0}, "agrees": False, "loose": False}
    ]  # fmt: skip
    assert [row["agree"] for row in item["summary"]] == [1, 1]
    assert text.startswith("Coatbench verification record\ndate       2")
    assert "DIFFERS  stats: two" in text
    # A record takes the place of one of its kind alone, and never that of a case file.
    assert run(["verify", str(mine), "--out", str(tmp_path / "record.txt")]) == 1
    before = mine.read_bytes()
    assert run(["verify", str(mine), "--out", str(mine)]) == 1
    assert "cannot be written" in capsys.readouterr().err
    assert mine.read_bytes() == before


def test_the_same_goes_through_a_pipe_as_json(tmp_path: Path, capsys: Captured) -> None:
    mine = written(tmp_path, f"[{text_of()}]")
    assert run(["verify", str(mine), "--json"]) == 0
    item = json.loads(capsys.readouterr().out)
    assert (item["right"], item["verification"]) == (True, "coatbench")


def test_a_record_without_the_cases_that_agree_is_refused(tmp_path: Path, capsys: Captured) -> None:
    out = tmp_path / "record.txt"
    assert run(["verify", "--failed", "--out", str(out)]) == 2
    assert "a record has every case" in capsys.readouterr().err
    assert not out.exists()


def test_no_sign_of_a_case_file_steers_a_terminal_or_spoils_a_record(
    tmp_path: Path, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    evil = "\x1b[2J\u202egone\ud800\n"
    rows = [
        {**GOOD, "id": f"a{evil}", "quantity": evil + "b", "source": evil, "status": "d" + evil},
        {**GOOD, "id": "e", "calc": f"f{evil}"},
        {**GOOD, "id": "g", "expected": {f"h{evil}": evil}},
        {**GOOD, "id": f"i{evil}", "source": 7},
    ]  # fmt: skip
    mine = written(tmp_path, json.dumps(rows))
    shown = ""
    for options in ([], ["--json"], ["--out", str(tmp_path / "r.txt")]):
        assert run(["verify", str(mine), *options]) == 1
        shown += capsys.readouterr().out
        monkeypatch.setattr(apart, "answers", in_this_process)  # once from a process is enough
    shown += (tmp_path / "r.txt").read_text(encoding="utf-8")
    assert "\x1b" not in shown
    assert "\u202e" not in shown
    assert "\\x1b[2J\\u202egone\\ud800\\n" in shown


@pytest.mark.usefixtures("here")
def test_texts_and_lists_without_end_are_shown_by_their_beginning(
    tmp_path: Path, capsys: Captured
) -> None:
    mine = written(
        tmp_path, f"[{text_of(expected={'k' * 9000: 'w' * 9000, 'mean': [0.5] * 50_000})}]"
    )
    assert run(["verify", str(mine)]) == 1
    shown = capsys.readouterr().out
    assert max(map(len, shown.splitlines())) < 700
    assert "... 50000 in all]" in shown


def test_asking_for_help_or_for_a_record_imports_no_scipy_here(tmp_path: Path) -> None:
    mine = written(tmp_path, f"[{text_of()}]")
    program = (
        "import sys\nfrom acquire.cli.entry import run\n"
        f"assert run(['verify', '--help']) == 0\nassert 'pydantic' not in sys.modules\n"
        f"assert run(['verify', {str(mine)!r}]) == 0\n"
        "print([m for m in ('scipy', 'matplotlib', 'sqlite_utils') if m in sys.modules])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines()[-1] == "[]"


def test_where_there_are_no_shipped_cases_it_is_said(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="check values that come with Coatbench are missing"):
        case_files(tmp_path / "acquire")
