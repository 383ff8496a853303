"""What a lesson says to the person at the meter, and why it cannot be held. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from acquire.cli.bytestold import brief
from acquire.errors import Misuse
from acquire.learn import Finding, Outcome
from acquire.learn.beside.unexplained import WANTED
from acquire.learn.pieces.doubts import OTHER_WORDS

LEAST_PRESSES = 3
MOST_WAYS = 4
"""So many of the explanations that are left are shown."""

PROOF_OPEN = "several forms of its checksum fit: as long as they do it is not used, and not checked"


def telling(found: Finding) -> list[str]:
    """What another press would have to show."""
    if found.is_meagre:
        return [found.unseen[0], "wanted: a press on something that reads differently"]
    for why in found.believed:
        if why in WANTED:
            return [why, f"wanted: {WANTED[why]}"]
        if why.startswith(OTHER_WORDS):
            return [why, "wanted: a press that reads much like one before"]
    if found.wanted:
        return [*found.believed[:1], f"wanted: {found.wanted}"]
    words = []
    if found.tell_between is not None:
        words.append(f"of another size, such as {found.tell_between}")
    if found.tell_above is not None:
        high = found.tell_above
        words.append(f"of {high} or more" if high else "above zero")
    if found.tell_below is not None:
        low = found.tell_below
        words.append(f"below zero, {low} or less" if low < 0 else f"below {low or 'zero'}")
    where = f"a number {' or '.join(words)}" if words else "another number"
    if found.outcome is Outcome.SURE:
        proof = [PROOF_OPEN] if found.is_proof_open else []
        return [*proof, *found.unseen[:-1], f"wanted: a press that shows {where}"]
    ways = [f"  {one}" for one in found.left[:MOST_WAYS]]
    return [*found.believed[:1], *ways, f"wanted: a press that shows {where}"]


def uneven(presses: Sequence[bytes], shown: int) -> Misuse:
    told = [f"{place}: {brief(data)}" for place, data in enumerate(presses, 1)]
    return Misuse(
        "there are not as many presses as numbers",
        got=f"{len(presses)} presses and {shown} numbers\n" + "\n".join(told[:12]),
        wanted="the number that the display showed at each press, in their order",
        next_step="name one --shown for each, - for one that is to be left out; or learn without "
        "--shown and be asked",
    )


def none_to_come(presses: int) -> Misuse:
    """The numbers are those of the tape, and a port was named for more presses."""
    return Misuse(
        "a port is named, and no number of a press to come there",
        got=f"{presses} presses of the tape and {presses} numbers",
        wanted="a number for each press of the tape, and one or more of presses to come",
        next_step="add a --shown for each press that you will make at the port; or leave the port "
        "out, to learn from the tape alone; or leave every --shown out, and be asked",
    )


def all_left_out(presses: int) -> Misuse:
    """There is nothing to learn from."""
    return Misuse(
        "of no press it was said what the display showed",
        got=f"{presses} presses, all of them left out",
        wanted=f"numbers of {LEAST_PRESSES} presses or more",
        next_step="learn from the tape once you know them, or press again and read the display",
    )


def nobody_there(presses: int = 0) -> Misuse:
    """Nobody is there to be asked, and nothing was said."""
    return Misuse(
        "nobody said what the display showed",
        got=f"{presses} presses and no number",
        wanted="a number for each press, in their order",
        next_step="name them: --shown 91.4 --shown 45.2 --shown 12.0",
    )
