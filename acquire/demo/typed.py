"""Commands as a tester types them in the folder of the bench, with what they answer. One thread."""

from __future__ import annotations

import contextlib
import io
import os
import shlex
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from acquire.demo.story import Story
from acquire.errors import ControlError

Shell = Callable[[Sequence[str]], int]
"""Runs one command line of coatbench here and now, printing to standard output and standard error;
gives its exit status."""

_INDENT = 4
_COLUMNS = 100


class Typed:
    """A shell in `folder`, where ``bench.toml`` is, whose lines stand in the story."""

    def __init__(self, shell: Shell, folder: Path, story: Story) -> None:
        self._shell = shell
        self.folder = folder
        self._story = story

    def type(
        self, *words: str, style: str = "", shows: slice = slice(None), wrong: int = 0
    ) -> list[str]:
        """Type ``coatbench WORDS``; what it answered, line by line.

        `shows` says which lines of the answer stand in the story; `wrong` is the exit status that
        is expected. Raises `ControlError` where it ends otherwise.
        """
        self._story.command(f"coatbench {shlex.join(words)}")
        answer = _Answer()
        with (
            contextlib.chdir(self.folder),
            _columns(),
            contextlib.redirect_stdout(answer),
            contextlib.redirect_stderr(answer),
        ):
            code = self._shell(words)
        lines = answer.getvalue().splitlines()
        if code != wrong:
            raise ControlError(
                f"coatbench {words[0]} did not go as the demo expects",
                got=f"exit status {code}: {' / '.join(lines)[-400:]}",
                wanted=f"exit status {wrong}",
                next_step="report this fault",
            )
        for line in lines[shows]:
            self._story.tell(line, style)
        return lines


class _Answer(io.StringIO):
    """What a command prints, laid out as for a person."""

    def isatty(self) -> bool:
        return True


@contextlib.contextmanager
def _columns() -> Iterator[None]:
    """A terminal as wide as the story has room for, whoever looks on."""
    before = os.environ.get("COLUMNS")
    os.environ["COLUMNS"] = str(_COLUMNS - _INDENT)
    try:
        yield
    finally:
        if before is None:
            del os.environ["COLUMNS"]
        else:
            os.environ["COLUMNS"] = before
