"""How well the checks around readings were read, as lines of a budget.

What the checks found, x0 - c at the opening and x1 - x0 until the closing, moves a result by
W (x0 - c) + L (x1 - x0), with the weight W and the lever L of the readings between them
(`acquire.analysis.cells.contrast`). Be it left in the result as a known shift or taken off the
readings, an error of the opening check counts W - L times in it and one of the closing check L
times.

A check that several brackets share (it closes one and opens the next, or lies around several
stages) has one error, which counts with the sum of its weights. To take its parts as unrelated
would be too wide where they cancel, as in the change of a zone, and too narrow where they add up,
as in a net change of zones that were always read in the same order: its parts there are -L1 and
-L2 of L1 = -L2 < 0 in the one stage and the other.

An error that grows along the scale counts by weights of its own: each piece that tells of it by
what one unit of error there does to the result (`acquire.analysis.meter.metergain`), the reference
piece by that and W together. Where what was read of no load was taken off the readings, a piece
stands for what is left of it, and both are in its line. Where another piece told the drift, its
line at the closing check has how well both checks read that one. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from acquire.analysis.budget.uncertainty import (
    Combined,
    Distribution,
    Kind,
    Term,
    welch_satterthwaite,
)
from acquire.analysis.cells.contrast import BALANCED, Share
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.holding import Effect
from acquire.analysis.checks.meterscale import EXACT
from acquire.analysis.figures import suffix
from acquire.analysis.meter.metergain import OnPiece, on_pieces

_OF_A_SLED = "one"
"""The unit of a coefficient: figures of its checks were divided by the weight of the sled."""
_BOTH = "both checks"


class _Made(NamedTuple):
    """What a doubt was made of: by which step the piece was read, 0 where none is known.

    `before` is the step of the other check where both told of one piece, `zero_off` what was taken
    off that piece. `is_floor` where the step is that of the readings, and all that counts.
    """

    step: float
    before: float | None = None
    zero_off: str = ""
    is_floor: bool = False


_NOTHING = _Made(0.0)


@dataclass(slots=True)
class _Line:
    """One check: what an error of it does to the result, and how large that error may be."""

    number: int | None
    side: str
    name: str
    piece: str
    sensitivity: float = 0.0
    doubt: Combined = EXACT
    made: _Made = _NOTHING
    zero_off: str = ""
    is_beside: bool = False

    @property
    def what(self) -> str:
        if self.number is None:
            return f"reading of the {self.side} check, {self.name}"
        piece = f", piece {self.piece}" if self.piece else ""
        less = f" less {self.zero_off}" if self.zero_off else ""
        return f"reading of check {self.number}{piece}{less}"

    def note(self, unit: str) -> str:
        return _note(self.piece, self.made, unit)


def checks_read(
    shares: Sequence[Share],
    names: Sequence[str],
    resolution: float,
    unit: str,
    *,
    is_offset_in: bool,
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
        on = on_pieces(share)
        if bracket.opening_check is None and weight == 0 and not on:
            unnamed += _both(bracket, lever, name, unit)
            continue
        for (number, side, piece), doubt, made, sensitivity in _read(
            bracket, (weight, lever), on, resolution
        ):
            key = (index, side, piece) if number is None else (number, piece)
            line = lines.get(key)
            if line is None:
                is_own = piece in (bracket.piece, bracket.closing_piece)
                line = lines[key] = _Line(
                    number, side, name, piece, zero_off=bracket.zero_off, is_beside=not is_own
                )
            line.sensitivity += sensitivity
            if doubt.u > line.doubt.u:
                line.doubt, line.made = doubt, made
    named = [
        _term(line.what, line.doubt, line.sensitivity, line.note(unit))
        for line in sorted(lines.values(), key=lambda line: line.is_beside)
        if line.doubt.u > 0 and abs(line.sensitivity) > BALANCED
    ]
    return [*unnamed, *named]


_Where = tuple[int | None, str, str]
"""The number of a check, which end it is, and a piece of it."""


def _read(
    bracket: Bracket, of_all: Effect, on: Sequence[OnPiece], resolution: float
) -> Iterator[tuple[_Where, Combined, _Made, float]]:
    """What each check read of each piece: how well, of what that is made, and what its error does.

    `of_all` are W and L of what is the same for all readings.
    """
    opening, closing = bracket.opening_check, bracket.closing_check
    is_drift_read = _is_drift_read(bracket)
    weight, lever = of_all
    then = _Made(bracket.opening_step, zero_off=bracket.zero_off)
    # A zero that the closing check did not read was not taken off there.
    after = _Made(bracket.closing_step, None, "" if bracket.is_zero_open else bracket.zero_off)
    for beside, own, grown in on or (OnPiece(None, 0.0, 0.0),):
        steady = grown if is_drift_read else 0.0
        if beside is not None:
            where = opening, "opening", beside.piece
            yield where, beside.opening_doubt, then, own - steady
            yield (closing, "closing", beside.piece), beside.closing_doubt, after, steady
            continue
        doubt, made = bracket.opening_doubt, then
        least = resolution / math.sqrt(12)
        if (weight != 0 or own != 0) and doubt.u < least:
            # No offset is known better than the display shows it.
            doubt, made = Combined(least, math.inf), _Made(resolution, is_floor=True)
        yield (opening, "opening", bracket.piece), doubt, made, weight - lever + own - steady
        if _is_told_by_another(bracket):
            after = after._replace(before=bracket.opening_step)
        told_by = bracket.closing_piece or bracket.piece
        yield (closing, "closing", told_by), bracket.closing_doubt, after, lever + steady


def _is_told_by_another(bracket: Bracket) -> bool:
    return bracket.closing_piece not in ("", bracket.piece)


def _weights(share: Share, bracket: Bracket, *, is_offset_in: bool) -> tuple[float, float]:
    """W and L of a share; what is nothing but rounding is zero."""
    weight = 0.0 if share.is_balanced or not is_offset_in else share.weight
    is_read = _is_drift_read(bracket)
    return weight, share.lever if is_read and abs(share.lever) > BALANCED else 0.0


def _is_drift_read(bracket: Bracket) -> bool:
    # A drift that was given as exact is so however the checks were read.
    return bracket.drift is not None and (
        bracket.opening_doubt.u > 0 or bracket.closing_doubt.u > 0
    )


def _both(bracket: Bracket, lever: float, name: str, unit: str) -> Iterator[Term]:
    """Checks without a number cannot be those of another bracket: both in one line."""
    opening, closing = bracket.opening_doubt, bracket.closing_doubt
    if lever != 0:
        both = welch_satterthwaite([opening.u, closing.u], [opening.nu, closing.nu])
        made = _Made(bracket.closing_step, bracket.opening_step, bracket.zero_off)
        note = _note(bracket.piece, made, unit)
        yield _term(f"reading of the checks, {name}", both, lever, note)


@lru_cache(maxsize=1024)
def _note(piece: str, made: _Made, unit: str) -> str:
    """How u is made, so that it can be made again from what the checks list."""
    read, sign = piece or "the piece", suffix(unit)
    over = ", all over the weight of the sled" if unit == _OF_A_SLED else ""
    if made.is_floor:
        return (
            f"u = step/√12 with the step by which the readings are shown{over} "
            f"({made.step:.4g}{sign} a step): no offset is known better than that, and s²/n + "
            f"step²/12 of {read} at that check, by the step of the check, came to less."
        )
    steps = (made.step,) if made.before is None else (made.before, made.step)
    also = f" and of {made.zero_off} (no load), which was taken off it" if made.zero_off else ""
    added = ", added up" if made.zero_off or len(steps) > 1 else ""
    where = _BOTH if len(steps) > 1 else "that check"
    head = f"u² = s²/n{' + step²/12' if any(steps) else ''} of {read}{also} at {where}{added}, with"
    scatter = "the standard deviation s and the number n of its readings"
    if not any(steps):
        return f"{head} {scatter}{over}. By which step of the display it was read is not known."
    size = (
        f"{steps[0]:.4g}{sign} a step"
        if len(set(steps)) == 1
        else f"{steps[0]:.4g}{sign} a step at the first and {steps[-1]:.4g}{sign} at the second"
    )
    return (
        f"{head} {scatter} (of a single one the step alone) and the step of the display{over} "
        f"({size})."
    )


def _term(name: str, doubt: Combined, sensitivity: float, note: str) -> Term:
    return Term(
        name,
        Kind.B if math.isinf(doubt.nu) else Kind.A,
        doubt.u,
        doubt.nu,
        sensitivity,
        Distribution.NORMAL,
        note,
        is_common=True,
    )
