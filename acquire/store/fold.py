"""The fold of a chain of seals: a digest over the seals themselves and over all that comes in few.

A seal's own digest can only be told by reading every row before it. The fold goes over the seals as
they stand, what they name and their digests among it, and over the rows of all tables but those
whose rows come in bulk (`BULK`). So a store of millions of readings is read through in a moment,
and nothing that is told of a trial can be changed, taken out or put in unseen, whenever it was
recorded; which readings have to be held against their seals one by one follows from that. Folds are
kept beside the store (`acquire.store.heads`) by whoever records, never made up afterwards from what
is found there: a fold begins anew where it cannot be taken up, and between the last one kept and
that beginning nothing is known. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable
from hashlib import sha256

from acquire.store.seals import Line, SealRow, Stretch

BEGINNING = bytes(32)
"""The fold of a seal behind which folding begins."""

BULK = frozenset(("reading", "noise", "tape", "spectrum", "trace_block", "past_result"))
"""Tables of which a fold has the places of the rows in their seals, and not the rows."""


def folded(fold: bytes, seal: SealRow, lines: Iterable[Line]) -> bytes:
    """The fold behind one more seal; `lines` are those of its rows outside `BULK`, in its order."""
    digest = sha256(fold)
    digest.update(ascii(tuple(seal)).encode("ascii"))
    for line in lines:
        digest.update(b"\n")
        digest.update(line)
    return digest.digest()


def few(found: Iterable[tuple[Stretch, list[Line]]]) -> list[Line]:
    """The lines of a seal that go into its fold."""
    return [line for stretch, lines in found if stretch.table not in BULK for line in lines]
