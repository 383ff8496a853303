"""Tapes kept in files, so that they can be played elsewhere and damage is noticed.

A file is JSON lines (ASCII). The first says whose tape it is and how much is on it, each other one
what passed then, what was made of it, or what is missing; the last says that it is the last. A text
stands for bytes, character by character (the character 255 is the byte 255):

    {"tape": 2, "opened": [utc_ns, mono_ns], "where": "/dev/ttyUSB0", "whose": {...},
     "before": 0, "holds": {"received": 14, ...}, "crc": "0c5a0c31"}
    {"sent": "I?\\r\\n", "at": [utc_ns, mono_ns], "offset": 0, "crc": "..."}
    {"received": "I,SH-0417*51\\r\\n", "at": [utc_ns, mono_ns], "offset": 0, "crc": "..."}
    {"made": "notice", "bytes": [0, 12], "at": utc_ns, "number": 1, "says": {...}, "crc": "..."}
    {"missing": 12, "between": [utc_ns, utc_ns], "crc": "..."}
    {"end": 6, "ended": {"at": [utc_ns, mono_ns], "message": "...", "cut": false}, "crc": "..."}

The head of a tape that is nobody's may say its `line`, such as "9600 8N1".

`crc` is the CRC-32 (ISO/IEC 8802-3; over ``123456789`` it is cbf43926) of the line without it,
begun with that of the line before: a line that was changed, lost, doubled or moved does not fit.
What ends a line is not in it. Bytes are escaped, so that a carriage return is none of a tape: LF
that became CR LF, as editors and mail do, or a mark of UTF-8 before the head takes nothing away.
It guards against accidents and proves nothing against a forger; the store is the evidence.
Writes nothing but the file it is told to. One thread.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import stat
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple, TypeVar
from zlib import crc32

from acquire.errors import Fault, Misfortune, SettingsError
from acquire.link.kept import Kept
from acquire.link.tape import RECEIVED, SENT, Ended, Made, Missing, Passed, Tape, entries
from acquire.link.tape_line import (
    HOLDS,
    ended_of,
    head_of,
    made_of,
    pair,
    passed_of,
    told_briefly,
    whole,
)
from acquire.schema.tomlfile import without_waiting

T = TypeVar("T")
VERSION = 2
LONGEST_LINE = 2**26
"""Bytes; a chunk, a spectrum or a stretch of samples is far shorter."""
_CRC = re.compile(rb', "crc": "([0-9a-f]{8})"}\r?\n')
_CRC_BYTES = len(b', "crc": "cbf43926"}\r\n')
_MARK = b"\xef\xbb\xbf"
"""Of UTF-8, which some editors put before a text (RFC 3629, 6)."""


class Damage(NamedTuple):
    """Where a tape file stops to make sense, and what is missing behind that, in words."""

    line: int
    byte: int
    why: str
    missing: str

    def __str__(self) -> str:
        return (
            f"damaged at line {self.line} (byte {self.byte} of the file): {self.why}; "
            f"missing: {self.missing}"
        )


class Played(NamedTuple):
    """What could be read of a tape file. `damage` None: all of it."""

    tape: Tape
    damage: Damage | None


def write_tape(path: Path, tape: Tape) -> None:
    """Keep a tape as a file, in place of the one that was there, once it is whole and on disk.

    Raises `OSError`; what was there then stays.
    """
    place = Path(os.path.realpath(path))
    part = place.with_name(f".{place.name}.{os.getpid()}.part")
    try:
        with part.open("wb") as file:
            crc = 0
            for item in _items(tape):
                body = json.dumps(item).encode("ascii")
                crc = crc32(body, crc)
                file.write(b'%s, "crc": "%08x"}\n' % (body[:-1], crc))
            file.flush()
            os.fsync(file.fileno())
        with contextlib.suppress(FileNotFoundError):
            part.chmod(stat.S_IMODE(place.stat().st_mode))
        part.replace(place)
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def read_tape(path: Path) -> Tape:
    """The whole tape of a file. Raises `SettingsError` for one that is none or is damaged."""
    tape, damage = read_up_to_damage(path)
    if damage is not None:
        fault = Fault(f"line {damage.line}", damage.why, f"a whole tape; missing: {damage.missing}")
        raise SettingsError(
            str(path), [fault], next_step="copy or cut it anew from the store it is of"
        )
    return tape


def read_up_to_damage(path: Path) -> Played:
    """The tape of a file up to its first damage.

    Raises `SettingsError` where its head is damaged or of another version, and `Misfortune` where
    the file cannot be read.
    """
    try:
        with open(path, "rb", opener=without_waiting) as file:
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                # A pipe or a device might never end.
                raise OSError("no regular file")
            return _read(path, file)
    except OSError as error:
        raise Misfortune(
            f"{path} cannot be read as a tape",
            got=error.strerror or str(error),
            wanted="a file that coatbench tape cut has written",
            next_step="name the right file, or the number of a tape: coatbench tape list",
        ) from None


# -- writing ---------------------------------------------------------------------------------------


def _items(tape: Tape) -> Iterator[dict[str, Any]]:
    yield {
        "tape": VERSION,
        "opened": list(tape.opened),
        "where": tape.where,
        "whose": None if tape.whose is None else tape.whose._asdict(),
        "before": tape.received_before,
        **({"line": tape.line} if tape.line else {}),
        "holds": _counts(tape),
    }
    lines = 1
    for entry in entries(tape):
        lines += 1
        if isinstance(entry, Passed):
            text = entry.data.decode("latin-1")
            yield {entry.direction: text, "at": list(entry.at), "offset": entry.offset}
        elif isinstance(entry, Made):
            place: dict[str, Any] = {"bytes": [entry.start, entry.end], "at": entry.at_utc_ns}
            place["number"] = entry.number
            yield {"made": entry.what, **place, "says": dict(entry.says)}
        else:
            between = [entry.since_utc_ns, entry.until_utc_ns]
            yield {"missing": entry.lost_bytes, "between": between}
    ended = tape.ended
    words = (
        None
        if ended is None
        else {"at": list(ended.at), "message": ended.message, "cut": ended.is_cut}
    )
    yield {"end": lines + 1, "ended": words}


def _counts(tape: Tape) -> dict[str, int]:
    return {
        RECEIVED: tape.bytes_of(RECEIVED),
        SENT: tape.bytes_of(SENT),
        "made": len(tape.made),
    }


# -- reading ---------------------------------------------------------------------------------------


class _Lines:
    """The lines of a file that fit to one another, one by one; `why` says what ended them."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._crc = 0
        self.number = 0
        self.byte = 0
        self.line = b""
        self.why = ""

    def next(self) -> dict[str, Any] | None:
        """The next one as an object; None where there is none that fits."""
        self.byte += len(self.line)
        self.number += 1
        self.line = line = self._file.readline(LONGEST_LINE)
        text = line.removeprefix(_MARK) if self.number == 1 else line
        check = _CRC.search(text, max(0, len(text) - _CRC_BYTES))
        body = text[: check.start()] + b"}" if check is not None else b""
        if not line:
            self.why = "the file ends here"
        elif not line.endswith(b"\n") and b'"}\r' in line[:-1]:
            self.why = "its line ends were changed to CR alone: change them back to LF"
        elif not line.endswith(b"\n"):
            self.why = "the line is cut off" if len(line) < LONGEST_LINE else "the line never ends"
        elif check is None:
            self.why = "the line has no check sum"
        elif int(check[1], 16) != (crc := crc32(body, self._crc)):
            self.why = "the line does not fit its check sum, or a line is missing before it"
        else:
            self._crc = crc
            entry = _object(body)
            if entry is not None:
                return entry
            self.why = "the line is no JSON object"
        return None


