"""Another program that reads on a port."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.patience import PATIENCE_S


@contextmanager
def reader_of(port: Path) -> Iterator[subprocess.Popen[str]]:
    """A program that has a port open and takes no lock."""
    holds = (
        "import os, sys; os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY); "
        "print('open', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", holds, str(port)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "open\n"
        yield other
        other.communicate(timeout=PATIENCE_S)
