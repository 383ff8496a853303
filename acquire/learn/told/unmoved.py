"""What is told of numbers of lines that never changed, and what a person may say of them. Pure."""

from __future__ import annotations

from acquire.learn.beside.burst import Burst
from acquire.learn.finding import Finding, Outcome
from acquire.learn.lines.line import Line
from acquire.learn.pieces.still import still_words
from acquire.learn.presses.press import About
from acquire.learn.profile.setting import WHAT
from acquire.learn.told.reasons import NOT_STILL


def unmoved(line: Line, about: About) -> list[str]:
    """What may be otherwise at a press to come, and makes it noise.

    Of the geometry or the band as it was said nothing is told: it is what the profile is for.
    """
    beside = line.burst.beside if isinstance(line.burst, Burst) else ()
    still = [*line.still, *(text for one in beside for text in one.still)]
    for text in line.fixed:
        if repr(text) in still:
            still.remove(repr(text))
    known, what = {repr(one) for one in line.channels}, WHAT[about.kind]
    words = [
        f"another number in {text!r}, which is that of the {what} that was said: such "
        "lines are noise, since they may be of another one; learn from some of them, too, if it "
        f"can be another number at the same {what}"
        for text in line.fixed
        if text != about.channel
    ]
    return words + still_words("line", [one for one in still if one not in known], line.movable)


def moves_refused(line: Line, about: About, left: tuple[str, ...]) -> Finding | None:
    """Why numbers that were said to move are none; None where all that were said are."""
    if fixed := line.not_free(about.moves):
        what = WHAT[about.kind]
        why = (
            f"{', '.join(sorted(fixed))} was said to move, and its number is that of the {what} "
            f"that was said: with another one there a press may be of another {what}, which a "
            "profile would say to be the same"
        )
        return Finding(Outcome.NONE, (why,), left, next_step=_HELD)
    if unknown := line.not_moved(about.moves):
        return Finding(
            Outcome.NONE, (NOT_STILL.format(", ".join(sorted(unknown))),), left,
            next_step="name numbers as they stand in the lines, or leave --moves out",
        )  # fmt: skip
    return None


_HELD = (
    "leave it out of --moves; if it is none, press once more when another number stands there, and "
    "learn from all presses together"
)
