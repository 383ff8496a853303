"""What goes to a process that may hang or end (a stranger's driver), and comes back from it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

BEGINS_WITHIN_S = 60.0
"""Until the first thing is noted nothing of a stranger has run: imports on a busy computer."""


def environment() -> Mapping[str, str]:
    """In which a process can import what this one can."""
    return {**os.environ, "PYTHONPATH": os.pathsep.join(p or "." for p in sys.path)}


def noted(book: Path) -> Iterator[Any]:
    """What it has noted, a JSON value a line, up to where it was ended."""
    for line in book.read_text("utf-8", "replace").splitlines():
        try:
            yield json.loads(line)
        except ValueError:
            return  # in the middle of a line


def hangs(process: subprocess.Popen[bytes], task: bytes, book: Path, limit_s: float) -> bool:
    """Give it its task, and wait until it has ended: False; or noted nothing for too long: True."""
    told, waited_s = 0, 0.0
    sent: bytes | None = task
    while True:
        try:
            process.communicate(sent, timeout=limit_s)
        except subprocess.TimeoutExpired:
            sent = None  # it goes on with what it was given
            waited_s += limit_s
            size = book.stat().st_size
            if size == told and (told or waited_s >= BEGINS_WITHIN_S):
                return True
            told = size
        else:
            return False
