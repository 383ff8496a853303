"""The words of a report that a reader who knows nothing of the program needs. Pure; any thread.

They are those of the program's screens and files, too.
"""

from __future__ import annotations

from typing import NamedTuple


class Word(NamedTuple):
    """A word and what it means here."""

    word: str
    meaning: str


WORDS = (
    Word(
        "reference piece, certificate",
        "A thing with a known value (tile, black trap, check weight, filter), and the paper that "
        "states it, with its uncertainty and the day until which it holds.",
    ),
    Word(
        "check",
        "The meter reads its reference pieces, and what it reads is held against their "
        "certificates and the limits of its policy.",
    ),
    Word(
        "pass, fail, undecided",
        "Pass: with all its doubt the meter lies inside every limit. Fail: whatever the doubt, it "
        "lies outside of one. Undecided: the doubt reaches over a limit, a piece scattered, or it "
        "was read too few times. Only a pass lets readings count.",
    ),
    Word(
        "guard band",
        "The uncertainty of the check itself, by which a limit is drawn in for a pass and pushed "
        "out for a fail (JCGM 106). What lies in it is undecided.",
    ),
    Word(
        "bracket",
        "The check before readings and the one after them. Bracketed: both passed. Open: no check "
        "has come after them yet. Not closed: the meter was re-adjusted before a check decided, "
        "and the check before that, as found, was undecided.",
    ),
    Word(
        "suspect",
        "Readings left out because the check after them found the meter outside a limit, because "
        "the meter was re-adjusted with no check before that had read it as it was found, or "
        "because a check around them does not pass without a certificate that was withdrawn.",
    ),
    Word(
        "as found, as left",
        "What the last check before a re-adjustment read, and the first one after it. The one "
        "tells of readings before, the other of readings after.",
    ),
    Word(
        "void, loose",
        "Void: taken out by a person, with a reason; it stays in the store. Loose: it came under "
        "no valid check or in no run, and counts for nothing.",
    ),
    Word(
        "control, bare",
        "The control is the untreated zone that all others are held against; bare is the panel "
        "before anything was put on it.",
    ),
    Word(
        "± and 95 %",
        "How far off a figure may be: of a hundred such intervals ninety-five or more hold the "
        "true value. Where too few pieces were checked to tell how far a meter's scale is bent, "
        "that is so only as far as it is straight, and the measure says it. What few readings tell "
        "is taken on the safe side, and a known shift of the meter that was left in widens them by "
        "its full size, so that it may be ninety-nine.",
    ),
)
