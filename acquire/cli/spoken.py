"""Prints lines for a person: wrapped between words where a terminal is too narrow for them.

Into a file or a pipe lines go as they are, so that a program finds each whole. Never wraps a
table. Whatever devices and people wrote is shown in signs that can be seen. Main thread.
"""

from __future__ import annotations

import re
import shutil
import sys
import textwrap
from collections.abc import Iterable
from typing import TextIO

import click

from acquire.visible import visible

LEAST_COLUMNS = 30

_LABEL = re.compile(r" *(?:\S+ {2,}|coatbench: |next: )?")


def say(lines: Iterable[str], *, err: bool = False) -> None:
    """Print the lines to standard output, or to standard error."""
    stream = sys.stderr if err else sys.stdout
    # A process may have been given no stream at all.
    is_terminal = stream is not None and stream.isatty()
    columns = shutil.get_terminal_size().columns if is_terminal else None
    for text in lines:
        for part in wrapped(visible(text), columns):
            click.echo(part, err=err)


class Shown:
    """Writes to a terminal what is meant for a file: every line as it is, in signs to be seen."""

    def __init__(self, terminal: TextIO) -> None:
        self._terminal = terminal

    def write(self, text: str) -> None:
        self._terminal.write(visible(text, "\n"))

    def flush(self) -> None:
        self._terminal.flush()


def wrapped(text: str, columns: int | None) -> list[str]:
    """The line in as many as it needs; those after the first begin below the end of its label."""
    if columns is None or columns < LEAST_COLUMNS or len(text) <= columns:
        return [text]
    label = _LABEL.match(text)
    hang = label.end() if label is not None else 0
    if "  " in text[hang:]:
        return [text]
    return textwrap.wrap(
        text[hang:],
        columns,
        initial_indent=text[:hang],
        subsequent_indent=" " * hang,
        break_long_words=False,
        break_on_hyphens=False,
    )
