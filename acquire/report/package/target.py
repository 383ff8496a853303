"""Where a package is written to: a folder or a zip file, whole or not at all.

Each file's size and SHA-256 are known when it is closed. A zip has no date but 1980-01-01, so the
same rows give the same bytes. One thread.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Protocol

from acquire.report.package.descriptor import Written

_EPOCH = (1980, 1, 1, 0, 0, 0)
_MODE = 0o644 << 16


class Target(Protocol):
    """Takes files by their path in the package."""

    def put(self, path: str, content: bytes) -> Written: ...

    @contextmanager
    def text(self, path: str, written: list[Written]) -> Iterator[IO[str]]: ...


class _Measured(io.RawIOBase):
    """Passes bytes on, counting and digesting them."""

    def __init__(self, to: IO[bytes]) -> None:
        self._to = to
        self.size_bytes = 0
        self.digest = hashlib.sha256()

    def writable(self) -> bool:
        return True

    def write(self, data: object, /) -> int:
        content = bytes(data)  # type: ignore[call-overload]
        self._to.write(content)
        self.size_bytes += len(content)
        self.digest.update(content)
        return len(content)


class _Files:
    """What folder and zip have in common."""

    def _open(self, path: str) -> IO[bytes]:
        raise NotImplementedError

    def put(self, path: str, content: bytes) -> Written:
        with self._open(path) as file:
            file.write(content)
        return Written(path, len(content), hashlib.sha256(content).hexdigest())

    @contextmanager
    def text(self, path: str, written: list[Written]) -> Iterator[IO[str]]:
        """A text file (UTF-8); when it is whole, what it came to is added to `written`."""
        with self._open(path) as raw:
            measured = _Measured(raw)
            buffered = io.BufferedWriter(measured, 1 << 20)
            with io.TextIOWrapper(buffered, "utf-8", newline="") as file:
                yield file
                file.flush()
            written.append(Written(path, measured.size_bytes, measured.digest.hexdigest()))


class FolderTarget(_Files):
    """Files below a folder that is there."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def _open(self, path: str) -> IO[bytes]:
        place = self._folder / path
        place.parent.mkdir(parents=True, exist_ok=True)
        return place.open("xb")


class ZipTarget(_Files):
    """Members of a zip file."""

    def __init__(self, file: IO[bytes]) -> None:
        self._zip = zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED)

    def _open(self, path: str) -> IO[bytes]:
        member = zipfile.ZipInfo(path, _EPOCH)
        member.compress_type = zipfile.ZIP_DEFLATED
        member.external_attr = _MODE
        member.create_system = 3
        return self._zip.open(member, "w", force_zip64=True)

    def close(self) -> None:
        """Write the list of members; the file itself stays open."""
        self._zip.close()


@contextmanager
def whole_zip(place: Path, part: Path) -> Iterator[ZipTarget]:
    """A zip that takes its place when all is in it."""
    with part.open("xb") as file:
        target = ZipTarget(file)
        try:
            yield target
        except BaseException:
            # Not later, when its file is closed: it would complain to nobody.
            with contextlib.suppress(ValueError, OSError):
                target.close()
            raise
        target.close()
        file.flush()
        os.fsync(file.fileno())
    part.replace(place)
