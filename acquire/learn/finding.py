"""What came of learning: how it went, what is believed, and what another press would tell.

Pure data; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from acquire.learn.beside.against import Against
from acquire.learn.pieces.doubts import Doubt


class Outcome(StrEnum):
    """How it went."""

    SURE = "sure"
    """There is a profile, and it is right whichever explanation holds.

    With a number to tell or something open one more press would make it better, and no less right.
    """
    MORE = "more"
    """Another press is needed: several explanations are left that differ, or what is known would
    make noise of most presses to come."""
    UNSAID = "unsaid"
    """The number is found; the unit or the channel is not in the bytes and nobody said it."""
    NONE = "none"
    """No explanation fits all presses."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What was learned. `believed` are sentences for a person, `left` the explanations left.

    A press that shows a number from `tell_above` on (beyond it where that is 0), down to
    `tell_below` or about `tell_between` would tell them apart.
    `missing` is what a person must say: unit, geometry, band, word for the unit that goes with a
    word of the bytes, setting for that all presses were of one, or angles for that what changed is
    the geometry of each; `likely` what the bytes suggest, that word, or what in the bytes speaks
    for several settings.
    `unseen` are sentences on what no press has shown. `is_proof_open` and `is_state_open`: another
    press would tell more of the checksum, or of bytes beside the number. `is_sign_open`: so would
    whether its display goes below zero. `is_meagre`: the profile is right, and by what the presses
    had beside the number most of those to come would be noise; `unseen` says so first.
    `is_nowhere`: no place gives all the numbers, as where one of them was mistyped. `is_unproved`:
    one does, and the driver reads other things by a profile of it. `mistyped` is a sentence on the
    first of both, `against` what was said and goes against the bytes, and `next_step` what to do
    then; `wanted` is what that leads to, where it is no number that a press would show, and
    `is_anew`: no further press helps, all are to be made anew. `still` are numbers beside that of
    the display that were the same at every press: whoever knows that one of them moves can say so.
    `sent` is the least and the largest number that presses gave for any geometry, empty where no
    more was looked at than what was shown. `counted_to` is up to where a count of presses is known
    to be one, None where all of it is or nothing counts.
    All numbers of a display are in its unit.
    """

    outcome: Outcome
    believed: tuple[str, ...] = ()
    left: tuple[str, ...] = ()
    family: str = ""
    profile: str = ""
    tell_above: Decimal | None = None
    tell_below: Decimal | None = None
    tell_between: Decimal | None = None
    missing: str = ""
    likely: str = ""
    unseen: tuple[str, ...] = ()
    is_proof_open: bool = False
    is_state_open: bool = False
    is_sign_open: bool = False
    is_meagre: bool = False
    is_nowhere: bool = False
    is_unproved: bool = False
    mistyped: str = ""
    against: Against | None = None
    next_step: str = ""
    wanted: str = ""
    is_anew: bool = False
    still: tuple[str, ...] = ()
    sent: tuple[Decimal, ...] = ()
    counted_to: int | None = None


def of_against(against: Against, believed: Sequence[str], left: tuple[str, ...]) -> Finding:
    """What is known where the bytes say something else than a person."""
    return Finding(
        Outcome.NONE, tuple(believed), left, against=against, next_step=against.next_step
    )


def of_doubt(doubt: Doubt, left: tuple[str, ...]) -> Finding:
    """What is known where a doubt of the number is left."""
    return Finding(
        Outcome.MORE, (doubt.why,), left, tell_above=doubt.tell_above, tell_below=doubt.tell_below,
        next_step=doubt.next_step, wanted=doubt.wanted, is_anew=doubt.is_anew,
    )  # fmt: skip
