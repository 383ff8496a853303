"""A meter whose checks read one piece alone, and none at zero: its offset, or its gain?

The piece of the certified value c was off by d. Nothing tells whether all readings were off by as
much (an offset), or each by d v / c of its value v (a gain), or by something in between. Taken for
the one or the other, a result comes out in two ways:

    readings as they are      d by an offset           d v / c by a gain
    corrected by offset       nothing is left          d (v / c - 1) is left
    corrected by gain         d (1 - v / c) is left    nothing is left

What is left is a known shift that may be there or not, and in each way the readings and the
certificate of the piece count by other weights: v / c of a gain, 1 of an offset. The way that makes
the interval wider counts, with all its lines. What was found at first (how the meter was adjusted)
and what it moved by since (how it drifts) need not be of one kind, so where both were shown there
are four ways. The interval reaches to the ends of all, and with them over what lies in between;
where the checks found nothing, they differ by how well the piece was read and certified alone.
Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from acquire.analysis.cells.contrast import BALANCED, Share
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.meterscale import Rise
from acquire.model import DriftCorrection

WAYS = 4
"""In so many ways may what one piece found be taken."""
LEFT = "offset of the meter, taken for its gain"
"""How the name of its line begins where a gain was taken off."""
_SHOWN = 2.0
"""From so many standard uncertainties on something was found of a meter: about 95 % (common
practice, no source)."""
_OF_BOTH = ", if what the checks found was an offset in one part and a gain in the other,"
_NO_OTHER = "No second piece was read that would tell whether what was found is "


def is_of_one(brackets: Sequence[Bracket]) -> bool:
    """Whether any of these checks found what may be an offset or a gain."""
    return any(rise.is_of_one for b in brackets if (rise := b.rise) is not None)


def apart(shares: Sequence[Share], grown: Sequence[Share]) -> tuple[Share, ...] | None:
    """`shares` with what was found at first of the other kind than what it moved by since.

    `grown` are the same with all that was found growing along the scale. None where not both were
    shown, so that there is no such way.
    """
    found = [s for s in grown if s.rise is not None and s.rise.is_of_one]
    brackets = [s.bracket for s in found if s.bracket is not None]
    first = min(found, key=lambda s: s.bracket.opening_at_s if s.bracket else 0.0)
    assert first.rise is not None
    assert first.bracket is not None
    of_one = math.fsum([s.gain[0] for s in found])
    if abs(of_one) <= BALANCED or not _are_both_shown(first.bracket, brackets):
        return None
    is_grown = any([s.rise is not None and s.rise.is_of_one for s in shares])
    by = (-1.0 if is_grown else 1.0) * (-1.0 if is_left(first.bracket, first.rise) else 1.0)
    return tuple(
        [s._replace(standing=by * of_one) if s.bracket is first.bracket else s for s in shares]
    )


def _are_both_shown(first: Bracket, brackets: Sequence[Bracket]) -> bool:
    """Whether the piece was off at first, and moved since, by more than its readings leave open."""
    stood = first.opening_deviation or 0.0
    if abs(stood) <= _SHOWN * math.hypot(first.opening_doubt.u, first.tile_u):
        return False
    for b in brackets:
        later = b.opening_deviation or 0.0
        moved = [
            (later - stood, b.opening_doubt.u),
            (later + (b.drift or 0.0) - stood, b.closing_doubt.u),
        ]
        if any([abs(by) > _SHOWN * math.hypot(first.opening_doubt.u, u) for by, u in moved]):
            return True
    return False


def is_left(bracket: Bracket, rise: Rise) -> bool:
    """Whether the rise is what a gain that was taken off leaves of an offset."""
    return rise.is_of_one and bracket.correction is DriftCorrection.GAIN


def how_of_one(share: Share, sign: str, *, is_relative: bool) -> str:
    """What its line in a budget is, in sentences."""
    rise, bracket = share.rise, share.bracket
    assert rise is not None
    assert bracket is not None
    below = is_left(bracket, rise)
    grows = "the same at all readings" if below else "in proportion to the reading"
    return (
        f"{_NO_OTHER}{grows}. If it is, this shifts the result: c adds up by how much each reading "
        f"lies {'below' if below else 'above'} {rise.base:.5g}{sign}, over that value"
        f"{' and over what was read' if is_relative else ''}, with the sign and weight of its "
        "side. It counts because the interval is wider with it."
    )


def how_standing(share: Share, found: str, sign: str) -> str:
    """What its line is of what was `found` at first, in sentences."""
    bracket = share.bracket
    assert bracket is not None
    kinds = ["an offset", "in proportion to the reading"]
    if (share.rise is None) == (bracket.correction is DriftCorrection.GAIN):
        kinds.reverse()
    return (
        f"{bracket.piece or 'The reference piece'} was read off by {found}{sign} at the first "
        f"opening check. {_NO_OTHER}{kinds[1]}. The interval is widest if that was {kinds[1]} and "
        f"what the meter moved by since {kinds[0]}: c adds up by how much each reading lies apart "
        "from the certified value, over that value, with the sign and weight of its side."
    )


def left_of_one(brackets: Sequence[Bracket], *, is_of_both: bool) -> str:
    """What a correction by one piece alone may have left, as the subject of a sentence.

    `is_of_both`: if what was found at first was of the other kind than what it moved by since.
    """
    if not is_of_one(brackets):
        return ""
    if is_of_both:
        return f"what was not taken off of the meter's error{_OF_BOTH}"
    kinds = ["gain", "offset"]
    if any([b.correction is DriftCorrection.GAIN for b in brackets]):
        kinds.reverse()
    return (
        f"{'an' if kinds[0] == 'offset' else 'a'} {kinds[0]} of the meter, if what the checks "
        f"found was one and no {kinds[1]},"
    )


def if_of_one(brackets: Sequence[Bracket], *, is_by_offset: bool, is_of_both: bool) -> str:
    """What a shift of readings as they are takes for granted, behind what it is the shift of."""
    if not is_of_one(brackets):
        return ""
    if is_of_both:
        return _OF_BOTH
    kinds = ["a gain", "offset"] if not is_by_offset else ["an offset", "gain"]
    return f", if what the checks found was {kinds[0]} and no {kinds[1]},"


def taken_off(*, is_of_one: bool) -> str:
    """Of chances that are told a second time: without which shifts, as the start of a sentence."""
    if is_of_one:
        return (
            "With what the meter's error may have left in the readings taken off (its checks read "
            "one piece, which does not tell an offset from a gain)"
        )
    return "With the known shifts of the meter taken off"


def said_of_one(brackets: Sequence[Bracket], *, is_by_gain: bool) -> str:
    """What a correction by one piece alone took for granted; empty where more were read."""
    if all(b.foot is not None or b.zero_off for b in brackets):
        return ""
    how = "all in proportion to the reading" if is_by_gain else "the same at all readings"
    if not is_of_one(brackets):
        return f" {_NO_OTHER}{how}, as it is taken to be."
    other = "the same at all readings" if is_by_gain else "in proportion to the reading"
    return (
        f" {_NO_OTHER}{how}, as it was taken to be. What is left if it was {other} counts where it "
        "makes the interval wider."
    )
