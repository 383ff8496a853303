"""How a command ends: exit statuses, and an error in its four parts. Pure."""

from __future__ import annotations

import errno
import re
from collections.abc import Sequence

from acquire.errors import CoatbenchError, Misfortune, Misuse, SettingsError

DONE = 0
NOT_DONE = 1
WRONG_LINE = 2
TROUBLE = 3
BROKEN_OFF = 130
"""128 and the number of SIGINT, as shells have it."""

LONGEST_WORD, LONGEST_TEXT = 400, 4000
"""Of a message: a longer word (what was typed, be it several words; a path) keeps its ends, a
longer text its beginning, so that what to do next is not pushed off the screen."""
_LONG_WORD = re.compile(rf"\S{{{LONGEST_WORD + 1},}}")


def code_of(error: CoatbenchError) -> int:
    """1 if somebody asked for what cannot be had, 3 if the world did not play along."""
    return NOT_DONE if isinstance(error, Misuse) else TROUBLE


def fault_lines(error: CoatbenchError, typed: Sequence[str] = ()) -> list[str]:
    """The error for a person: what happened, what was got, what was wanted, what to do.

    `typed` is the command line, which an error may repeat.
    """

    def fit(text: str) -> str:
        return bearable(text, typed)

    lines = [f"coatbench: {fit(error.what)}"]
    if isinstance(error, SettingsError):
        for fault in error.faults:
            lines.append(f"  {fit(fault.path)}")
            lines.append(f"    got     {fit(fault.got)}")
            lines.append(f"    wanted  {fit(fault.wanted)}")
    for heading, text in (("got", error.got), ("wanted", error.wanted), ("next", error.next_step)):
        # An error within an error may have lines of its own; they stand below the first.
        for place, part in enumerate(fit(text).splitlines()):
            lines.append(f"  {'' if place else heading:<6}  {part}")
    return lines


def bearable(text: str, typed: Sequence[str] = ()) -> str:
    """The text with what is too long in it cut, as words and as a whole."""
    for said in typed:
        if len(said) > LONGEST_WORD:
            for form in (said, repr(said)[1:-1]):
                text = text.replace(form, _ends(form))
    short = _LONG_WORD.sub(lambda m: _ends(m[0]), text)
    return short if len(short) <= LONGEST_TEXT else f"{short[:LONGEST_TEXT]}..."


def _ends(word: str) -> str:
    return f"{word[:100]}... ({len(word):,} characters) ...{word[-20:]}"


def unwritable(error: OSError) -> CoatbenchError:
    """What to tell of a fault of the system that no part of the program has made its own.

    Without a file's name it is the output that was refused: commands write nothing else unnamed.
    """
    got = error.strerror or str(error)
    if error.filename is None and error.errno == errno.ENOENT:
        # Only the folder one is in has no name here, and an output that is open is there.
        return Misfortune(
            "the folder that this terminal is in is gone",
            got=got,
            wanted="a folder that is there",
            next_step="cd to it again (one of the same name may be there by now)",
        )
    if error.filename is not None:
        return Misfortune(
            f"{error.filename} cannot be used",
            got=got,
            wanted="a file or folder that your user may use",
            next_step="see to it and try again",
        )
    return Misfortune(
        "the output cannot be written",
        got=got,
        wanted="a place with room for it",
        next_step="send the output elsewhere; what was shown so far is not whole",
    )
