"""Writing a file whole or not at all: nobody ever finds half a report or half an export.

Takes the place of a regular file or of nothing. A device, a pipe or a folder is refused, for a file
in its place would be the end of it, and so is a database with all that lies beside it (`outplace`);
a symbolic link stays, and the file it leads to is written.
"""

from __future__ import annotations

import contextlib
import itertools
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from acquire.report.files.outplace import replaced_mode, unwritable, words_of

_numbers = itertools.count(1)


@contextmanager
def whole_file(out: Path) -> Iterator[IO[str]]:
    """A text file (UTF-8, line ends as written) that takes the place of `out` when all is in it.

    It is on disk before it takes the place, and it has the permissions of the file whose place it
    takes. Raises `Misuse` if it cannot be written, before anything is.
    """
    try:
        mode = replaced_mode(out)
        place = Path(os.path.realpath(out))
        part = place.with_name(f".{os.getpid()}-{next(_numbers)}.part")
    except (OSError, ValueError) as e:
        raise unwritable(out, words_of(e)) from e
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
        raise unwritable(out, words_of(e)) from e
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
