"""Writing a folder whole or not at all: nobody ever finds half a package or half of the figures.

Takes the place of nothing, of an empty folder, or of one that holds only files of an earlier one of
its kind; whatever else stands there is worth more than what can be written anew at any time.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from acquire.report.files.outplace import unwritable, words_of

_numbers = itertools.count(1)


def require_folder(out: Path, own: re.Pattern[str], what: str, store: Path) -> None:
    """Raises `Misuse` where `whole_folder` would, so that nothing is made for nothing."""
    try:
        _earlier(Path(os.path.realpath(out)), own, what, out, store)
    except (OSError, ValueError) as e:
        raise unwritable(out, words_of(e), f"a new path, or {what} to take the place of") from e


@contextmanager
def whole_folder(out: Path, own: re.Pattern[str], what: str, store: Path) -> Iterator[Path]:
    """An empty folder that takes the place of `out` when all is in it.

    `own` matches the paths, with slashes and relative to it, of files that an earlier one may have;
    `what` says what it is (``a folder of figures``). The `store` never lies in what is replaced.
    Raises `Misuse` if it cannot be written, before anything is.
    """
    try:
        place = Path(os.path.realpath(out))
        earlier = _earlier(place, own, what, out, store)
        part = place.with_name(f".{os.getpid()}-{next(_numbers)}.part")
        part.mkdir()
    except (OSError, ValueError) as e:
        raise unwritable(out, words_of(e), f"a new path, or {what} to take the place of") from e
    try:
        yield part
        if earlier is not None:
            aside = part.with_suffix(".old")
            place.rename(aside)
            part.rename(place)
            _remove(aside)
        else:
            part.rename(place)
    except OSError as e:
        raise unwritable(out, words_of(e)) from e
    finally:
        with contextlib.suppress(OSError):
            _remove(part)


def _earlier(
    place: Path, own: re.Pattern[str], what: str, out: Path, store: Path
) -> list[Path] | None:
    """The files of the folder that is replaced; None where there is none."""
    wanted = f"a new path, an empty folder, or {what} to take the place of"
    if not place.exists():
        return None
    if not place.is_dir():
        raise unwritable(out, "something that is no folder", wanted)
    if Path(os.path.realpath(store)).is_relative_to(place):
        raise unwritable(out, f"a folder in which the store lies, {store}", wanted)
    found = sorted(place.rglob("*"))
    for path in found:
        name = path.relative_to(place).as_posix()
        if path.is_symlink() or not (path.is_dir() or (path.is_file() and own.fullmatch(name))):
            raise unwritable(
                out,
                f"{name[:80]} is in it, which is of another kind",
                wanted,
                "name another folder with --out, or move away what is in this one",
            )
    return found


def _remove(folder: Path) -> None:
    """Remove a folder of files and folders; follows no link."""
    for path in sorted(folder.rglob("*"), reverse=True):
        if path.is_dir() and not path.is_symlink():
            path.rmdir()
        else:
            path.unlink()
    folder.rmdir()
