"""The command that takes up a plan whose questions were broken off. Main thread."""

from __future__ import annotations

import os
import shlex
import subprocess
from collections.abc import Sequence

import click
from click.core import ParameterSource

_BY_WORDS = ("--measure", "--stage", "--scale")
"""Asked for in one line with spaces between, and given once for each."""
_BY_MEASURE = ("--want", "--replicates")
"""Answered for each measure: the option names it, and the answer does not."""


def recalled(context: click.Context, typed: Sequence[tuple[str, str]]) -> tuple[str, str]:
    """What is said, and the command: the options as they were given, then what was typed since.

    What was taken by Enter is asked again, so that an Enter too many can be mended. Both are empty
    where nothing was typed.
    """
    if not typed:
        return "", ""
    words = [*context.command_path.split(), *_given(context)]
    for option, text in typed:
        words += _as_options(option, text)
    line = subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)
    said = (
        "nothing is written. The same with what was typed so far, to be mended; the rest is asked "
        "again:"
    )
    return said, line


def _as_options(option: str, text: str) -> list[str]:
    if option in _BY_MEASURE:
        return []
    if option == "--blind":
        return ["--blind" if text.strip().casefold().startswith("y") else "--open"]
    return [
        word
        for part in (text.replace(",", " ").split() if option in _BY_WORDS else [text])
        for word in (option, part)
    ]


def _given(context: click.Context) -> list[str]:
    words: list[str] = []
    for one in context.command.params:
        if not isinstance(one, click.Option) or one.name is None:
            continue
        if context.get_parameter_source(one.name) is not ParameterSource.COMMANDLINE:
            continue
        value = context.params[one.name]
        if one.is_flag:
            words.append(one.opts[0] if value else one.secondary_opts[0])
            continue
        for text in value if one.multiple else (value,):
            words += [one.opts[0], str(text)]
    return words
