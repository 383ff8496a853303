"""What the display and the checks leave uncertain of a contrast: the type B terms.

Additive errors that both sides of a difference share cancel by their weights, and are named
instead of added: the certificate of the piece wherever the weights add up to zero, the meter's
offset wherever both sides were read under the same check. What is not known (no closing check
yet, no check at all) is said, never taken as zero in silence. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from acquire.analysis.closing import unclosed_sentences
from acquire.analysis.contrast import BALANCED, Contrast, Share
from acquire.analysis.figures import rounded, signed, suffix
from acquire.analysis.uncertainty import Distribution, Kind, Term, rectangular


class Systematic(NamedTuple):
    """Terms for the budget; sentences for what cancels and for what is not known.

    `offset_unknown` is set where the sides were read under different checks and how the meter
    stood at them is not known: it names what is missing. A difference of treatments cannot be
    judged then.
    """

    terms: tuple[Term, ...]
    cancels: tuple[str, ...]
    caveats: tuple[str, ...]
    offset_unknown: str


def systematic(
    contrast: Contrast, resolution: float, unit: str, unclosed: Mapping[str, str] | None = None
) -> Systematic:
    """The type B terms of a contrast; `resolution` is the step of the display.

    `unclosed` has what is said of each stage with readings of unknown drift; without it only the
    readings of the contrast itself are counted.
    """
    shares = contrast.shares()
    sign = suffix(unit)
    terms = [_display(contrast, resolution, sign)]
    cancels: list[str] = []
    said = unclosed or unclosed_sentences(cell for cell, _ in contrast.parts)
    caveats = _unknown(shares, said)
    counts: dict[str, int] = {}
    for share in shares:
        counts[share.stage] = counts.get(share.stage, 0) + 1
        term = _drift(share, counts[share.stage], resolution, sign)
        if term is not None:
            terms.append(term)
    offset, offset_unknown = _offset(shares, resolution, sign)
    if offset is not None:
        terms.append(offset)
    elif not offset_unknown and all(s.bracket is not None for s in shares):
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
    return Systematic(tuple(terms), tuple(cancels), tuple(caveats), offset_unknown)


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


def _drift(share: Share, number: int, resolution: float, sign: str) -> Term | None:
    drift = share.bracket.drift if share.bracket is not None else None
    if drift is None:
        return None
    found = f"{rounded(abs(drift), resolution)}{sign}"
    if share.is_balanced:
        lever = abs(share.lever)
        note = (
            f"Opening and closing check differ by {found}. The two sides were read on average "
            f"{lever:.2f} of the time between the checks apart, and a steady drift moved them "
            "apart by that part."
        )
    else:
        # Also the root mean square of an error that grows steadily from nothing to the drift.
        lever = max(abs(share.weight), abs(share.lever))
        note = f"Opening and closing check differ by {found}; a reading may carry any part of it."
    name = f"drift of the meter, {share.stage}" + (f", checks {number}" if number > 1 else "")
    return rectangular(name, drift, note, sensitivity=lever)


def _offset(shares: tuple[Share, ...], resolution: float, sign: str) -> tuple[Term | None, str]:
    """The uncorrected offset found at the opening checks, where it does not cancel."""
    open_shares = [s for s in shares if not s.is_balanced]
    if not open_shares:
        return None, ""
    found: list[tuple[float, float]] = []
    for share in open_shares:
        if share.bracket is None:
            return None, f"{share.readings} of its readings at {share.stage} lie under no check"
        if share.bracket.opening_deviation is None:
            return None, (
                f"how far the meter stood from its reference piece at the opening check of "
                f"{share.stage} is not known"
            )
        found.append((share.weight, share.bracket.opening_deviation))
    deviation = math.fsum(w * d for w, d in found)
    reading_it = resolution / 2 * math.hypot(*(w for w, _ in found))
    return rectangular(
        "offset of the meter at its checks",
        abs(deviation) + reading_it,
        f"Deviation from the certified value found at opening, {signed(deviation, resolution)}"
        f"{sign} in this result, not corrected; half a display step for having read it.",
    ), ""


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


def _unknown(shares: tuple[Share, ...], said: Mapping[str, str]) -> list[str]:
    stages = [s.stage for s in shares if s.bracket is None or s.bracket.drift is None]
    return [said[stage] for stage in dict.fromkeys(stages)]
