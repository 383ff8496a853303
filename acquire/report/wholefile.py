"""Writing a file whole or not at all: nobody ever finds half a report or half an export."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from acquire.errors import Misuse


@contextmanager
def whole_file(out: Path) -> Iterator[IO[str]]:
    """A text file (UTF-8, line ends as written) that takes the place of `out` when all is in it.

    It is on disk before it takes the place. Raises `Misuse` if it cannot be written.
    """
    part = out.with_name(f".{out.name}.{os.getpid()}.part")
    try:
        with part.open("w", encoding="utf-8", newline="") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        part.replace(out)
    except OSError as e:
        raise Misuse(
            f"{out} cannot be written",
            got=e.strerror or str(e),
            wanted="a path in a folder you may write to, on a disk with room",
            next_step="name another path with --out",
        ) from e
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
