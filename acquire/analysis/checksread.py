"""How well the checks around readings were read, as lines of a budget.

What the checks found, x0 - c at the opening and x1 - x0 until the closing, moves a result by
W (x0 - c) + L (x1 - x0), with the weight W and the lever L of the readings between them
(`acquire.analysis.contrast`). Be it left in the result as a known shift or taken off the readings,
an error of the opening check counts W - L times in it and one of the closing check L times.

A check that several brackets share (it closes one and opens the next, or lies around several
stages) has one error, which counts with the sum of its weights. To take its parts as unrelated
would be too wide where they cancel, as in the change of a zone, and too narrow where they add up,
as in a net change of zones that were always read in the same order: its parts there are -L1 and
-L2 of L1 = -L2 < 0 in the one stage and the other. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from acquire.analysis.bracket import EXACT, Bracket
from acquire.analysis.contrast import BALANCED, Share
from acquire.analysis.uncertainty import (
    Combined,
    Distribution,
    Kind,
    Term,
    welch_satterthwaite,
)


@dataclass(slots=True)
class _Line:
    """One check: what an error of it does to the result, and how large that error may be."""

    number: int | None
    side: str
    name: str
    piece: str
    sensitivity: float = 0.0
    doubt: Combined = EXACT

    @property
    def what(self) -> str:
        if self.number is None:
            return f"reading of the {self.side} check, {self.name}"
        piece = f", piece {self.piece}" if self.piece else ""
        return f"reading of check {self.number}{piece}"


def checks_read(
    shares: Sequence[Share], names: Sequence[str], resolution: float, *, is_offset_in: bool
) -> list[Term]:
    """A line for each check that does not cancel; `names` tell the shares apart.

    `is_offset_in` is whether what the opening checks found is in the result at all: taken off, or
    counted as a known shift.
    """
    lines: dict[tuple[object, ...], _Line] = {}
    unnamed: list[Term] = []
    for index, (share, name) in enumerate(zip(shares, names, strict=True)):
        bracket = share.bracket
        if bracket is None:
            continue
        weight, lever = _weights(share, bracket, is_offset_in=is_offset_in)
        if bracket.opening_check is None and weight == 0:
            unnamed += _both(bracket, lever, name)
            continue
        opening = bracket.opening_doubt
        if weight != 0:
            # No offset is known better than the display shows it.
            step = resolution / math.sqrt(12)
            opening = opening if opening.u >= step else Combined(step, math.inf)
        for number, side, doubt, sensitivity in (
            (bracket.opening_check, "opening", opening, weight - lever),
            (bracket.closing_check, "closing", bracket.closing_doubt, lever),
        ):
            key = (index, side) if number is None else (number, bracket.piece)
            line = lines.get(key)
            if line is None:
                line = lines[key] = _Line(number, side, name, bracket.piece)
            line.sensitivity += sensitivity
            if doubt.u > line.doubt.u:
                line.doubt = doubt
    named = [
        _term(line.what, line.doubt, line.sensitivity, "that check")
        for line in lines.values()
        if line.doubt.u > 0 and abs(line.sensitivity) > BALANCED
    ]
    return [*unnamed, *named]


def _weights(share: Share, bracket: Bracket, *, is_offset_in: bool) -> tuple[float, float]:
    """W and L of a share; what is nothing but rounding is zero."""
    weight = 0.0 if share.is_balanced or not is_offset_in else share.weight
    # A drift that was given as exact is so however the checks were read.
    is_read = bracket.drift is not None and (
        bracket.opening_doubt.u > 0 or bracket.closing_doubt.u > 0
    )
    return weight, share.lever if is_read and abs(share.lever) > BALANCED else 0.0


def _both(bracket: Bracket, lever: float, name: str) -> Iterator[Term]:
    """Checks without a number cannot be those of another bracket: both in one line."""
    opening, closing = bracket.opening_doubt, bracket.closing_doubt
    if lever != 0:
        both = welch_satterthwaite([opening.u, closing.u], [opening.nu, closing.nu])
        yield _term(f"reading of the checks, {name}", both, lever, "both checks")


def _term(name: str, doubt: Combined, sensitivity: float, what: str) -> Term:
    return Term(
        name,
        Kind.B if math.isinf(doubt.nu) else Kind.A,
        doubt.u,
        doubt.nu,
        sensitivity,
        Distribution.NORMAL,
        f"Scatter of the piece's readings at {what}, and the display, once for each mean.",
        is_common=True,
    )
