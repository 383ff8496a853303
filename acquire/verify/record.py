"""What a laboratory files: what was verified, by which program, on what, when. Any thread."""

from __future__ import annotations

import hashlib
import platform
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

from acquire import __version__
from acquire.model import iso_utc
from acquire.verify.verifying import Verified, VerifiedFile

_LIBRARIES = ("numpy", "scipy", "uncertainties", "pint")
_PACKAGES = ("acquire", "drivers")


@dataclass(frozen=True, slots=True)
class Record:
    """The files with their verdicts, and everything that the figures may hang on.

    `program_sha256` is the digest of the program's own files: where it is the same, so is the
    program. `areas` are those that were asked for, empty for all.
    """

    date: str
    program: str
    program_sha256: str
    python: str
    platform: str
    libraries: dict[str, str]
    areas: tuple[str, ...]
    files: tuple[VerifiedFile, ...]

    @property
    def entries(self) -> Iterator[Verified]:
        for file in self.files:
            yield from file.entries

    @property
    def areas_missing(self) -> list[str]:
        """Areas that were asked for and of which there is no case."""
        there = {one.entry.area for one in self.entries}
        return [area for area in self.areas if area not in there]

    @property
    def left_out(self) -> int:
        return sum(file.left_out for file in self.files)

    @property
    def is_right(self) -> bool:
        """Whether something was verified, and all that was asked for agrees."""
        return (
            any(file.entries for file in self.files)
            and all(file.is_right for file in self.files)
            and not self.areas_missing
        )

    @property
    def by_area(self) -> dict[str, list[Verified]]:
        """The entries of each area, areas in the order of the alphabet."""
        found: dict[str, list[Verified]] = {}
        for one in sorted(self.entries, key=lambda one: one.entry.area):
            found.setdefault(one.entry.area, []).append(one)
        return found


def record_of(files: Sequence[VerifiedFile], areas: Sequence[str], now_ns: int) -> Record:
    """The record of what was verified at `now_ns` (UTC) by this program."""
    return Record(
        date=iso_utc(now_ns),
        program=f"coatbench {__version__}",
        program_sha256=program_digest(),
        python=f"{platform.python_implementation()} {platform.python_version()}",
        platform=platform.platform(),
        libraries={name: _version(name) for name in _LIBRARIES},
        areas=tuple(dict.fromkeys(areas)),
        files=tuple(files),
    )


def program_digest(package: Path = Path(__file__).parents[1]) -> str:
    """SHA-256 over the Python and data files of the program, by name, without what Python caches.

    The folders that only a wheel has (those that begin with a line) are left out, so that a
    checkout and the wheel built from it have the same.
    """
    digest = hashlib.sha256()
    for name in _PACKAGES:
        home = package.parent / name
        for path in sorted(home.rglob("*"), key=lambda path: path.as_posix()):
            inside = path.relative_to(package.parent)
            is_left_out = any(part.startswith("_") and part != path.name for part in inside.parts)
            if is_left_out or path.suffix == ".pyc" or not path.is_file():
                continue
            data = path.read_bytes()
            digest.update(f"{inside.as_posix()} {len(data)}\n".encode())
            digest.update(data)
    return digest.hexdigest()


def kind_of(status: str) -> str:
    """Where an expected value comes from, in words; a status of somebody's own stays as it is."""
    word, _, rest = status.partition(" ")
    known = _KINDS.get(word.upper())
    if known is None:
        return status
    return f"{known} {rest}" if rest else known


_KINDS = {
    "VERIFIED": "published",
    "PUBLISHED": "published",
    "MEMORY": "from memory",
    "COMPUTED": "computed",
    "DERIVED": "computed",
}
KINDS = tuple(dict.fromkeys(_KINDS.values()))


def kinds_in(entries: Sequence[Verified]) -> Counter[str]:
    """How many of the cases there are of each kind; `other` for statuses of somebody's own."""
    found: Counter[str] = Counter()
    for one in entries:
        if one.entry.case is not None:
            kind = _KINDS.get(one.entry.case.status.split(" ", 1)[0].upper(), "other")
            found[kind] += 1
    return found


def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return "not installed"
