"""`coatbench type`."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from acquire.cli.faults import DONE, NOT_DONE, fault_lines
from acquire.cli.reach import bench_option, reach
from acquire.cli.spoken import say
from acquire.errors import Refused

if TYPE_CHECKING:
    from acquire.control.client import Client


@click.command(name="type", context_settings={"ignore_unknown_options": True})
@click.argument("instrument")
@click.argument("text", nargs=-1)
@bench_option
def type_in(instrument: str, text: tuple[str, ...], bench: Path | None) -> int:
    """Type what an instrument without a port shows.

    The reading goes where a press of a meter with a port would go: to the piece of a check under
    way, to the next target of the open run, else among the loose readings. Says what became of
    it. Where the profile wants every entry twice, the first one waits for the second.

    Two words tell what no cable tells, and each ends the instrument's check: adjusted (it was
    re-adjusted) and off (it was switched off, or exchanged).

    The word on, with the piece that a check is at (on T1), says that it is on that piece, however
    far from it it shows: what looked like another piece's then counts.

    Without TEXT entries are read from standard input, a line each, until it ends.

    Exit status 1 if an entry was not accepted.

    \b
    Example:  coatbench type hand 91.4
              coatbench type hand 60 91.4
              coatbench type hand adjusted
    Next:     coatbench readings lists what was taken; coatbench void takes one out
    """
    with reach(bench) as client:
        if text:
            return _typed(client, instrument, " ".join(text))
        if sys.stdin.isatty():
            say([f"type what {instrument} shows, a line each; Ctrl-D ends it"], err=True)
        return typed_lines(client, instrument, sys.stdin)


def _typed(client: Client, instrument: str, text: str) -> int:
    from acquire.link.typed import LONGEST_ENTRY, line_of  # noqa: PLC0415 - slow
    from acquire.live.entry import insisted  # noqa: PLC0415 - slow

    if piece := insisted(text):
        client.call("insist_piece", instrument=instrument, piece=piece)
        say([f"{instrument} is on {piece}, as you say: type it again, and it counts"])
        return DONE
    if len(text) > LONGEST_ENTRY:
        # What can be no entry at all, nor a word of a call, is refused as an entry.
        text = line_of(text).decode("ascii").rstrip("\n")
    lines, is_accepted = told(client.call("type", instrument=instrument, text=text))
    say(lines)
    return DONE if is_accepted else NOT_DONE


def typed_lines(client: Client, instrument: str, lines: Iterable[str]) -> int:
    """One entry after another; one that is refused does not end the rest."""
    code = DONE
    for line in lines:
        if not line.strip():
            continue
        try:
            code = max(code, _typed(client, instrument, line.rstrip("\r\n")))
        except Refused as refused:
            if refused.reason not in ("no entry", "no such piece now"):
                raise
            say(fault_lines(refused), err=True)
            code = NOT_DONE
    return code


def told(reply: Mapping[str, Any]) -> tuple[list[str], bool]:
    """What became of an entry, a line each, and whether all of it is accepted so far."""
    from acquire.live.entry import fates  # noqa: PLC0415 - slow
    from acquire.live.tone import Tone  # noqa: PLC0415 - slow

    found = fates(reply)
    refused = (Tone.REFUSED, Tone.TROUBLE)
    return [words for words, _ in found], not any(tone in refused for _, tone in found)
