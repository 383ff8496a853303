"""What a gauge reads with nothing on it, taken off its readings and off what its checks found.

A check reads a piece of no load: z0 at the opening, z1 at the closing. At a position p between them
(0 to 1) the gauge would have read (1 - p) z0 + p z1 with nothing on it, if its zero moved in a
straight line. A reading r becomes r less that; without a closing, r - z0. What the checks found of
the gauge at another piece is then what is left of it: a deviation d becomes d - z0, and a drift
less the drift of the zero. How well the zero was read adds to how well that piece was. Pure; any
thread.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from acquire.analysis.budget.uncertainty import Combined, welch_satterthwaite
from acquire.analysis.checks.bracket import Bracket, bracket_of
from acquire.analysis.checks.meterscale import EXACT
from acquire.analysis.samples.sample import Sample


@dataclass(frozen=True, slots=True)
class Zero:
    """How the gauge read with no load around some readings, in their unit.

    `closing` is None without a passed closing check that read it. `is_anchor` is set where the
    checks were held against the piece of no load itself, whose reading must not count twice.
    `piece` is its name.
    """

    opening: float
    closing: float | None
    opening_doubt: Combined = EXACT
    closing_doubt: Combined = EXACT
    is_anchor: bool = False
    piece: str = ""

    def at(self, position: float) -> float:
        """At a position between the checks."""
        if self.closing is None:
            return self.opening
        return (1 - position) * self.opening + position * self.closing


def zero_off(
    samples: Sequence[Sample], brackets: Sequence[Bracket], zeros: Mapping[int, Zero]
) -> tuple[tuple[Sample, ...], tuple[Bracket, ...]] | None:
    """Readings and brackets without the gauge's zero; None where one of them has none.

    `zeros` goes by the place of a bracket in `brackets`. Every reading must lie in a bracket with a
    zero: with and without the zero they must not meet in one mean.
    """
    if len(zeros) < len(brackets):
        return None
    places = {id(bracket): place for place, bracket in enumerate(brackets)}
    found = []
    for sample in samples:
        bracket = bracket_of(sample, brackets)
        if bracket is None:
            return None
        zero = zeros[places[id(bracket)]]
        found.append(replace(sample, value=sample.value - zero.at(bracket.position(sample.at_s))))
    return tuple(found), tuple(less_zero(b, zeros[k]) for k, b in enumerate(brackets))


def less_zero(bracket: Bracket, zero: Zero) -> Bracket:
    """What the checks found, of a gauge from whose readings its zero was taken off."""
    deviation, drift = bracket.opening_deviation, bracket.drift
    if drift is not None and zero.closing is not None:
        drift -= zero.closing - zero.opening
    beside = tuple(
        piece._replace(
            deviation=piece.deviation - zero.opening,
            drift=None
            if piece.drift is None or zero.closing is None
            else piece.drift - zero.closing + zero.opening,
            opening_doubt=_both(piece.opening_doubt, zero.opening_doubt, once=False),
            closing_doubt=_both(piece.closing_doubt, zero.closing_doubt, once=False),
        )
        for piece in bracket.beside
    )
    return replace(
        bracket,
        opening_deviation=None if deviation is None else deviation - zero.opening,
        drift=drift,
        opening_doubt=_both(bracket.opening_doubt, zero.opening_doubt, once=zero.is_anchor),
        closing_doubt=_both(bracket.closing_doubt, zero.closing_doubt, once=zero.is_anchor),
        foot=None,
        beside=beside,
        zero_off="" if zero.is_anchor else zero.piece,
        is_zero_open=drift is not None and zero.closing is None,
    )


def _both(one: Combined, other: Combined, *, once: bool) -> Combined:
    if once or other.u == 0:
        return one
    return welch_satterthwaite([one.u, other.u], [one.nu, other.nu])
