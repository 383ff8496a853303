"""Lines for a person: wrapped between words under their label, tables and pipes left alone."""

from __future__ import annotations

import pytest

from acquire.cli.spoken import say, wrapped


def test_a_long_line_goes_on_below_the_end_of_its_label() -> None:
    assert wrapped("  next    clean the piece and the meter, then coatbench check shore", 40) == [
        "  next    clean the piece and the meter,",
        "          then coatbench check shore",
    ]
    assert wrapped("next: coatbench check shore (the closing check)", 30) == [
        "next: coatbench check shore",
        "      (the closing check)",
    ]
    assert wrapped("coatbench: shore cannot start a run today", 32) == [
        "coatbench: shore cannot start a",
        "           run today",
    ]


def test_words_paths_and_options_are_never_cut() -> None:
    path = "/home/yard/" + "long-folder-name/" * 4 + "bench.toml"
    lines = wrapped(f"  got     no file {path} with --bench", 40)
    assert any(path in line for line in lines)
    assert lines[-1].endswith("--bench")


def test_what_fits_a_table_and_a_pipe_are_left_as_they_are() -> None:
    row = "T1     20°   93.20       93.2      +0.00         0.31    1.0  inside"
    assert wrapped(row, 40) == [row]
    assert wrapped("short", 40) == ["short"]
    assert wrapped("word " * 40, None) == ["word " * 40]


def test_what_goes_to_a_pipe_keeps_one_line_for_each(capsys: pytest.CaptureFixture[str]) -> None:
    say(["word " * 60])
    say(["fault " * 60], err=True)
    shown = capsys.readouterr()
    assert (shown.out.count("\n"), shown.err.count("\n")) == (1, 1)
