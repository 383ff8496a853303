"""Writing a file whole or not at all: nobody ever finds half a report or half an export.

Takes the place of a regular file or of nothing. A device, a pipe or a folder is refused, for a file
in its place would be the end of it; a symbolic link stays, and the file it leads to is written.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from acquire.errors import Misuse

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)
_numbers = itertools.count(1)


@contextmanager
def whole_file(out: Path) -> Iterator[IO[str]]:
    """A text file (UTF-8, line ends as written) that takes the place of `out` when all is in it.

    It is on disk before it takes the place, and it has the permissions of the file whose place it
    takes. Raises `Misuse` if it cannot be written, before anything is.
    """
    try:
        mode = _mode(out)
        place = Path(os.path.realpath(out))
        part = place.with_name(f".{os.getpid()}-{next(_numbers)}.part")
    except (OSError, ValueError) as e:
        raise _unwritable(out, _words(e)) from e
    try:
        part.unlink(missing_ok=True)
        with open(part, "x", encoding="utf-8", newline="") as file:
            if mode is not None:
                part.chmod(mode)
            yield file
            file.flush()
            os.fsync(file.fileno())
        part.replace(place)
    except OSError as e:
        raise _unwritable(out, _words(e)) from e
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def _mode(out: Path) -> int | None:
    """The permissions of a regular file; None where nothing is. Raises ValueError for the rest."""
    try:
        mode = out.stat().st_mode
    except FileNotFoundError:
        return None
    if stat.S_ISREG(mode):
        return stat.S_IMODE(mode)
    raise ValueError(next((words for is_one, words in _KINDS if is_one(mode)), "no regular file"))


def _words(error: OSError | ValueError) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)


def _unwritable(out: Path, got: str) -> Misuse:
    return Misuse(
        f"{out} cannot be written",
        got=got,
        wanted="a file, or a new path in a folder you may write to, on a disk with room",
        next_step="name another path with --out",
    )
