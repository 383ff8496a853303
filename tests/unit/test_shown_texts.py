"""Texts of devices and people on their way to eyes: none of them rules the terminal or the page."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.faults import fault_lines
from acquire.cli.spoken import Shown, say
from acquire.errors import NotFound, Refused
from acquire.model import NoticeKind, Quantity, Reading
from acquire.report import write_report
from acquire.visible import visible
from tests.yard import Yard

BOATYARD = Path(__file__).parents[2] / "config" / "boatyard"
EVIL = "a\x1b[2J\x9b31m\u202eb\x00\r\nPROVED: all is well\x07é"
SHOWN = "a\\x1b[2J\\x9b31m\\u202eb\\x00\\r\\nPROVED: all is well\\x07é"
Captured = pytest.CaptureFixture[str]


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    """Readings 5 and 6 are void and loose, with evil in what the meter sent and a person wrote."""
    text = (BOATYARD / "bench.toml").read_text(encoding="utf-8")
    (tmp_path / "bench.toml").write_text(text.replace("boatyard.sqlite", "bench.sqlite"))
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    send(yard)
    yard.act(lambda at: yard.acts.readings.void(5, EVIL, at))
    yard.act(lambda at: yard.acts.note(EVIL, "gelcoat", "bare", at))
    yard.tell("shore", NoticeKind.IDENTITY, EVIL)
    send(yard)
    yield yard
    yard.close()


def send(yard: Yard) -> None:
    """The meter sends a value with what should not be in it."""
    at, raw = yard.clock.now(), b"20 80.1\x1b[2J\r\n"
    yard.take_in(
        "shore",
        Reading(Quantity.GLOSS, "20", Decimal("80.1"), "gloss_unit", EVIL, at, raw, 0, len(raw)),
    )


def line(yard: Yard, *words: str) -> list[str]:
    return ["--bench", str(yard.bench.store.with_name("bench.toml")), *words]


@pytest.mark.parametrize("number", ["5", "6"])
def test_the_proof_of_a_reading_shows_signs_to_be_seen(
    yard: Yard, number: str, capsys: Captured
) -> None:
    run(line(yard, "proof", number))
    told = capsys.readouterr().out
    assert visible(told, "\n") == told
    assert SHOWN in told
    assert not [text for text in told.splitlines() if text.startswith("PROVED")]


def test_an_export_to_a_terminal_shows_signs_to_be_seen(yard: Yard) -> None:
    ours, theirs = os.openpty()
    try:
        done = subprocess.run(
            [sys.executable, "-m", "acquire.cli", *line(yard, "export", "--loose")],
            stdout=theirs,
            stderr=subprocess.PIPE,
            check=False,
        )
        told = os.read(ours, 1_000_000).decode()
    finally:
        os.close(ours)
        os.close(theirs)
    assert done.returncode == 0, done.stderr
    assert SHOWN.replace("\\n", "\r\n") in told
    # The terminal itself puts a carriage return before each line feed.
    assert visible(told, "\r\n") == told


@pytest.mark.parametrize("form", ["csv", "jsonl"])
def test_an_export_to_a_file_or_a_pipe_keeps_every_sign(
    yard: Yard, tmp_path: Path, form: str
) -> None:
    out = tmp_path / f"out.{form}"
    assert run(line(yard, "export", "--all", "--out", str(out))) == 0
    # A terminal's own code page is no concern of a pipe.
    done = subprocess.run(
        [sys.executable, "-m", "acquire.cli", *line(yard, "export", "--all", "--format", form)],
        capture_output=True,
        check=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )
    assert done.stdout == out.read_bytes()
    text = done.stdout.decode()
    if form == "csv":
        found: list[dict[str, object]] = list(csv.DictReader(io.StringIO(text, newline="")))
    else:
        found = [json.loads(one) for one in text.splitlines()]
        assert visible(text, "\n") == text
    assert len(found) == 6
    assert {str(row["sent_text"]) for row in found[4:]} == {EVIL}
    assert found[4]["void_reason"] == EVIL
    assert found[5]["serial"] == EVIL


def test_the_page_shows_signs_to_be_seen(yard: Yard, tmp_path: Path) -> None:
    page = write_report(yard.bench.store, "gelcoat", tmp_path / "p.html").read_bytes().decode()
    assert visible(page, "\t\r\n") == page
    assert page.count("a\\x1b[2J\\x9b31m\\u202eb\\x00") >= 3


def test_what_is_said_is_said_in_signs_to_be_seen(capsys: Captured) -> None:
    say([EVIL, "plain"])
    assert capsys.readouterr().out == f"{SHOWN}\nplain\n"
    say(fault_lines(Refused(EVIL, reason="x", got="a\nb\x1b")), err=True)
    assert capsys.readouterr().err.splitlines() == [
        f"coatbench: {SHOWN}",
        "  got     a",
        "          b\\x1b",
    ]


def test_what_is_shown_on_a_terminal_keeps_its_lines() -> None:
    file = io.StringIO()
    shown = Shown(file)
    shown.write("a\x1b\nb\u202e\n")
    shown.flush()
    assert file.getvalue() == "a\\x1b\nb\\u202e\n"


@pytest.mark.parametrize(
    ("words", "status"),
    [(["\x1b[31m"], 2), (["proof", "\x1b[31m"], 1), (["take", "--\x1b[31m"], 2)],
)
def test_a_wrong_line_is_repeated_in_signs_to_be_seen(
    words: list[str], status: int, capsys: Captured
) -> None:
    assert run(words) == status
    told = capsys.readouterr().err
    assert "x1b[31m" in told
    assert visible(told, "\n") == told


def test_a_trial_whose_name_is_no_text_is_not_there(yard: Yard, capsys: Captured) -> None:
    for words in (["report", "\udcff"], ["export", "\udcff"], ["export", EVIL], ["report", EVIL]):
        assert run(line(yard, *words)) == 1
        told = capsys.readouterr().err
        assert "gelcoat" in told
        assert visible(told, "\n") == told
    with pytest.raises(NotFound):
        write_report(yard.bench.store, "\udcff", Path("never.html"))


@pytest.mark.parametrize("number", [2**63 - 1, 2**63, 10**30])
def test_a_number_that_no_reading_can_have_is_not_there(
    yard: Yard, number: int, capsys: Captured
) -> None:
    assert run(line(yard, "proof", str(number))) == 1
    assert f"there is no reading {number}" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("stream", "words"),
    [
        ("stdout", ["export", "--all"]),
        ("stdout", ["export", "--columns"]),
        ("stdout", ["proof", "5"]),
        ("stdout", ["--help"]),
        ("stdout", ["proof"]),
        ("stderr", ["proof"]),
    ],
)
def test_an_output_without_room_is_a_message_and_a_status(
    yard: Yard, words: list[str], stream: str
) -> None:
    with Path("/dev/full").open("w") as full:
        streams = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, stream: full}
        done = subprocess.run(
            [sys.executable, "-m", "acquire.cli", *line(yard, *words)],
            **streams,  # type: ignore[call-overload]
            text=True,
            check=False,
        )
    if words != ["proof"]:
        assert done.returncode == 3
        assert done.stderr.startswith("coatbench: the output cannot be written\n")
        assert "next" in done.stderr
        assert "Traceback" not in done.stderr
        assert "Exception" not in done.stderr
    else:
        assert done.returncode == (2 if stream == "stdout" else 3)


def test_a_process_without_output_still_ends_well(yard: Yard) -> None:
    program = (
        "import os, sys\nos.close(1)\nsys.stdout = None\nfrom acquire.cli import main\n"
        "sys.argv[0] = 'coatbench'\nmain()\n"
    )

    def end(*words: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-c", program, *line(yard, *words)]
        return subprocess.run(command, stderr=subprocess.PIPE, text=True, check=False)

    assert end("export", "--columns").returncode == 0
    nowhere = end("export", "--all")
    assert nowhere.returncode == 1
    assert nowhere.stderr.startswith("coatbench: there is nowhere to write to\n")
