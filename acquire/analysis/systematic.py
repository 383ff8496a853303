"""What the display and the checks know of a contrast: its shifts, and the type B terms.

How the meter stood at the opening check and how far it drifted until the closing one are known.
They are not taken off the readings, so they stand in the result as a known bias with a sign
(`Bias`) and widen its uncertainty by their full size; in quadrature, as if they were random, they
would count for less than they are, and one steady drift would make "better" of nothing. Only what
the checks do not know is uncertain: the course of the drift between them
(`acquire.analysis.departure`), and how well they were read themselves.

Additive errors that both sides of a difference share cancel by their weights, and are named
instead of added: the certificate of the piece wherever the weights add up to zero, the meter's
offset wherever both sides were read under the same check. What is not known (no closing check
yet, no check at all) is said, never taken as zero in silence. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from acquire.analysis.closing import unclosed_sentences
from acquire.analysis.contrast import BALANCED, Contrast, Share
from acquire.analysis.figures import rounded, signed, suffix
from acquire.analysis.uncertainty import (
    Bias,
    Combined,
    Distribution,
    Kind,
    Term,
    rectangular,
    welch_satterthwaite,
)


class Systematic(NamedTuple):
    """Terms and known shifts for the budget; sentences for what cancels and what is not known.

    `offset_unknown` is set where the sides were read under different checks, or in different
    stretches under none, and how the meter stood at them is not known: it names what is missing.
    `apart` says how the sides were read then. A difference of treatments cannot be judged then.
    `source` names, as the subject of a sentence, where the biases come from.
    """

    terms: tuple[Term, ...]
    biases: tuple[Bias, ...]
    cancels: tuple[str, ...]
    caveats: tuple[str, ...]
    offset_unknown: str
    source: str = "a steady drift of the meter"
    apart: str = "under different checks"


def systematic(
    contrast: Contrast, resolution: float, unit: str, unclosed: Mapping[str, str] | None = None
) -> Systematic:
    """Terms and shifts of a contrast; `resolution` is the step of the display.

    `unclosed` has what is said of each stage with readings of unknown drift; without it only the
    readings of the contrast itself are counted.
    """
    shares = contrast.shares()
    names = _names(shares)
    sign = suffix(unit)
    terms = [_display(contrast, resolution, sign)]
    biases: list[Bias] = []
    cancels: list[str] = []
    said = unclosed or unclosed_sentences(cell for cell, _ in contrast.parts)
    caveats = _unknown(shares, said)
    offsets, offset_unknown = _offsets(shares, names, resolution, sign)
    for share, name in zip(shares, names, strict=True):
        found = _drift(share, name, resolution, sign)
        if found is not None:
            biases.append(found[0])
            terms.append(found[1])
        terms.extend(_checks_read(share, name, resolution, is_offset_known=not offset_unknown))
    biases.extend(offsets)
    if not offsets and not offset_unknown and all(s.bracket is not None for s in shares):
        cancels.append(
            "The meter's offset at its checks: both sides were read under the same checks."
        )
    certificate = _certificate(contrast, shares, sign)
    if certificate is not None:
        terms.append(certificate)
    elif abs(contrast.total_weight) <= BALANCED and any(s.bracket is not None for s in shares):
        cancels.append(
            "The certified value of the reference piece: an error in it shifts both sides alike."
        )
    return Systematic(
        tuple(terms),
        tuple(biases),
        tuple(cancels),
        tuple(caveats),
        offset_unknown,
        "offset and steady drift of the meter" if offsets else "a steady drift of the meter",
        "by different meters or with a break between them"
        if any(s.bracket is None and not s.is_balanced for s in shares)
        else "under different checks",
    )


def _display(contrast: Contrast, resolution: float, sign: str) -> Term:
    # Kept in full beside the scatter: readings of a still surface can all be rounded the same
    # way. Where the scatter exceeds a step it is counted partly twice, on the safe side.
    return rectangular(
        "resolution of the display",
        resolution / 2,
        f"Half a step of {resolution:g}{sign}, once for each mean: readings of a still surface "
        "can all be rounded the same way (GUM F.2.2.1).",
        sensitivity=contrast.mean_weight,
    )


def _drift(share: Share, name: str, resolution: float, sign: str) -> tuple[Bias, Term] | None:
    """The straight line between the checks as a known shift, and what its course may add."""
    drift = share.bracket.drift if share.bracket is not None else None
    if drift is None:
        return None
    found = f"Opening and closing check differ by {signed(drift, resolution)}{sign}"
    lever = 0.0 if abs(share.lever) <= BALANCED else share.lever
    where = (
        "c is the part of the time between them by which the two sides were read apart"
        if share.is_balanced
        else "c is the part of the time between them that had gone by, on average, at its readings"
    )
    line = Bias(
        f"steady drift of the meter, {name}",
        drift,
        lever,
        f"{found}; {where}. A drift in a straight line shifts the result by the product.",
    )
    course = Term(
        f"course of the drift, {name}",
        Kind.B,
        abs(drift),
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


def _checks_read(
    share: Share, name: str, resolution: float, *, is_offset_known: bool
) -> Iterator[Term]:
    """How well offset and drift were read: errors of the two checks, not of the readings.

    The shift is W x0 + L (x1 - x0), so an error of the opening check counts W - L times and one
    of the closing check L times. A check that closes one bracket and opens the next is taken as
    two: its parts have opposite signs, and to add them as unrelated is on the safe side.
    """
    bracket = share.bracket
    if bracket is None:
        return
    opening, closing = bracket.opening_doubt, bracket.closing_doubt
    weight = 0.0 if share.is_balanced or not is_offset_known else share.weight
    # A drift that was given as exact is so however the checks were read.
    is_read = bracket.drift is not None and (opening.u > 0 or closing.u > 0)
    lever = share.lever if is_read and abs(share.lever) > BALANCED else 0.0
    if weight == 0 and lever != 0:
        both = welch_satterthwaite([opening.u, closing.u], [opening.nu, closing.nu])
        yield _read(f"reading of the checks, {name}", both, lever, "both checks")
    if weight != 0:
        # No offset is known better than the display shows it.
        step = resolution / math.sqrt(12)
        least = opening if opening.u >= step else Combined(step, math.inf)
        yield _read(f"reading of the opening check, {name}", least, weight - lever, "that check")
        if lever != 0:
            yield _read(f"reading of the closing check, {name}", closing, lever, "that check")


def _read(name: str, doubt: Combined, sensitivity: float, what: str) -> Term:
    return Term(
        name,
        Kind.B if math.isinf(doubt.nu) else Kind.A,
        doubt.u,
        doubt.nu,
        sensitivity,
        Distribution.NORMAL,
        f"Scatter of the piece's readings at {what}, and the display, once for each mean.",
    )


def _certificate(contrast: Contrast, shares: tuple[Share, ...], sign: str) -> Term | None:
    total = contrast.total_weight
    known = [s.bracket.tile_u for s in shares if s.bracket is not None]
    if abs(total) <= BALANCED or not known:
        return None
    u = max(known)
    return Term(
        "certificate of the reference piece",
        Kind.B,
        u,
        math.inf,
        total,
        Distribution.NORMAL,
        f"Standard uncertainty of its certified value, {rounded(u, u)}{sign}; common to all "
        "readings, so it cancels in differences.",
    )


def _names(shares: Sequence[Share]) -> list[str]:
    """The stage of each share, with a number from the second pair of checks of a stage on."""
    counts: dict[str, int] = {}
    names = []
    for share in shares:
        number = counts[share.stage] = counts.get(share.stage, 0) + (share.bracket is not None)
        names.append(f"{share.stage}, checks {number}" if number > 1 else share.stage)
    return names


def _unknown(shares: tuple[Share, ...], said: Mapping[str, str]) -> list[str]:
    stages = [s.stage for s in shares if s.bracket is None or s.bracket.drift is None]
    return [said[stage] for stage in dict.fromkeys(stages)]
