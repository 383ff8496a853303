"""Reading a TOML file a person wrote: every way in which that fails, in words.

Numbers with a point come as Decimal, with the digits of the file. A text of more than 1 MB, or one
that goes too deep (`depth`), never reaches the parser. Never writes. Any thread.
"""

from __future__ import annotations

import os
import re
import stat
import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

from acquire.errors import Fault, SettingsError
from acquire.schema.depth import too_deep
from acquire.schema.words import show

LARGEST_BYTES = 1_000_000
_IRREGULAR = (
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)
_AT = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")

# How the standard library's parser begins its reasons, and what a person is told instead.
_WANTED = (
    ("Invalid value", 'a value: "text" in quotes, a number, true or false, a date, a [list]'),
    ("Expected '='", "key = value"),
    ("Expected newline", "one key = value on a line and nothing after it"),
    ("Cannot declare", "each [table] once"),
    ("Cannot overwrite", "each key once in a table"),
    ("Cannot mutate", "each table written in one place"),
    ("Duplicate", "each key once in a table"),
    ("Unescaped", "\\\\ for a backslash, or the text in 'single quotes'"),
    ("Illegal character", "text closed by its quote on the same line, without control characters"),
    ("Unterminated", "a closing quote"),
    ("Unclosed array", "a comma or a closing ]"),
    ("Unclosed inline", "a comma or a closing }"),
    ("Invalid statement", "key = value, a [table] or a # comment"),
    ("Invalid initial character", "a key of letters, digits, - or _, or one in quotes"),
    ("Invalid date", "a date there is, such as 2030-05-31"),
    ("Expected ']", "a closing ]"),
)
_TO_THE_END = "the rest of what was begun: a value, a quote, a ] or a }"


def load_toml(path: Path) -> dict[str, Any]:
    """The table of a TOML file. Raises `SettingsError` if it cannot be read or is no TOML."""
    return parse_toml(load_text(path), str(path))


def load_text(path: Path) -> str:
    """The text of a file exactly as it stands (line ends and byte order mark kept).

    Raises `SettingsError` for a missing file, a folder, a pipe or a device (which is not opened: it
    might never answer, or do something), a file that may not be read, one that is larger than 1 MB
    and one that is not UTF-8.
    """
    source = str(path)
    try:
        _refuse_irregular(path.stat().st_mode, source)
        with open(path, "rb", opener=without_waiting) as file:
            # Another one may have come in its place meanwhile.
            _refuse_irregular(os.fstat(file.fileno()).st_mode, source)
            data = file.read(LARGEST_BYTES + 1)
    except (FileNotFoundError, NotADirectoryError):
        raise _unreadable(source, "no such file", "give the path of a file that is there") from None
    except IsADirectoryError:
        raise _unreadable(source, "a folder", f"give the path of a file, not {source}") from None
    except PermissionError:
        # Windows says this of a folder, too.
        if path.is_dir():
            raise _unreadable(
                source, "a folder", f"give the path of a file, not {source}"
            ) from None
        raise _unreadable(
            source, "a file you may not read", f"allow yourself to read {source}"
        ) from None
    except (OSError, ValueError) as trouble:
        raise _unreadable(source, show(str(trouble)), f"see to {source}") from None
    if len(data) > LARGEST_BYTES:
        raise _too_large(source)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as trouble:
        line = data.count(b"\n", 0, trouble.start) + 1
        got = f"the byte 0x{data[trouble.start]:02x}, which is no UTF-8"
        raise SettingsError(
            source,
            [Fault(f"line {line}", got, "UTF-8 text")],
            next_step=f"save {source} as UTF-8 in the editor and try again",
        ) from None


def parse_toml(text: str, source: str) -> dict[str, Any]:
    """The table of a TOML text. Raises `SettingsError` with the line if it is no TOML."""
    # Some editors begin a UTF-8 file with a byte order mark; it is no part of the text.
    text = text.removeprefix("\ufeff")
    if len(text) > LARGEST_BYTES:
        raise _too_large(source)
    if (fault := too_deep(text)) is not None:
        raise SettingsError(source, [fault])
    try:
        return tomllib.loads(text, parse_float=_figure)
    except tomllib.TOMLDecodeError as trouble:
        raise SettingsError(source, [_syntax(text, str(trouble))]) from None
    except RecursionError:
        fault = Fault("file", "lists or tables nested too deep to read", "a few levels at most")
        raise SettingsError(source, [fault]) from None
    # Python refuses to read an int of thousands of digits, Decimal an exponent of as many.
    except (ValueError, ArithmeticError):
        fault = Fault("file", "a number of thousands of digits", "numbers of a few dozen digits")
        raise SettingsError(source, [fault]) from None


def _refuse_irregular(mode: int, source: str) -> None:
    """Raises IsADirectoryError for a folder, `SettingsError` for what else is no regular file."""
    if stat.S_ISDIR(mode):
        raise IsADirectoryError
    if not stat.S_ISREG(mode):
        got = next((words for is_one, words in _IRREGULAR if is_one(mode)), "no regular file")
        raise _unreadable(
            source, got, f"keep the text as a file, and give its path instead of {source}"
        )


def without_waiting(path: str, flags: int) -> int:
    """An opener for `open` with which a pipe does not wait until somebody writes into it."""
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def _figure(text: str) -> Decimal:
    return Decimal(text.replace("_", ""))


def _syntax(text: str, reason: str) -> Fault:
    lines = text.splitlines()
    found = _AT.search(reason)
    wanted = next((words for start, words in _WANTED if reason.startswith(start)), "valid TOML")
    if found is None or found[1] is None:
        line = max(len(lines), 1)
        if reason.startswith("Cannot"):
            # What is there twice is whole: it is only the last line, without a line end.
            return Fault(f"line {line}", show(lines[-1].strip()), wanted)
        return Fault(f"line {line}", "the end of the file", _TO_THE_END)
    line = int(found[1])
    got = show(lines[line - 1].strip()) if line <= len(lines) else "the end of the file"
    return Fault(f"line {line}, column {found[2]}", got, wanted)


def _too_large(source: str) -> SettingsError:
    return _unreadable(
        source, "more than 1 MB", "take out what does not belong in it", "at most 1 MB of TOML"
    )


def _unreadable(
    source: str, got: str, next_step: str, wanted: str = "a TOML file"
) -> SettingsError:
    return SettingsError(source, [Fault("file", got, wanted)], next_step=next_step)
