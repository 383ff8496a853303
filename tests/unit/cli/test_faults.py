"""A message stays one that can be read, whatever was typed."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.faults import LONGEST_TEXT, fault_lines, unwritable
from acquire.errors import Fault, NotFound, SettingsError


def test_ten_thousand_characters_leave_the_next_step_in_sight() -> None:
    typed = "x" * 9_990 + "y" * 10
    lines = fault_lines(
        NotFound(f"no trial '{typed}'", got=repr(typed), wanted="t-1", next_step="name this one")
    )
    assert lines[0].startswith("coatbench: no trial 'xxxx")
    assert "... (10,002 characters) ...xxxxxxxxxyyyyyyyyyy'" in lines[0]
    assert lines[-1] == "  next    name this one"
    assert sum(map(len, lines)) < 600


@pytest.mark.parametrize("text", ["as it was typed", "/home/ines/" + "folder/" * 30 + "bench.toml"])
def test_what_is_not_too_long_stands_as_it_is(text: str) -> None:
    assert f"  got     {text}" in fault_lines(NotFound("gone", got=text, next_step="look"))


def test_a_text_without_end_ends_and_so_do_faults_of_files() -> None:
    long = "ab " * 10_000
    error = SettingsError("x.toml", [Fault("p" * 9_000, long, long)], next_step="mend it")
    assert all(len(line) <= LONGEST_TEXT + 20 for line in fault_lines(error))
    assert fault_lines(error)[-1] == "  next    mend it"


def test_a_folder_that_is_gone_from_under_a_terminal_is_not_told_as_the_output() -> None:
    told = unwritable(FileNotFoundError(2, "No such file or directory"))
    assert told.what == "the folder that this terminal is in is gone"
    assert told.next_step.startswith("cd to it again")
    full = unwritable(OSError(28, "No space left on device"))
    assert full.what == "the output cannot be written"


NAME = "Ines the long-named " * 500


@pytest.mark.parametrize(
    "words",
    [
        ["alltime", NAME],  # a word too much
        ["photo", "t-1", NAME],  # a file that is not there
        ["run", NAME, "bare"],  # a path that no system takes
        ["results", NAME],
        ["climate", NAME],
    ],
)
def test_a_name_of_many_words_that_was_typed_is_cut_wherever_a_message_repeats_it(
    words: list[str], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    bench = tmp_path / "bench.toml"
    bench.write_text('[bench]\nstore = "bench.sqlite"\n')
    assert run(["--bench", str(bench), *words]) != 0
    out, err = capsys.readouterr()
    assert out == ""
    assert 0 < len(err) < 900
    assert NAME[:200] not in err
