"""What goes to a process that looks at a stranger's driver, and comes back from it."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any


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
