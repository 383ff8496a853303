"""The place where a file goes that a person names: what may stand there and be replaced.

A readings file takes the place of an earlier one of its kind or of nothing. A store, what lies
beside it, a settings file and whatever else stands there is worth more than what can be written
anew at any time. Never writes; opens no file that is known to be the store, for SQLite's locks on a
file end when the same process closes it (SQLite, "How To Corrupt", 2.2). Any thread.
"""

from __future__ import annotations

import os
import re
import stat
import unicodedata
from pathlib import Path
from typing import NamedTuple

from acquire.errors import Misuse

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)
# SQLite, "Database File Format", 1.3.
_DATABASE = b"SQLite format 3\0"
# What SQLite and the daemon keep beside a store, under its name and one of these.
_TAILS = ("-wal", "-shm", "-journal", ".lock", ".door", ".door.new")
_HEAD_BYTES = 256
_SETTINGS = ".toml"


class Form(NamedTuple):
    """A kind of file: its name, and how every file of the kind begins."""

    name: str
    begins: re.Pattern[bytes]


# A spreadsheet or an editor may have saved it since: with a byte order mark, other separators.
_MARK = rb"(?:\xef\xbb\xbf)?\s*"
FORMS = {
    "csv": Form("a CSV export", re.compile(_MARK + rb'"?reading_id"?[,;\t]')),
    "jsonl": Form("a JSON lines export", re.compile(_MARK + rb'\{\s*"reading_id"')),
    "results-csv": Form("a CSV file of results", re.compile(_MARK + rb'"?result"?[,;\t]')),
    "results-jsonl": Form("a JSON lines file of results", re.compile(_MARK + rb'\{\s*"result"')),
    "html": Form("an HTML page", re.compile(_MARK + rb"<!doctype html", re.IGNORECASE)),
    "md": Form("a report as Markdown", re.compile(_MARK + rb"\[//\]: # \(Coatbench: report")),
    "zip": Form("a data package", re.compile(rb"PK\x03\x04.{26}results\.csv", re.DOTALL)),
    "vtt": Form("a WebVTT file", re.compile(_MARK + rb"WEBVTT")),
    "srt": Form("a SubRip file", re.compile(_MARK + rb"1\r?\n\d\d:\d\d:\d\d,\d{3} -->")),
    "chapters": Form("a list of chapters", re.compile(_MARK + rb"00:00 ")),
    "tape": Form("a tape file", re.compile(rb'\{"tape":')),
    "record-text": Form("a record of verification", re.compile(_MARK + rb"Coatbench verif")),
    "record-json": Form("a JSON record of verification", re.compile(_MARK + rb'\{\s*"verif')),
}


def require_place(out: Path, form: str, store: Path | None = None) -> None:
    """Raises `Misuse` where a file of this form (a key of `FORMS`) may not go to `out`.

    `store` is the store of the bench, where one is known: neither it nor anything whose name begins
    with its name is replaced, by whatever name or link it is reached.
    """
    wanted = f"a new path, or {FORMS[form].name} to take the place of"
    try:
        if store is not None and (got := _of_store(out, store)) is not None:
            raise unwritable(out, got, wanted)
        if any(one.suffix.lower() == _SETTINGS for one in _names(out)):
            raise unwritable(out, "the name of a settings file (.toml)", wanted)
        mode = replaced_mode(out)
        head = b"" if mode is None else _head(out)
    except (OSError, ValueError) as e:
        raise unwritable(out, words_of(e), wanted) from e
    # Nothing is lost with a file that is empty.
    if head and not FORMS[form].begins.match(head):
        found = next((own.name for own in FORMS.values() if own.begins.match(head)), None)
        raise unwritable(
            out,
            found or "a file of another kind is there",
            wanted,
            "name another file with --out, or remove this one if you have no use for it",
        )


def replaced_mode(out: Path) -> int | None:
    """The permissions of the file that may be replaced at `out`; None where nothing is.

    Raises ValueError for what is no regular file, for a database and what lies beside one, and
    OSError where that cannot be found out.
    """
    place = Path(os.path.realpath(out))
    for tail in _TAILS:
        of = place.name.removesuffix(tail)
        if of and of != place.name and _is_database(place.with_name(of)):
            raise ValueError(f"what belongs to the database {of}")
    try:
        mode = out.stat().st_mode
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(mode):
        raise ValueError(
            next((words for is_one, words in _KINDS if is_one(mode)), "no regular file")
        )
    if _is_database(place):
        raise ValueError("an SQLite database, such as a store is")
    return stat.S_IMODE(mode)


def unwritable(
    out: Path,
    got: str,
    wanted: str = "a file, or a new path in a folder you may write to, on a disk with room",
    next_step: str = "name another path with --out",
) -> Misuse:
    """The one message for a place that no file may take."""
    return Misuse(f"{out} cannot be written", got=got, wanted=wanted, next_step=next_step)


def words_of(error: OSError | ValueError) -> str:
    """What an error says, without its number and path."""
    return (error.strerror if isinstance(error, OSError) else None) or str(error)


def _of_store(out: Path, store: Path) -> str | None:
    """What `out` is of the store; None if nothing."""
    if out.exists() and store.exists() and out.samefile(store):
        return f"the store of the bench, {store}: every reading is in it"
    for own in _names(store):
        for one in _names(out):
            # Also where the system takes Ab for ab, and both ways to write an umlaut for one.
            begins = _folded(one.name).startswith(_folded(own.name))
            if begins and one.parent.is_dir() and one.parent.samefile(own.parent):
                return f"a name that begins with that of the store of the bench, {store}"
    return None


def _names(path: Path) -> tuple[Path, Path]:
    """A path as it is named, and where its links lead."""
    return path.absolute(), Path(os.path.realpath(path))


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", name.casefold())


def _is_database(path: Path) -> bool:
    return path.is_file() and _head(path).startswith(_DATABASE)


def _head(path: Path) -> bytes:
    with path.open("rb") as file:
        return file.read(_HEAD_BYTES)
