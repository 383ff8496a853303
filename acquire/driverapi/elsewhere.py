"""What goes to a process that may hang or end (a stranger's driver), and comes back from it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

BEGINS_WITHIN_S = 60.0
"""Until the first thing is noted nothing of a stranger has run: imports on a busy computer."""
LOOKS = 50
"""So often within the time limit it is looked at whether something was noted."""


def environment(*more: str) -> Mapping[str, str]:
    """In which a process can import what this one can, and what lies in `more` folders.

    Whatever folder it runs in.
    """
    return {**os.environ, "PYTHONPATH": os.pathsep.join(map(os.path.abspath, [*sys.path, *more]))}


def homeless(folder: Path, *more: str) -> Mapping[str, str]:
    """The same for a process that is to find and leave nothing, but in this folder."""
    own = dict.fromkeys(("HOME", "TMPDIR", "TEMP", "TMP"), str(folder))
    return {**environment(*more), **own}


@contextmanager
def asked(task: bytes) -> Iterator[IO[bytes]]:
    """A task, to be the standard input of a process: a file, so that nobody waits for a pipe."""
    with tempfile.TemporaryFile() as file:
        file.write(task)
        file.seek(0)
        yield file


def noted(book: Path) -> Iterator[Any]:
    """What it has noted, a JSON value a line, up to where it was ended."""
    for line in book.read_text("utf-8", "replace").splitlines():
        try:
            yield json.loads(line)
        except ValueError:
            return  # in the middle of a line


def hangs(
    process: subprocess.Popen[bytes],
    book: Path,
    limit_s: float,
    silent: Callable[[float], None] | None = None,
) -> bool:
    """Wait until it has ended: False; or noted nothing for too long: True.

    `silent` is told at each look for how many seconds nothing was noted, once something was.
    """
    told, silent_s = 0, 0.0
    while True:
        try:
            process.wait(limit_s / LOOKS)
        except subprocess.TimeoutExpired:
            size = book.stat().st_size
            silent_s = silent_s + limit_s / LOOKS if size == told else 0.0
            told = size
            if silent_s >= (limit_s if told else max(limit_s, BEGINS_WITHIN_S)):
                return True
            if told and silent is not None:
                silent(silent_s)
        else:
            return False
