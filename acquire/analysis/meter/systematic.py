"""What the display and the checks know of a contrast: its shifts, and the type B terms.

How the meter stood at the opening check and how far it drifted until the closing one are known.
They are not taken off the readings, so they stand in the result as a known bias with a sign
(`Bias`) and widen its uncertainty by their full size; in quadrature, as if they were random, they
would count for less than they are, and one steady drift would make "better" of nothing. Only what
the checks do not know is uncertain: the course of the drift between them
(`acquire.analysis.checks.departure`), and how well they were read themselves.

Additive errors that both sides of a difference share cancel by their weights, and are named
instead of added: the meter's offset wherever both sides were read under the same check. An error
that grows with the reading does not: a difference has its own share of the meter's gain and of the
certificate that it was held against (`acquire.analysis.meter.metergain`). Only in a ratio it
cancels. What is not known (no closing check yet, no check at all) is said, never taken as zero in
silence.

Of readings that were corrected by their checks (`acquire.analysis.correction`) no shift is left;
the errors of the checks are in the readings instead, each with the weight it has in the result, so
that a check that several readings share counts once and not as often. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from acquire.analysis.budget.uncertainty import (
    Bias,
    Distribution,
    Kind,
    Term,
    budget,
    rectangular,
)
from acquire.analysis.cells.closing import unclosed_sentences
from acquire.analysis.cells.contrast import BALANCED, Contrast, Share
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.figures import rounded, signed, suffix
from acquire.analysis.meter.checksread import checks_read
from acquire.analysis.meter.metergain import (
    bends_run,
    beside_certified,
    gain_shifts,
    has_gain,
    on_pieces,
)
from acquire.analysis.meter.onepiece import WAYS, apart, is_of_one, left_of_one, said_of_one
from acquire.analysis.meter.shiftsource import A_DRIFT, STEADY, source_of
from acquire.model import DriftCorrection


class Systematic(NamedTuple):
    """Terms and known shifts for the budget; sentences for what cancels and what is not known.

    `offset_unknown` is set where the sides were read under different checks, or in different
    stretches under none, and how the meter stood at them is not known: it names what is missing.
    `apart` says how the sides were read then. A difference of treatments cannot be judged then.
    `source` names, as the subject of a sentence, where the biases come from. `is_corrected` is
    whether the readings were corrected by their checks, so that there are none but of the gain;
    `is_of_gain` whether an error in proportion to the reading is in it. `is_of_one` is whether the
    checks read one piece alone, so that biases are there only if what it found was of a kind.
    """

    terms: tuple[Term, ...]
    biases: tuple[Bias, ...]
    cancels: tuple[str, ...]
    caveats: tuple[str, ...]
    offset_unknown: str
    source: str = A_DRIFT
    apart: str = "under different checks"
    is_corrected: bool = False
    is_of_gain: bool = False
    is_of_one: bool = False


def systematic(
    contrast: Contrast,
    resolution: float,
    unit: str,
    unclosed: Mapping[str, str] | None = None,
    *,
    is_gain_in: bool = True,
    beside: Sequence[Term] | None = None,
) -> Systematic:
    """Terms and shifts of a contrast; `resolution` is the step of the display.

    `unclosed` has what is said of each stage with readings of unknown drift; without it only the
    readings of the contrast itself are counted. Without `is_gain_in` every error of the meter is
    taken to be the same in all readings. `beside` are all other lines of its budget: with them
    counts what makes its interval wider of a meter whose checks read one piece alone, and without
    them the same in all contrasts of a kind, so that their variances make covariances.
    """

    def of(shares: tuple[Share, ...]) -> Systematic:
        return _of_shares(contrast, shares, resolution, unit, unclosed)

    grown = contrast.shares(is_gain_in=is_gain_in)
    if not any([s.rise is not None and s.rise.is_of_one for s in grown]):
        return of(grown)
    level = contrast.shares(is_of_one_in=False)
    if beside is None:
        is_by_gain = any([s.bracket is not None and _is_by_gain(s.bracket) for s in grown])
        return of(grown if contrast.is_difference and not is_by_gain else level)
    ways = [grown, level, apart(grown, grown), apart(level, grown)]
    return max(
        [of(way) for way in ways if way is not None],
        key=lambda way: budget("", unit, (*beside, *way.terms), biases=way.biases).expanded,
    )


def in_each_way(
    contrast: Contrast, resolution: float, unit: str, unclosed: Mapping[str, str] | None = None
) -> tuple[Systematic, ...]:
    """The same in each of the ways that what one piece found may be taken, always in one order."""
    grown = contrast.shares()
    ways = [grown] * WAYS
    if any([s.rise is not None and s.rise.is_of_one for s in grown]):
        level = contrast.shares(is_of_one_in=False)
        ways = [grown, level, apart(grown, grown) or grown, apart(level, grown) or level]
    return tuple([_of_shares(contrast, way, resolution, unit, unclosed) for way in ways])


def _of_shares(
    contrast: Contrast,
    shares: tuple[Share, ...],
    resolution: float,
    unit: str,
    unclosed: Mapping[str, str] | None,
) -> Systematic:
    names = _names(shares)
    sign = suffix(unit)
    terms = [_display(contrast, resolution, sign)]
    biases: list[Bias] = []
    cancels: list[str] = []
    brackets = [s.bracket for s in shares if s.bracket is not None]
    is_corrected = any([b.is_corrected for b in brackets])
    said = unclosed
    if said is None:
        said = unclosed_sentences([cell for cell, _ in contrast.parts])
    caveats = _unknown(shares, said)
    offsets, offset_unknown = (
        ((), "") if is_corrected else _offsets(shares, names, resolution, sign)
    )
    is_relative = contrast.is_relative
    for share, name in zip(shares, names, strict=True):
        found = _drift(share, name, resolution, sign, is_relative=is_relative)
        if found is not None:
            terms.append(found[1])
            if not is_corrected:
                biases.append(found[0])
    is_offset_in = is_corrected or not offset_unknown
    terms.extend(checks_read(shares, names, resolution, unit, is_offset_in=is_offset_in))
    biases.extend(offsets)
    gains = list(gain_shifts(shares, names, resolution, sign, is_relative=is_relative))
    biases.extend(gains)
    is_of_gain = any([has_gain(share) or share.standing for share in shares])
    if is_corrected:
        is_by_gain = any([_is_by_gain(b) for b in brackets])
        cancels.append(
            f"{'Gain' if is_by_gain else 'Offset'} and steady drift of the meter: taken off each "
            "reading, by the checks around it." + said_of_one(brackets, is_by_gain=is_by_gain)
        )
    elif not offsets and not offset_unknown and len(brackets) == len(shares):
        cancels.append(
            "The meter's offset at its checks: both sides were read under the same checks."
        )
    certificates = _certificates(
        contrast, shares, sign, is_corrected=is_corrected, is_relative=is_relative
    )
    terms.extend(certificates)
    terms.extend(beside_certified(shares, sign))
    terms.extend(bends_run(shares, resolution, sign))
    if not certificates and brackets and abs(contrast.total_weight) <= BALANCED:
        cancels.append(
            _CERTIFICATE
            if is_relative or is_of_gain or _is_told(shares)
            else _CERTIFICATE_OF_OFFSET
        )
    left = ""
    if is_corrected and gains:
        left = left_of_one(brackets, is_of_both=any([s.standing for s in shares]))
    return Systematic(
        tuple(terms),
        tuple(biases),
        tuple(cancels),
        tuple(caveats),
        offset_unknown,
        left
        or source_of(
            is_offset_in=bool(offsets), is_gain_in=bool(gains), biases=biases, shares=shares
        ),
        "by different meters or with a break between them"
        if len(brackets) < len(shares)
        and any(s.bracket is None and not s.is_balanced for s in shares)
        else "under different checks",
        is_corrected,
        is_of_gain,
        is_of_one(brackets),
    )


_CERTIFICATE = "The certified value of the reference piece: an error in it shifts both sides alike."
_CERTIFICATE_OF_OFFSET = (
    "The certified value of the reference piece: an error in it shifts both sides alike, if it is "
    "the same at every reading. No piece above zero was read that would tell how it grows."
)


def _is_by_gain(bracket: Bracket) -> bool:
    return bracket.correction is DriftCorrection.GAIN


def _is_told(shares: Sequence[Share]) -> bool:
    """Whether the checks tell how an error of the meter grows with the reading."""
    return all([s.bracket is None or s.bracket.rise is not None for s in shares])


def _display(contrast: Contrast, resolution: float, sign: str) -> Term:
    # Kept in full beside the scatter: readings of a still surface can all be rounded the same
    # way. Where the scatter exceeds a step it is counted partly twice, on the safe side.
    note = _on_display(resolution, sign)
    return rectangular(
        "resolution of the display", resolution / 2, note, sensitivity=contrast.display_weight
    )


@lru_cache(maxsize=64)
def _on_display(resolution: float, sign: str) -> str:
    return (
        f"Half a step of {resolution:g}{sign}, once for each mean: readings of a still surface "
        "can all be rounded the same way (GUM F.2.2.1)."
    )


def _drift(
    share: Share, name: str, resolution: float, sign: str, *, is_relative: bool
) -> tuple[Bias, Term] | None:
    """The straight line between the checks as a known shift, and what its course may add."""
    drift = share.bracket.drift if share.bracket is not None else None
    if drift is None:
        return None
    assert share.bracket is not None
    found = f"{share.bracket.checks_named} differ by {signed(drift, resolution)}{sign}"
    lever = 0.0 if abs(share.lever) <= BALANCED else share.lever
    where = (
        "c adds up the part of the time between them that had gone by at each reading, over what "
        "was read, with the sign of its side"
        if is_relative
        else "c is the part of the time between them by which the two sides were read apart"
        if share.is_balanced
        else "c is the part of the time between them that had gone by, on average, at its readings"
    )
    line = Bias(
        f"{STEADY}, {name}",
        drift,
        lever,
        f"{found}; {where}. A drift in a straight line shifts the result by the product.",
    )
    course = Term(
        f"course of the drift, {name}",
        Kind.B,
        share.course,
        math.inf,
        share.departure.u,
        Distribution.COURSE,
        f"{found}, and nothing tells how it ran in between. c is the larger of the root mean "
        f"square of a sudden step at any time ({share.departure.step:.3g}) and of the most that "
        f"a drift in one direction can depart from the straight line ({share.departure.largest:.3g}"
        ", over √3).",
    )
    return line, course


def _offsets(
    shares: Sequence[Share], names: Sequence[str], resolution: float, sign: str
) -> tuple[tuple[Bias, ...], str]:
    """The uncorrected offsets found at the opening checks, where they do not cancel."""
    found = []
    for share, name in zip(shares, names, strict=True):
        if share.is_balanced:
            continue
        if share.bracket is None:
            number = sum(s.readings for s in shares if s.bracket is None and s.stage == share.stage)
            return (), f"{number} of its readings at {share.stage} lie under no check"
        if share.bracket.opening_deviation is None:
            return (), (
                f"how far the meter stood from its reference piece at the opening check of "
                f"{share.stage} is not known"
            )
        found.append(
            Bias(
                f"offset of the meter, {name}",
                share.bracket.opening_deviation,
                share.weight,
                "Deviation from the certified value found at the opening check, "
                f"{signed(share.bracket.opening_deviation, resolution)}{sign}; c is the weight of "
                "the readings under it.",
            )
        )
    return tuple(found), ""


def _certificates(
    contrast: Contrast,
    shares: tuple[Share, ...],
    sign: str,
    *,
    is_corrected: bool,
    is_relative: bool,
) -> list[Term]:
    """One line for each reference piece whose certified value does not cancel.

    A piece that tells of the scale alone has its line in `beside_certified`.
    """
    weights: dict[str, float] = {}
    doubts: dict[str, float] = {}
    for s in shares:
        if s.bracket is not None:
            weights[s.bracket.piece] = weights.get(s.bracket.piece, 0.0) + _of_certified(s)
            doubts[s.bracket.piece] = max(doubts.get(s.bracket.piece, 0.0), s.bracket.tile_u)
    if len(weights) == 1 and not is_corrected:
        # Readings under no check are held against the same piece for want of another.
        weights = dict.fromkeys(weights, contrast.pull_weight)
    for s in shares:
        # A piece may be the reference piece of one stage and tell of the scale in another.
        for beside, weight, _ in on_pieces(s):
            piece = beside.piece if beside is not None else s.bracket.piece if s.bracket else ""
            if piece in weights:
                weights[piece] += weight
    return [
        Term(
            f"certificate of {f'the reference piece {piece}' if piece else 'the reference piece'}",
            Kind.B,
            doubts[piece],
            math.inf,
            weight,
            Distribution.NORMAL,
            _as_certified(
                doubts[piece], sign, is_relative=is_relative, is_difference=contrast.is_difference
            ),
        )
        for piece, weight in weights.items()
        if abs(weight) > BALANCED and (doubts[piece] > 0 or not contrast.is_difference)
    ]


@lru_cache(maxsize=256)
def _as_certified(u: float, sign: str, *, is_relative: bool, is_difference: bool) -> str:
    return (
        f"Standard uncertainty of its certified value, {rounded(u, u)}{sign}; common to all "
        "readings held against it"
    ) + (
        ", so of a ratio only that is left by which it weighs more on the darker slide."
        if is_relative
        else ", so a difference has only its own share of it: c is the difference over the "
        "certified value."
        if is_difference
        else "."
    )


def _of_certified(share: Share) -> float:
    """What one unit of error of the certified value c does to the result."""
    bracket = share.bracket
    assert bracket is not None
    if bracket.correction is not DriftCorrection.GAIN:
        return share.weight
    # A reading corrected by gain is y = r c / x, so dy/dc = y / c; and the pull of it is y / x.
    assert bracket.certified
    assert bracket.opening_deviation is not None
    assert bracket.drift is not None
    opening = bracket.certified + bracket.opening_deviation
    return (share.weight * opening + share.lever * bracket.drift) / bracket.certified


def _names(shares: Sequence[Share]) -> list[str]:
    """The stage of each share, with a number from the second pair of checks of a stage on."""
    counts: dict[str, int] = {}
    names = []
    for share in shares:
        stage = share.stage
        number = counts[stage] = counts.get(stage, 0) + (share.bracket is not None)
        names.append(f"{stage}, checks {number}" if number > 1 else stage)
    return names


def _unknown(shares: tuple[Share, ...], said: Mapping[str, str]) -> list[str]:
    stages = [
        stage
        for s in shares
        if s.bracket is None or s.bracket.drift is None or s.bracket.is_unconfirmed
        for stage in s.stages
    ]
    return [said[stage] for stage in dict.fromkeys(stages)]
