"""How a command ends: exit statuses, and an error in its four parts. Pure."""

from __future__ import annotations

from acquire.errors import CoatbenchError, Misuse, SettingsError

DONE = 0
NOT_DONE = 1
WRONG_LINE = 2
TROUBLE = 3
BROKEN_OFF = 130
"""128 and the number of SIGINT, as shells have it."""


def code_of(error: CoatbenchError) -> int:
    """1 if somebody asked for what cannot be had, 3 if the world did not play along."""
    return NOT_DONE if isinstance(error, Misuse) else TROUBLE


def fault_lines(error: CoatbenchError) -> list[str]:
    """The error for a person: what happened, what was got, what was wanted, what to do."""
    lines = [f"coatbench: {error.what}"]
    if isinstance(error, SettingsError):
        for fault in error.faults:
            lines.append(f"  {fault.path}")
            lines.append(f"    got     {fault.got}")
            lines.append(f"    wanted  {fault.wanted}")
    for heading, text in (("got", error.got), ("wanted", error.wanted), ("next", error.next_step)):
        if text:
            lines.append(f"  {heading:<6}  {text}")
    return lines