def _object(text: bytes) -> dict[str, Any] | None:
    try:
        entry = json.loads(text)
    except (ValueError, RecursionError):
        return None
    return entry if isinstance(entry, dict) else None


def _read(path: Path, file: BinaryIO) -> Played:
    lines = _Lines(file)
    head = lines.next()
    if head is None or head.get("tape") != VERSION:
        raise _no_head(path, lines, head)
    try:
        tape, holds = head_of(head)
    except (ValueError, KeyError, TypeError) as error:
        raise _no_tape(path, f"a head that says {told_briefly(error)}") from None
    missing: list[Missing] = []
    so_far = {RECEIVED: tape.received_before, SENT: 0}
    found = dict.fromkeys((*HOLDS, "passed"), 0)
    last = tape.opened
    ended: Ended | None = None
    while True:
        line = lines.number + 1
        entry = lines.next()
        if entry is None:
            break
        try:
            if "made" in entry:
                made_of(entry)
                found["made"] += 1
            elif "missing" in entry:
                missing.append(Missing(*pair(entry["between"]), whole(entry["missing"])))
            elif "end" in entry:
                ended = ended_of(entry, lines.number)
                if file.read(1):
                    lines.next()
                    lines.why = "something follows behind the end"
                    break
                return Played(_kept(path, tape, found, line, missing, ended), None)
            else:
                one = passed_of(entry)
                if one.offset < so_far[one.direction]:
                    raise ValueError("bytes that passed before")
                so_far[one.direction] = whole(one.offset + len(one.data))
                found[one.direction] += len(one.data)
                found["passed"] += 1
                last = one.at
        except (ValueError, KeyError, TypeError) as error:
            lines.why = f"the line says what no tape says: {told_briefly(error)}"
            break
    part = _kept(path, tape, found, line, missing, ended)
    lacking = _lacking(found, holds, last.seconds_since(tape.opened))
    return Played(part, Damage(lines.number, lines.byte, lines.why, lacking))


