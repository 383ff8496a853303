"""What intervals take for granted of a meter's scale where no check tells how far it is bent.

Two pieces draw a line, one piece not even that, and how far the meter errs off that line in between
no reading of theirs says. What a third piece tells is in the budgets
(`acquire.analysis.meter.metergain`); what nobody read is in none, and it is said here. Films have
words of their own (`acquire.analysis.rules.filmrules`). Pure; any thread.
"""

from __future__ import annotations

from collections import Counter
from typing import NamedTuple

from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.treatments.basis import Basis

_STRAIGHT = "the meter's scale to be straight from {low} to {high}"
_THIRD = "a third piece, which near the level of the zones would tell how far it is bent"
_TWO_MORE = (
    "another piece: one at zero would tell its gain, and one near the level of the zones how far "
    "it is bent"
)
_SAME = "the meter to be off at all readings by as much as at {low}"
_ABOVE = "a piece above zero, which near the level of the zones would tell how it errs there"
_DRAWN = (
    " Bent by b in its middle, a scale is 4 p (1 − p) b off at the part p of the way. Of drawn "
    "means of zones at 60 GU, by quiet gloss meters that were bent by 0.5 GU (standard deviation) "
    "between a trap and a tile of 93.2 GU, 51 of 100 intervals of 95 % held, and 98 where a tile "
    "of 50 GU was read besides; of net changes 99 did either way."
)
"""300 drawn trials a figure: four treatments of two zones that do not differ, two stages, three
readings that scatter by 0.08 GU, drift and offset of 0.05 GU, tiles certified to 0.2 GU."""


class _Line(NamedTuple):
    """What is taken for granted, between which pieces, and what was not read."""

    taken: str
    low: str
    high: str
    unread: str


def straight_lines(basis: Basis) -> tuple[str, ...]:
    """A sentence for each line that readings go by of which nothing tells whether it is straight.

    Empty where checks read a third piece, under no check and of films.
    """
    if basis.scale.is_ratio:
        return ()
    held = [h for cell in basis.cells for h in cell.holdings]
    counts: Counter[_Line] = Counter()
    for h in held:
        line = _line(h.bracket) if h.bracket is not None else None
        if line is not None:
            counts[line] += h.readings
    total = sum(h.readings for h in held)
    return tuple(
        f"The intervals take {line.taken.format(low=line.low, high=line.high)}: no check around "
        f"{'these readings' if n == total else f'{n} of the {total} readings'} read {line.unread}. "
        "What the meter is off by beside that is in no interval; it counts in full in the mean of "
        "a zone, and in a change by a part of the change."
        for line, n in counts.items()
    )


def straight_rules(basis: Basis) -> tuple[str, ...]:
    """The same as rules, with what a bend does."""
    *others, last = straight_lines(basis) or ("",)
    return (*others, last + _DRAWN) if last else ()


def _line(bracket: Bracket) -> _Line | None:
    """None where a bend is told, or where no piece was read at all."""
    rise = bracket.rise
    if not bracket.piece or bracket.certified is None or (rise is not None and rise.kinks):
        return None
    if bracket.foot is None and not bracket.certified:
        return _Line(_SAME, bracket.piece, "", _ABOVE)
    foot = bracket.foot.piece if bracket.foot is not None else bracket.zero_off
    low, high = foot or "zero", bracket.piece
    if bracket.foot is not None and bracket.foot.certified > bracket.certified:
        low, high = high, low
    return _Line(_STRAIGHT, low, high, _THIRD if foot else _TWO_MORE)
