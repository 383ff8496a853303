"""Why it cannot be told at which speed a meter sends, by what came of it. Pure."""

from __future__ import annotations

from acquire.cli.bursts import LONG_QUIET_S
from acquire.cli.bytestold import brief
from acquire.errors import Misuse
from acquire.learn import LINES, Line, is_ended, is_legible

_LOOK_IT_UP = (
    "look the speed up in the meter's menu or manual and name it: --baud 9600 --format 8N1"
)


def no_end(data: bytes) -> bool:
    """Whether this is a text that proves no speed, for nothing ends it."""
    return data.isascii() and is_legible(data) and not is_ended(data)


def unheard(data: bytes, line: Line, *, is_alone: bool) -> Misuse:
    """What is the matter with a press that is no text at `line`.

    `is_alone`: nobody was there to press once more at each other speed.
    """
    options = f"--baud {line.baud_rate} --format {str(line).partition(' ')[2]}"
    if is_alone and no_end(data):
        return Misuse(
            "the meter sent a text that nothing ends, which proves no speed",
            got=f"{brief(data)} at {line}, and then silence for {LONG_QUIET_S:g} s",
            wanted="a line with an end, such as CR LF, or the speed of the meter",
            next_step=f"if this is all that the display shows, name the speed at which it was "
            f"heard ({options}): texts of one length can be learned so; if it is a part of it, or "
            "they have several lengths, set the meter to end its lines and to send each at once",
        )
    if is_alone and is_legible(data):
        beyond = " ".join(f"{byte:02X}" for byte in data if byte >= 0x7F)
        told = data.decode("latin-1")
        return Misuse(
            "the meter sent a text with bytes beyond ASCII, which proves no speed"
            if beyond
            else "the meter sent a text that is too short to prove a speed",
            got=f"{told!r} at {line}" + (f", with {beyond}" if beyond else ""),
            wanted="a longer text in ASCII, or the speed of the meter",
            next_step="if the rest of it is what the display shows, name the speed at which it was "
            f"heard: {options}; if not, {_LOOK_IT_UP}",
        )
    return Misuse(
        "it cannot be told at which speed the meter sends",
        got=f"bytes that are no text: {brief(data)}"
        if is_alone
        else f"no text at any of {', '.join(str(one.baud_rate) for one in LINES)} baud",
        wanted="text, which shows that a speed is right",
        next_step=_LOOK_IT_UP,
    )
