"""Calculations asked in a process of its own, with a time limit, whatever the inputs do to them.

A count of a thousand million or a list without end in a case file would take the memory and the
time of a bench that is recording. A task that does not come back, or ends the process, is said to
have done so, and the next one is asked in a fresh process. The thread that asks waits.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from acquire.driverapi.elsewhere import asked, environment, hangs, noted
from acquire.errors import Misfortune
from acquire.verify.task import Answer, Task

LIMIT_S = 20.0
"""The slowest shipped case takes a small part of a second."""


def answers(tasks: Sequence[Task], limit_s: float = LIMIT_S) -> list[Answer]:
    """An answer to each task, in order. A task has `limit_s`, and at most twice that.

    Raises `Misfortune` where no calculation can be asked at all.
    """
    found: list[Answer] = []
    while len(found) < len(tasks):
        answered, why = _stretch(tasks[len(found) :], limit_s)
        found += answered
        if len(found) < len(tasks):
            found.append(Answer(why=why))
    return found


def _stretch(tasks: Sequence[Task], limit_s: float) -> tuple[list[Answer], str]:
    """The answers up to the task that gave none, and why not."""
    task = json.dumps([(task.calc, task.inputs) for task in tasks]).encode()
    with tempfile.TemporaryDirectory(prefix="coatbench-") as folder:
        book = Path(folder) / "answers.jsonl"
        book.touch()
        with (Path(folder) / "trouble.txt").open("w+b") as trouble, asked(task) as given_task:
            process = subprocess.Popen(  # noqa: S603 - our own program
                [sys.executable, "-m", "acquire.verify.answering", str(book)],
                stdin=given_task,
                stdout=subprocess.DEVNULL,
                stderr=trouble,
                # Threads of the linear algebra reserve memory, of which there is a bound.
                env={**environment(), "OPENBLAS_NUM_THREADS": "1"},
            )
            try:
                has_hung = hangs(process, book, limit_s)
            finally:
                process.kill()
                process.wait()
            notes = list(noted(book))
            if not notes:
                trouble.seek(0)
                raise _no_start(trouble.read().decode("utf-8", "replace"), process.returncode)
    given = [Answer(**{**note, "unread": tuple(note["unread"])}) for note in notes[1:]]
    if has_hung:
        return given, f"no answer came within {limit_s:g} s"
    return given, f"it ended its process with status {process.returncode}"


def _no_start(words: str, status: int | None) -> Misfortune:
    last = words.strip().splitlines()[-1:] or [f"status {status}"]
    return Misfortune(
        "the calculations could not be asked",
        got=last[0],
        wanted="an installation of coatbench that is whole",
        next_step="install coatbench again",
    )
