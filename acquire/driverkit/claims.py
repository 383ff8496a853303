"""Which bits the parts of a profile speak of, so that none is read as two things that exclude.

A place is whatever tells two parts of a message apart: a byte of a frame, a register with its
table. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from typing import NamedTuple

from acquire.errors import Fault

Bits = Mapping[Hashable, int]
"""Place to the bits of it."""

Demand = Mapping[Hashable, tuple[int, int]]
"""Place to the bits that are looked at, and what they have to be."""


class Claim(NamedTuple):
    """A part of a profile, by its path, and the bits it is read from."""

    path: str
    bits: Bits


def shared(one: Bits, other: Bits) -> bool:
    """Whether a bit belongs to both."""
    return any(bits & other.get(place, 0) for place, bits in one.items())


def clashes(claims: Sequence[Claim], against: Sequence[Claim] = ()) -> Iterator[Fault]:
    """Each claim on a bit that an earlier one has, or one of `against`."""
    for index, claim in enumerate(claims):
        for other in (*claims[:index], *against):
            if shared(claim.bits, other.bits):
                wanted = f"bits of its own: {other.path} is read from these"
                yield Fault(claim.path, "bits that are taken", wanted)
                break


def excludes(one: Demand, other: Demand) -> bool:
    """Whether both can never hold: a bit would have to be 0 and 1."""
    return any(
        (bits ^ other[place][1]) & looked_at & other[place][0]
        for place, (looked_at, bits) in one.items()
        if place in other
    )


def implies(one: Demand, other: Demand) -> bool:
    """Whether `other` holds wherever `one` does."""
    for place, (looked_at, bits) in other.items():
        mine, mine_are = one.get(place, (0, 0))
        if looked_at & ~mine or (mine_are ^ bits) & looked_at:
            return False
    return True
