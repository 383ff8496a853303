"""Which of the checksums that fit all presses is taken: one that could hardly do so by chance."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeVar

from acquire.learn.checksums.textproof import Tail, TextProof
from acquire.wire import Proof

MOST_CHANCE = 1e-3
"""A coincidence that is more likely than this proves nothing."""

FIRSTS = 5
"""A checksum begins at one of so many bytes: with the marker or behind it."""

_Kind = TypeVar("_Kind", Proof, TextProof)


class Proven(NamedTuple):
    """`proof` fits all presses; None if none does or several that differ do.

    `tried` forms were tried, so that `chance` is how likely one of them fits by coincidence.
    `likely` is one of those that fit, for where the checksum stands. `is_likely_open`: it may fit
    by coincidence, and more presses would tell.
    """

    proof: Proof | TextProof | None
    chance: float
    tried: int
    rivals: int
    likely: Proof | TextProof | Tail | None = None
    is_likely_open: bool = False


NONE_PROVEN = Proven(None, 1.0, 0, 0)


def settled(
    fits: list[_Kind], tried: int, distinct: Sequence[object],
    bits: Callable[[_Kind], int], same: Callable[[_Kind, _Kind], bool],
) -> Proven:  # fmt: skip
    """What can be said of those that fit, of so many `tried`, on `distinct` messages."""
    if not fits:
        return Proven(None, 1.0, tried, 0)
    # A sum of 16 bits holds that of 8 in its lower byte: then the upper one would be there for
    # nothing. If it is after all, frames will be noise and no value wrong.
    widest = max(map(bits, fits))
    fits = [fit for fit in fits if bits(fit) == widest]
    best = fits[0]
    chance = min(1.0, tried * 2.0 ** (-bits(best) * len(distinct)))
    rivals = sum(not same(best, other) for other in fits)
    if chance > MOST_CHANCE:
        return Proven(None, chance, tried, 0)
    if rivals:
        # Of hexadecimal digits it may be no more than which letters they have.
        return Proven(None, chance, tried, rivals + 1, best)
    return Proven(best, chance, tried, 0, best)
