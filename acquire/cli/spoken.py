"""Prints lines for a person: wrapped between words where a terminal is too narrow for them.

Into a file or a pipe lines go as they are, so that a program finds each whole. Never wraps a
table. Main thread.
"""

from __future__ import annotations

import re
import shutil
import sys
import textwrap
from collections.abc import Iterable

import click

LEAST_COLUMNS = 30

_LABEL = re.compile(r" *(?:\S+ {2,}|coatbench: |next: )?")


def say(lines: Iterable[str], *, err: bool = False) -> None:
    """Print the lines to standard output, or to standard error."""
    stream = sys.stderr if err else sys.stdout
    columns = shutil.get_terminal_size().columns if stream.isatty() else None
    for text in lines:
        for part in wrapped(text, columns):
            click.echo(part, err=err)


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
