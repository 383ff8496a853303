"""The file of a certificate, such as a PDF: found, measured and hashed; read when it is to be kept.

Reads the one file it is given; keeps nothing. Any thread.
"""

from __future__ import annotations

import os
import stat
from hashlib import sha256
from pathlib import Path

from acquire.errors import Fault, SettingsError
from acquire.model import CertificateFile
from acquire.schema.tomlfile import without_waiting
from acquire.schema.words import show

LARGEST_BYTES = 20_000_000
"""It is kept in the store, and with every copy of it."""

LARGEST_WORDS = "a file of at most 20 MB"


def look_at(beside: Path, name: str) -> CertificateFile:
    """The file of a name that is relative to the folder `beside`.

    Raises ValueError with what was found instead of a file that can be kept.
    """
    try:
        path = beside / Path(name).expanduser()
    except RuntimeError as trouble:  # a home that is not known
        raise ValueError(show(str(trouble))) from None
    data = _bytes(path)
    return CertificateFile(name, path, len(data), sha256(data).hexdigest())


def bytes_of(file: CertificateFile) -> bytes:
    """The bytes that were looked at. Raises `SettingsError` where they are others by now."""
    try:
        data = _bytes(file.path)
    except ValueError as fault:
        raise _changed(file, str(fault)) from fault
    if sha256(data).hexdigest() != file.sha256:
        raise _changed(file, "other bytes than a moment before")
    return data


def _bytes(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise IsADirectoryError
        if path.exists() and not path.is_file():
            raise ValueError("no regular file")
        with open(path, "rb", opener=without_waiting) as opened:
            # Another one may have come in its place meanwhile; a pipe might never answer.
            if not stat.S_ISREG(os.fstat(opened.fileno()).st_mode):
                raise ValueError("no regular file")
            data = opened.read(LARGEST_BYTES + 1)
    except (FileNotFoundError, NotADirectoryError):
        raise ValueError("no such file") from None
    except IsADirectoryError:
        raise ValueError("a folder") from None
    except PermissionError:
        raise ValueError("a file you may not read") from None
    except OSError as trouble:
        raise ValueError(show(str(trouble))) from None
    if len(data) > LARGEST_BYTES:
        raise ValueError(f"a file of more than {LARGEST_BYTES:,} bytes")
    if not data:
        raise ValueError("an empty file")
    return data


def _changed(file: CertificateFile, got: str) -> SettingsError:
    fault = Fault(file.name, got, "the file as it was when the bench file was read")
    return SettingsError(str(file.path), [fault], next_step="start coatbench serve again")