def _kept(
    path: Path,
    head: Tape,
    found: dict[str, int],
    until: int,
    missing: list[Missing],
    ended: Ended | None,
) -> Tape:
    """A tape that is read from its file as it is gone through, up to a line, that one left out."""
    passed = Kept(lambda: _again(path, until, _passed_of), found["passed"])
    made = Kept(lambda: _again(path, until, _made_of), found["made"])
    return head._replace(passed=passed, made=made, missing=tuple(missing), ended=ended)


def _again(path: Path, until: int, wanted: Callable[[bytes], T | None]) -> Iterator[T]:
    """What is wanted of the lines of a file that was looked through before."""
    try:
        with path.open("rb") as file:
            for line in islice(file, 1, until - 1):
                if (found := wanted(line)) is not None:
                    yield found
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise Misfortune(
            f"{path} is not what it was a moment ago",
            got=told_briefly(error),
            wanted="a tape that nobody writes meanwhile",
            next_step="copy or cut it anew",
        ) from None


def _passed_of(line: bytes) -> Passed | None:
    if line.startswith(b'{"made"'):
        return None
    entry = json.loads(line)
    return None if "made" in entry or "missing" in entry else passed_of(entry)


def _made_of(line: bytes) -> Made | None:
    if b'"made"' not in line:
        return None
    entry = json.loads(line)
    return made_of(entry) if "made" in entry else None


def _lacking(found: dict[str, int], holds: dict[str, int], after_s: float) -> str:
    """What was on the tape and could not be read."""
    left = {name: max(0, holds[name] - found[name]) for name in HOLDS}
    if not any(left.values()):
        return "nothing of what passed; only the end"
    return (
        f"{left[RECEIVED]:,} of {holds[RECEIVED]:,} received bytes, {left[SENT]:,} of "
        f"{holds[SENT]:,} sent ones and {left['made']:,} of {holds['made']:,} facts, from "
        f"{after_s:.3f} s after the opening on"
    )


def _no_head(path: Path, lines: _Lines, head: dict[str, Any] | None) -> SettingsError:
    first = head or _object(lines.line)
    if first is not None and type(first.get("tape")) is int and first["tape"] != VERSION:
        return _of_version(path, first["tape"])
    why = lines.why or "a line that is no head"
    return _no_tape(path, f"{why}: {lines.line[:40]!r}")


def _no_tape(path: Path, got: str) -> SettingsError:
    return SettingsError(
        str(path),
        [Fault("line 1", got, "the head of a tape, whole: nothing can be read without it")],
        next_step="name a file that coatbench tape cut has written, or cut it anew",
    )


def _of_version(path: Path, version: int) -> SettingsError:
    return SettingsError(
        str(path),
        [Fault("line 1", f"a tape of version {version}", f"version {VERSION}")],
        next_step="cut it anew from its store, or read it with the Coatbench that wrote it",
    )
