"""A package of unknown origin, opened: its files by name and size, read with a bound on each.

A folder or a zip file. Nothing is unpacked and nothing followed: a path that leads outside, a link,
a device, a name that is there twice and sizes beyond any package are refused before a byte is read.
One thread.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import stat
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Protocol

from acquire.errors import Misuse, NotFound
from acquire.report.package.limits import MOST_BYTES, MOST_FILES

_NAME = re.compile(r"[^\x00-\x1f\x7f\\:*?\"<>|]{1,200}")
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
NEXT = "ask for the package anew, or for its files as they were written"


class Source(Protocol):
    """Files by their path in the package, with slashes."""

    sizes: dict[str, int]

    def open(self, path: str) -> contextlib.AbstractContextManager[IO[bytes]]:
        """The bytes of a file, no more than its size. Raises `Misuse` where they are damaged."""


@contextmanager
def opened(package: Path) -> Iterator[Source]:
    """The package at a path. Raises `NotFound` and `Misuse`."""
    try:
        if package.is_dir():
            yield _Folder(package)
            return
        if not package.is_file():
            raise NotFound(
                f"there is no package at {package}",
                wanted="a folder or a zip file that coatbench package has written",
                next_step="name the right path",
            )
        with zipfile.ZipFile(package) as file:
            yield _Zip(package, file)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, EOFError) as e:
        raise unfit(f"{package} is no zip file that can be read", str(e) or "broken off") from e
    except OSError as e:
        raise unfit(f"{package} cannot be read", e.strerror or str(e)) from e


def unfit(what: str, got: str, wanted: str = "a package as coatbench package writes it") -> Misuse:
    """The one message for what is no package."""
    return Misuse(what, got=got, wanted=wanted, next_step=NEXT)


def safe_path(path: str) -> str:
    """A path within a package. Raises `Misuse` for one that leads elsewhere."""
    parts = path.split("/")
    is_safe = _NAME.fullmatch(path) and all(p not in ("", ".", "..") for p in parts)
    if not is_safe or len(parts) > 4:
        raise unfit("the package names a file outside of itself", repr(path)[:120], "a plain path")
    return path


def _bounded(sizes: dict[str, int]) -> dict[str, int]:
    total = sum(sizes.values())
    if len(sizes) > MOST_FILES or total > MOST_BYTES:
        raise unfit(
            "the package is too large to be read",
            f"{len(sizes):,} files with {total:,} bytes",
            f"at most {MOST_FILES:,} files and {MOST_BYTES:,} bytes",
        )
    return sizes


class _Folder:
    def __init__(self, folder: Path) -> None:
        self._folder = folder
        sizes: dict[str, int] = {}
        for here, folders, files in os.walk(folder, followlinks=False):
            for name in (*folders, *files):
                path = Path(here) / name
                relative = path.relative_to(folder).as_posix()
                mode = path.lstat().st_mode
                if stat.S_ISDIR(mode):
                    continue
                if not stat.S_ISREG(mode):
                    raise unfit(f"{relative[:120]} is no file", "a link or a device", "files alone")
                sizes[safe_path(relative)] = path.lstat().st_size
                if len(sizes) > MOST_FILES:
                    _bounded(sizes)
        self.sizes = _bounded(sizes)

    @contextmanager
    def open(self, path: str) -> Iterator[IO[bytes]]:
        # What was a file may be a link by now, so it is opened as none.
        flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
        with os.fdopen(os.open(self._folder / path, flags), "rb") as file:
            yield file


class _Zip:
    def __init__(self, package: Path, file: zipfile.ZipFile) -> None:
        self._package = package
        self._file = file
        sizes: dict[str, int] = {}
        for member in file.infolist():
            if member.is_dir():
                safe_path(member.filename.rstrip("/"))
                continue
            path = safe_path(member.filename)
            mode = member.external_attr >> 16
            if stat.S_IFMT(mode) not in (0, stat.S_IFREG):
                raise unfit(f"{path} is no file", "a link or a device", "files alone")
            if path in sizes:
                raise unfit(f"{path} is in the package twice", "two files of one name")
            if member.flag_bits & 1 or member.compress_type not in _METHODS:
                raise unfit(f"{path} cannot be read", "a member that is locked or packed otherwise")
            sizes[path] = member.file_size
        self.sizes = _bounded(sizes)

    @contextmanager
    def open(self, path: str) -> Iterator[IO[bytes]]:
        try:
            # The library reads no more than the size that the list has, and checks the sum.
            with self._file.open(path) as file:
                yield file
        except (zlib.error, zipfile.BadZipFile, EOFError, ValueError, RuntimeError) as e:
            if isinstance(e, UnicodeError):
                raise
            raise unfit(f"{path} of {self._package} is damaged", str(e)[:120]) from e


def read_whole(source: Source, path: str, most_bytes: int) -> bytes:
    """A small file. Raises `Misuse` where it is not there or not small."""
    if path not in source.sizes:
        raise unfit(f"there is no {path} in it", "a folder or zip without it")
    if source.sizes[path] > most_bytes:
        got = f"{source.sizes[path]:,} bytes"
        raise unfit(f"{path} is too large", got, f"at most {most_bytes:,}")
    with source.open(path) as file:
        return file.read(most_bytes + 1)


def lines_of(file: IO[bytes], most: int) -> Iterator[str]:
    """A text (UTF-8) line by line. Raises ValueError for a longer line, or other bytes."""
    with io.TextIOWrapper(file, "utf-8", newline="") as text:
        while line := text.readline(most):
            if len(line) == most:
                raise ValueError(f"a line of {most:,} signs or more")
            yield line
