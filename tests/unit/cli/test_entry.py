"""The command line: instant help, exit statuses, errors told once in four parts."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import click
import pytest

from acquire.cli.entry import SECTIONS, coatbench, run
from acquire.cli.faults import code_of, fault_lines
from acquire.errors import (
    CoatbenchError,
    ControlError,
    Fault,
    NotFound,
    Refused,
    SettingsError,
    StoreInUse,
)

COMMANDS = [name for section in SECTIONS.values() for name in section]
Captured = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def _elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder without a bench, and no bench in the environment."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COATBENCH_BENCH", raising=False)


def test_help_imports_nothing_heavy() -> None:
    heavy = (
        "rich",
        "pydantic",
        "sqlite_utils",
        "pint",
        "numpy",
        "scipy",
        "serial",
        "acquire.model",
    )
    program = (
        "import sys\nfrom acquire.cli import main\nsys.argv = ['coatbench', '--help']\n"
        "try:\n    main()\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
        f"print('HEAVY', [m for m in {heavy!r} if m in sys.modules])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines()[-1] == "HEAVY []"


def test_help_lists_every_command_with_its_line_and_the_exit_statuses(capsys: Captured) -> None:
    assert run(["--help"]) == 0
    shown = capsys.readouterr().out
    for section in SECTIONS.values():
        for name, entry in section.items():
            assert name in shown
            assert entry.line in shown
    for status in (
        "0 done",
        "1 not allowed, or a fault in what was given",
        "2 the command line itself was wrong",
        "3 trouble with the daemon, a device or the store",
    ):
        assert status in shown


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_says_what_it_does_gives_an_example_and_what_comes_next(
    name: str, capsys: Captured
) -> None:
    assert run([name, "--help"]) == 0
    shown = capsys.readouterr().out
    assert (
        f"Example:  coatbench {name}" in shown
        or f"coatbench check shore && coatbench {name}" in shown
    )
    if name != "trial":
        assert "Next:     " in shown
    assert max(map(len, shown.splitlines())) <= 100


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_called_what_the_table_calls_it(name: str) -> None:
    with click.Context(coatbench) as ctx:
        command = coatbench.get_command(ctx, name)
    assert command is not None
    assert command.name == name


@pytest.mark.parametrize(
    "line",
    [
        ["nonsense"],
        ["status", "--nonsense"],
        ["void", "--reason", "dust"],
        ["void", "3", "--last", "--reason", "dust"],
        ["void", "3"],
        ["void", "three", "--reason", "dust"],
        ["run"],
        ["run", "trial.toml"],
        ["run", "trial.toml", "--with", "shore"],
        ["run", "--resume", "--finish"],
        ["run", "trial.toml", "bare", "--with", "shore", "--resume"],
        ["export"],
        ["export", "--all", "--loose"],
        ["export", "--checks", "--loose"],
        ["serve", "bench.toml", "--bench", "bench.toml"],
    ],
)
def test_a_wrong_command_line_is_status_2_and_says_why(line: list[str], capsys: Captured) -> None:
    assert run(line) == 2
    told = capsys.readouterr()
    assert "Usage: coatbench" in told.err
    assert told.out == ""


@pytest.mark.parametrize(
    "line",
    [["status"], ["watch"], ["check", "shore"], ["close"], ["stop"], ["run", "--finish"],
     ["take", "deck"], ["note", "sun"], ["void", "--last", "--reason", "dust"], ["serve"],
     ["export", "--all"], ["report", "gelcoat"], ["run", "t.toml", "bare", "--with", "shore"]],
)  # fmt: skip
def test_without_a_bench_file_every_command_says_how_to_name_one(
    line: list[str], capsys: Captured
) -> None:
    assert run(line) == 1
    told = capsys.readouterr()
    assert told.err.startswith("coatbench: no bench file is here\n")
    assert "next    name one with --bench FILE" in told.err
    assert told.out == ""


def test_a_bench_that_was_named_and_is_not_there_is_named_in_the_fault(capsys: Captured) -> None:
    for line in (["--bench", "b.toml", "status"], ["status", "--bench", "b.toml"]):
        assert run(line) == 1
        assert "b.toml" in capsys.readouterr().err


def test_the_bench_comes_from_the_environment_and_the_command_goes_before_it(
    capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COATBENCH_BENCH", "environment.toml")
    run(["status"])
    assert "environment.toml" in capsys.readouterr().err
    run(["--bench", "group.toml", "status"])
    assert "group.toml" in capsys.readouterr().err
    run(["--bench", "group.toml", "status", "--bench", "command.toml"])
    assert "command.toml" in capsys.readouterr().err


def test_a_mistyped_command_is_told_with_what_is_near(capsys: Captured) -> None:
    assert run(["stat"]) == 2
    assert "there is no command 'stat'; is it status" in capsys.readouterr().err
    assert run(["xyzzy"]) == 2
    assert "there is no command 'xyzzy'\n" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (Refused("no", reason="gate"), 1),
        (NotFound("no"), 1),
        (SettingsError("bench.toml", []), 1),
        (ControlError("no"), 3),
        (StoreInUse("no"), 3),
    ],
)
def test_misuse_is_status_1_and_misfortune_is_3(error: CoatbenchError, status: int) -> None:
    assert code_of(error) == status


def test_an_error_is_told_in_its_four_parts_and_only_those_it_has() -> None:
    error = Refused(
        "shore cannot start a run", reason="x", got="94.6 GU", wanted="1.0 GU", next_step="clean it"
    )
    assert fault_lines(error) == [
        "coatbench: shore cannot start a run",
        "  got     94.6 GU",
        "  wanted  1.0 GU",
        "  next    clean it",
    ]
    assert fault_lines(NotFound("nothing there")) == ["coatbench: nothing there"]


def test_every_fault_of_a_file_is_told_with_path_got_and_wanted() -> None:
    error = SettingsError("t.toml", [Fault("zone[2].id", "'A1'", "an id of its own")] * 2)
    lines = fault_lines(error)
    assert lines[0] == "coatbench: t.toml has 2 faults"
    assert lines[1:4] == ["  zone[2].id", "    got     'A1'", "    wanted  an id of its own"]
    assert lines[-1] == "  next    mend t.toml and try again"


def test_the_console_script_gives_its_status_to_the_shell(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from acquire.cli import main; main()", "status"],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        env={"PATH": "", "PYTHONPATH": str(Path(__file__).parents[3])},
        check=False,
    )
    assert done.returncode == 1
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(("said", "threads"), [({}, "1"), ({"OPENBLAS_NUM_THREADS": "2"}, "2")])
def test_a_command_starts_no_thread_for_matrices_and_leaves_no_garbage_to_look_for(
    said: dict[str, str], threads: str
) -> None:
    # Threads that wait for a matrix took a fifth of the processor of `results`, and what Python
    # looks for as it ends an eighth.
    program = (
        "import gc, os, sys\nfrom acquire.cli import main\nsys.argv = ['coatbench', '--help']\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print('LEFT', os.environ['OPENBLAS_NUM_THREADS'], gc.get_freeze_count() > 1000)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        env={"PATH": "", "PYTHONPATH": str(Path(__file__).parents[3]), **said},
        check=True,
    )
    assert done.stdout.splitlines()[-1] == f"LEFT {threads} True"


def test_a_reader_that_has_heard_enough_is_no_traceback(tmp_path: Path) -> None:
    trial = Path(__file__).parents[3] / "config" / "boatyard" / "trial.toml"
    program = (
        "import os, sys\nfrom acquire.cli import main\n"
        "read, write = os.pipe()\nos.close(read)\nos.dup2(write, 1)\n"
        f"sys.argv = ['coatbench', 'trial', 'check', {str(trial)!r}]\nmain()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert done.stderr == ""
    assert done.returncode == 1
