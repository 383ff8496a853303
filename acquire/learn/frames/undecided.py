"""Why readings of frames cannot be told apart yet, and the press that would tell. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from acquire.learn.numbers.judge import Judged
from acquire.learn.pieces.doubts import Doubt
from acquire.learn.pieces.signs import OFTEN


def undecided(judged: Judged, shown: Sequence[Decimal]) -> Doubt:
    """The doubt where none of the readings that are `judged` is right by all of them."""
    count = len(judged.rivals)
    why = f"{count} readings of the bytes give what was shown, and differ elsewhere"
    if judged.has_given_up:
        why = (
            f"{count} readings of the bytes give what was shown: so many that holding each "
            "against all others was given up; a number with more digits leaves fewer"
        )
    elif (sign := _of_sign(judged, shown)) is not None:
        return sign
    return Doubt(why, judged.tell_above, judged.tell_below)


def _of_sign(judged: Judged, shown: Sequence[Decimal]) -> Doubt | None:
    """The doubt of a byte that went with the sign, perhaps by chance; None where none is alone."""
    marks = [rival.minus for rival in judged.rivals]
    open_ = sorted({mark.offset for mark in marks if mark is not None and not mark.is_proven})
    if len(open_) == 0 or any(mark is None or mark.is_proven for mark in marks):
        return None
    named = " or ".join(map(str, open_))
    side = "below" if sum(value < 0 for value in shown) < OFTEN else "above"
    return Doubt(
        f"the sign of the number may be told by byte {named}, or that went with it by chance: "
        f"{OFTEN} presses {side} zero tell",
        wanted=f"a press that shows another number {side} zero",
    )
