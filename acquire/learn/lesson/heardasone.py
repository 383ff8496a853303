"""Several presses that were heard as one: frames of the usual length, one behind the other. Pure.

Whoever presses again before the last press is over glues them, and nobody can say then which of
them showed the number that was typed. Lines are told apart by their ends, and are none of this.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from acquire.learn.checksums.proofs import binary, holds
from acquire.learn.presses.framing import is_text, terminator
from acquire.wire import Proof

_LEAST = 2
"""Presses of one length make it the usual one; bytes that all of them share mark a frame."""


def heard_as_one(data: Sequence[bytes]) -> dict[int, int]:
    """The place of each press that is several, and how many; of binary presses alone."""
    if is_text(data) and terminator(data) is not None:
        return {}
    length, often = Counter(map(len, data)).most_common(1)[0]
    usual = [one for one in data if len(one) == length]
    if often < _LEAST or len(usual) == len(data):
        return {}
    found = {place: frames_in(one, usual) for place, one in enumerate(data)}
    return {place: count for place, count in found.items() if count > 1}


def frames_in(press: bytes, usual: Sequence[bytes]) -> int:
    """How many frames like the `usual` ones a press is, by checksum or marks; 0 where it is none.

    One that comes again and again is a single press.
    """
    length = len(usual[0]) if usual else 0
    if len(usual) < _LEAST or not length or len(press) % length or len(set(map(len, usual))) > 1:
        return 0
    parts = [press[at : at + length] for at in range(0, len(press), length)]
    if len(set(parts)) == 1:
        return 1
    proof = binary(usual, frozenset()).proof
    if isinstance(proof, Proof):
        return len(parts) if all(holds(proof, part) for part in parts) else 0
    marks = [at for at, seen in enumerate(zip(*usual, strict=True)) if len(set(seen)) == 1]
    is_marked = len(marks) >= _LEAST and 0 in marks
    is_alike = all(part[at] == usual[0][at] for part in parts for at in marks)
    return len(parts) if is_marked and is_alike else 0


def as_one_words(press: bytes, count: int) -> str:
    """What such a press is, and what to do."""
    return (
        f"{len(press)} bytes, which look like {count} presses of {len(press) // count} bytes that "
        "were heard as one, so that nobody can say which of them showed the number: press once at "
        "a time, and again only once you are told to"
    )
