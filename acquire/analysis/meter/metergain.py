"""What errors do to a result that are not the same all along a meter's scale: its gain, its bends.

A check reads a piece of the certified value c off by d, what stands for zero off by d0 (a foot at
c0: a black trap; no load), and further pieces besides (`acquire.analysis.checks.meterscale`). A
reading has d of it, and (d - d0) / (c - c0) more for each unit that it lies above c, and near a
further piece what that lies off the line. Of a difference D so much is in it as the error grows
over D, under whatever checks its sides were read. The readings stay as they were sent: it is a
known shift, with a sign (JCGM 100:2008, F.2.4.5). How well pieces were read and certified counts
with the same weight. In a ratio all of it is over what was read: of a gain nothing is left there.

Where no check read a foot, what was found at the piece may be the same for all readings or grow
with them: of such a meter `acquire.analysis.meter.onepiece` says which counts. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from acquire.analysis.budget.uncertainty import Bias, Distribution, Kind, Term
from acquire.analysis.cells.contrast import BALANCED, Share
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.meterscale import Beside, Rise
from acquire.analysis.figures import rounded, signed
from acquire.analysis.meter.onepiece import LEFT, how_of_one, how_standing, is_left
from acquire.model import DriftCorrection

GAIN, BEND = "gain of the meter", "bend of the meter's scale"
"""How the names of its lines begin."""


class OnPiece(NamedTuple):
    """What an error of one unit at a piece does to a result by the gain and the bends.

    `weight` of one that every reading has, `lever` of one that grows steadily between the checks.
    `beside` is None of the reference piece itself.
    """

    beside: Beside | None
    weight: float
    lever: float


def has_gain(share: Share) -> bool:
    """Whether anything of an error that is not the same all along the scale is in it."""
    return share.rise is not None and any(
        [abs(part) > BALANCED for effect in (share.gain, *share.kinks) for part in effect]
    )


def on_pieces(share: Share) -> tuple[OnPiece, ...]:
    """The reference piece, its foot where one was read, then all further pieces; empty without."""
    rise, bracket = share.rise, share.bracket
    if rise is None or bracket is None or not has_gain(share):
        return (OnPiece(None, share.standing, 0.0),) if share.standing else ()
    # The line ends at the reference piece and the foot: what moves one of them moves it at a kink.
    kinks = list(zip(rise.kinks, share.kinks, strict=True))
    high, low = [], []
    of_own = _of_own(bracket, rise)
    for of_time in (0, 1):
        own = share.gain[of_time] * of_own
        high.append(own - math.fsum([k.part * e[of_time] for k, e in kinks]))
        low.append(-share.gain[of_time] - math.fsum([(1 - k.part) * e[of_time] for k, e in kinks]))
    found = [OnPiece(None, high[0] + share.standing, high[1])]
    if bracket.foot is not None:
        found.append(OnPiece(bracket.foot, *low))
    return (*found, *[OnPiece(k.beside, *e) for k, e in kinks])


def _of_own(bracket: Bracket, rise: Rise) -> float:
    """What an error of one unit at the reference piece makes of the rise."""
    if bracket.correction is not DriftCorrection.GAIN:
        return 1.0
    if rise.is_of_one:
        return -1.0
    # Of a gain that was taken off the foot has its own share back.
    return bracket.foot.certified / (bracket.certified or 1.0) if bracket.foot else 0.0


def gain_shifts(
    shares: Sequence[Share],
    names: Sequence[str],
    resolution: float,
    sign: str,
    *,
    is_relative: bool = False,
) -> Iterator[Bias]:
    """What the checks found of it; `names` tell the shares apart, `sign` is the unit."""
    for share, name in zip(shares, names, strict=True):
        rise, bracket = share.rise, share.bracket
        if share.standing and bracket is not None and bracket.opening_deviation:
            is_by_gain = bracket.correction is DriftCorrection.GAIN
            yield Bias(
                f"{LEFT if is_by_gain else GAIN}, as it stood at first",
                bracket.opening_deviation,
                share.standing,
                how_standing(share, signed(bracket.opening_deviation, resolution), sign),
            )
        if rise is None or bracket is None or not has_gain(share):
            continue
        piece, found = _found(bracket)
        gain, lever = share.gain
        # An offset is told as it was read, and takes its sign along in c.
        by, of = (-1.0, "offset") if is_left(bracket, rise) else (1.0, "gain")
        if rise.found and abs(gain) > BALANCED:
            yield Bias(
                f"{LEFT if by < 0 else GAIN}, {name}",
                by * rise.found,
                by * gain,
                f"{piece} was read off by {signed(by * rise.found, resolution)}{sign}{found} at "
                f"the opening check. {_how(share, sign, is_relative=is_relative)}",
            )
        if rise.drift and abs(lever) > BALANCED:
            yield Bias(
                f"steady drift of the {of}, {name}",
                by * rise.drift,
                by * lever,
                f"{bracket.checks_named} differ in that by {signed(by * rise.drift, resolution)}"
                f"{sign} ({_drifted(bracket)}). c is as that of the {of}, each reading with the "
                "part of the time between the checks that had gone by.",
            )
        yield from _bends(share, name, resolution, sign)


def _found(bracket: Bracket) -> tuple[str, str]:
    """The piece that was off, and beside what."""
    piece = bracket.piece or "the reference piece"
    if bracket.foot is None:
        return piece, ""
    if bracket.correction is DriftCorrection.GAIN:
        return piece, f" more than {bracket.foot.piece}, with its own gain taken off the readings,"
    return piece, f" more than {bracket.foot.piece}"


def _drifted(bracket: Bracket) -> str:
    """Which pieces tell it, as far as the closing check read them."""
    piece, than = _found(bracket)
    piece = bracket.closing_piece or piece
    if bracket.is_foot_open:
        foot = bracket.foot.piece if bracket.foot is not None else bracket.zero_off or "no load"
        return (
            f"{piece}; {foot} was not read then, so what all readings drifted by may have grown "
            "with them besides, counted from the middle of all"
        )
    return f"{piece}{than}"


def _bends(share: Share, name: str, resolution: float, sign: str) -> Iterator[Bias]:
    rise, bracket = share.rise, share.bracket
    assert rise is not None
    assert bracket is not None
    ends = f"{bracket.foot.piece if bracket.foot is not None else 'no load'} to {bracket.piece}"
    for kink, (weight, lever) in zip(rise.kinks, share.kinks, strict=True):
        piece = kink.beside.piece
        if kink.found and abs(weight) > BALANCED:
            yield Bias(
                f"{BEND} at {piece}, {name}",
                kink.found,
                weight,
                f"At the opening check {piece} lay {signed(kink.found, resolution)}{sign} off the "
                f"line from {ends}. c adds up what of it is in each reading, with the sign and "
                "weight of its side: all at that piece, nothing at any other, and between them "
                "midway between straight lines and a parabola.",
            )
        if kink.drift and abs(lever) > BALANCED:
            yield Bias(
                f"steady drift of the bend at {piece}, {name}",
                kink.drift,
                lever,
                f"{bracket.checks_named} differ in that by {signed(kink.drift, resolution)}{sign}. "
                "c is as that of the bend, each reading with the part of the time between the "
                "checks that had gone by.",
            )


def _how(share: Share, sign: str, *, is_relative: bool) -> str:
    rise = share.rise
    assert rise is not None
    if rise.is_of_one:
        return how_of_one(share, sign, is_relative=is_relative)
    if is_relative:
        return (
            "An error that grows along the scale: c adds up by how much each reading lies above "
            f"{rise.base:.5g}{sign}, over {rise.span:.5g}{sign} and over what was read, with the "
            "sign of its side. With the offset it comes to nothing where the error is in "
            "proportion."
        )
    return (
        "An error that grows along the scale: c adds up by how much each reading lies above "
        f"{rise.base:.5g}{sign}, over {rise.span:.5g}{sign}, with the sign and weight of its side. "
        "Of sides under the same checks that comes to their difference over that value."
    )


def bends_run(shares: Sequence[Share], resolution: float, sign: str) -> Iterator[Term]:
    """What it may add how a scale runs from piece to piece, which none tells.

    One line for each piece: the scale is the same under all checks.
    """
    added: dict[str, float] = {}
    for share in shares:
        if share.rise is not None:
            for kink, course in zip(share.rise.kinks, share.courses, strict=True):
                piece = kink.beside.piece
                added[piece] = added.get(piece, 0.0) + kink.found * course
    for piece, half in added.items():
        if abs(half) > BALANCED:
            yield Term(
                f"course of the scale about {piece}",
                Kind.B,
                abs(half),
                math.inf,
                1.0,
                Distribution.COURSE,
                f"A bend of straight lines from piece to piece and one of a parabola through "
                f"{piece} and the two next to it differ by {signed(2 * half, resolution / 100)}"
                f"{sign} in the result. u is half of that: the standard deviation of two courses "
                "that are equally likely, midway between which the bend is taken. An assumption "
                "(common practice, no source).",
                is_common=True,
            )


def beside_certified(shares: Sequence[Share], sign: str) -> Iterator[Term]:
    """The certificates of all pieces that are no reference piece of any share, one line each."""
    weights: dict[str, float] = {}
    doubts: dict[str, float] = {}
    references = {share.bracket.piece for share in shares if share.bracket is not None}
    for share in shares:
        for beside, weight, _ in on_pieces(share):
            if beside is not None and beside.piece not in references:
                weights[beside.piece] = weights.get(beside.piece, 0.0) + weight
                doubts[beside.piece] = max(doubts.get(beside.piece, 0.0), beside.u)
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
                f"{rounded(doubts[piece], doubts[piece])}{sign}: how the meter's error runs along "
                "its scale is taken from there. One error of all readings, of which a result has "
                "its own share.",
                is_common=True,
            )
