"""Whether recorded photos are still the files that they were: there, changed, moved, or gone.

Looks at files and reads the store; changes neither. Any thread.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from enum import Enum
from pathlib import Path
from typing import NamedTuple

from acquire.store.work_rows import PhotoRow
from acquire.visible import visible

MOST_LOOKED_AT = 100_000
"""Files of a folder that are held against what is missing."""


class State(Enum):
    """What became of a photo."""

    SAME = "as it was recorded"
    MOVED = "moved"
    CHANGED = "CHANGED since it was recorded"
    GONE = "GONE from where it was"


class Photo(NamedTuple):
    """A recorded photo, what became of it, and the file that has it now; None where none has."""

    row: PhotoRow
    state: State
    file: Path | None

    @property
    def words(self) -> str:
        """A line about it, with what is to be done."""
        row = self.row
        of = " ".join(filter(None, (row.zone, row.stage)))
        name = f"photo {row.id}{f' of {of}' if of else ''}, {visible(row.path)}"
        if self.state is State.MOVED:
            return f"{name}: {self.state.value} to {visible(str(self.file))}, the same picture"
        if self.state is State.CHANGED:
            return (
                f"{name}: {self.state.value}: its SHA-256 is another one than "
                f"{row.sha256[:16]}.... Next: put the picture back as it was"
            )
        if self.state is State.GONE:
            return (
                f"{name}: {self.state.value}. Next: coatbench photo {row.trial} --check "
                "--in FOLDER, if it was moved"
            )
        if self.file is not None and self.file != Path(row.path):
            return f"{name}: {self.state.value}, now {visible(str(self.file))}"
        return f"{name}: {self.state.value}"


def look_at(rows: Sequence[PhotoRow], folders: Sequence[Path] = ()) -> list[Photo]:
    """What became of these photos. Those that are not in place are looked for in `folders`.

    One that was recorded at several places is told once, and is as it was recorded if it lies at
    one of them.
    """
    every = [_in_place(row) for row in rows]
    there = {one.row.sha256: one.file for one in every if one.state is State.SAME}
    found = [
        Photo(one.row, State.SAME, one.file or there[one.row.sha256])
        if one.row.sha256 in there
        else one
        for one in {one.row.picture: one for one in every}.values()
    ]
    lost = {one.row.sha256: one.row.size_bytes for one in found if one.state is not State.SAME}
    elsewhere = _found_in(folders, lost) if lost and folders else {}
    return [
        Photo(one.row, State.MOVED, elsewhere[one.row.sha256])
        if one.state is not State.SAME and one.row.sha256 in elsewhere
        else one
        for one in found
    ]


def _in_place(row: PhotoRow) -> Photo:
    path = Path(row.path)
    try:
        if not path.is_file():
            return Photo(row, State.GONE, None)
        same = path.stat().st_size == row.size_bytes and digest_of(path) == row.sha256
    except (OSError, ValueError):
        return Photo(row, State.GONE, None)
    return Photo(row, State.SAME, path) if same else Photo(row, State.CHANGED, None)


def _found_in(folders: Sequence[Path], lost: dict[str, int]) -> dict[str, Path]:
    sizes = set(lost.values())
    found: dict[str, Path] = {}
    for path in _files(folders):
        try:
            if path.stat().st_size in sizes and (sha256 := digest_of(path)) in lost:
                found.setdefault(sha256, path)
        except OSError:
            continue
    return found


def _files(folders: Sequence[Path]) -> Iterator[Path]:
    left = MOST_LOOKED_AT
    for folder in folders:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                yield path
                left -= 1
            if left <= 0:
                return


def digest_of(path: Path) -> str:
    """The SHA-256 of a file. Raises OSError."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
