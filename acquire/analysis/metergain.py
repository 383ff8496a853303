"""What an error that grows with the reading does to a difference: the gain of a meter.

A check reads a piece of the certified value c off by d, and what stands for zero off by d0 (a
foot at c0: a black trap; no load). To a result the meter's error counts as d at the middle of all
readings, as an offset does (`acquire.analysis.systematic`), and grows from there by
(d - d0) / (c - c0) for each unit that was read more. So nothing of it is in a difference of none,
and of a difference D it has D (d - d0) / (c - c0), under whatever checks its sides were read. The
readings stay as they were sent: it is a known shift, with a sign (JCGM 100:2008, F.2.4.5). How well
pieces were read and certified counts with the same weight. A ratio is free of it. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from acquire.analysis.contrast import BALANCED, Share
from acquire.analysis.figures import rounded, signed
from acquire.analysis.uncertainty import Bias, Distribution, Kind, Term


def has_gain(share: Share) -> bool:
    """Whether anything of an error in proportion is in it."""
    return share.rise is not None and max(abs(share.gain), abs(share.gain_lever)) > BALANCED


def gain_shifts(
    shares: Sequence[Share], names: Sequence[str], resolution: float, sign: str
) -> Iterator[Bias]:
    """What the checks found of it; `names` tell the shares apart, `sign` is the unit."""
    for share, name in zip(shares, names, strict=True):
        rise, bracket = share.rise, share.bracket
        if rise is None or bracket is None or not has_gain(share):
            continue
        foot = bracket.foot
        than = f" more than {foot.piece}" if foot is not None else ""
        piece = bracket.piece or "the reference piece"
        if rise.found and abs(share.gain) > BALANCED:
            yield Bias(
                f"gain of the meter, {name}",
                rise.found,
                share.gain,
                f"{piece} was read off by {signed(rise.found, resolution)}{sign}{than} at the "
                f"opening check. {_HOW.format(span=f'{rise.span:.5g}{sign}')}",
            )
        if rise.drift and abs(share.gain_lever) > BALANCED:
            yield Bias(
                f"steady drift of the gain, {name}",
                rise.drift,
                share.gain_lever,
                f"{bracket.checks_named} differ in that by {signed(rise.drift, resolution)}{sign}"
                f" ({piece}{than}). c is as that of the gain, each reading with the part of the "
                "time between the checks that had gone by.",
            )


_HOW = (
    "An error in proportion to the reading: c adds up what was read over {span}, with the sign and "
    "weight of its side, counted from the middle of all readings. Over all checks that comes to "
    "the difference over that value, so nothing of it is in a difference of none."
)


def feet_certified(shares: Sequence[Share], sign: str) -> Iterator[Term]:
    """The certificates of what stands for zero, one line each."""
    weights: dict[str, float] = {}
    doubts: dict[str, float] = {}
    for share in shares:
        foot = share.bracket.foot if share.bracket is not None else None
        if foot is not None and has_gain(share):
            weights[foot.piece] = weights.get(foot.piece, 0.0) - share.gain
            doubts[foot.piece] = max(doubts.get(foot.piece, 0.0), foot.u)
    for piece, weight in weights.items():
        if doubts[piece] > 0 and abs(weight) > BALANCED:
            yield Term(
                f"certificate of {piece}",
                Kind.B,
                doubts[piece],
                math.inf,
                weight,
                Distribution.NORMAL,
                f"Standard uncertainty of what is certified of it, "
                f"{rounded(doubts[piece], doubts[piece])}{sign}: the meter's gain is taken from "
                "there. One error of all readings, of which a difference has its own share.",
                is_common=True,
            )
