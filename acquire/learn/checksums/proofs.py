"""Checksums of frames: which algorithm over which bytes gives what stands there. Pure; any thread.

Every algorithm of `acquire.wire` is tried over all spans that are usual, in every form a profile
can name. One is taken only if it fits every press and if so much could hardly come of chance; of
several that fit, only if they agree on frames that were not seen as well.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache, reduce
from itertools import product
from operator import xor
from typing import NamedTuple

from acquire.learn.checksums.proven import FIRSTS, MOST_CHANCE, NONE_PROVEN, Proven, settled
from acquire.learn.checksums.textproof import hexadecimal
from acquire.wire import CHECKSUMS, Form, Order, Proof, Sent

_AFTER = 2
"""So many bytes may stand behind it, or between it and what it covers."""
_BEHIND = 3
"""So many may stand behind one of bytes: a sign that closes the text, CR and LF."""
_TRIES = 16
_KEPT = 64
"""Frames of which it is kept what they have: more than a lesson has presses."""

_WRITTEN = (Form.BYTES, Form.HEX_UPPER, Form.HEX_LOWER)


def binary(frames: Sequence[bytes], taken: frozenset[int]) -> Proven:
    """The checksum of frames of one length. It has none of the places `taken`."""
    distinct = list(dict.fromkeys(frames))
    first, others = distinct[0], distinct[1:]
    moving = {i for i, seen in enumerate(zip(*distinct, strict=True)) if len(set(seen)) > 1}
    tried = 0
    fits: list[Proof] = []
    # Most are wrong in the first frame already.
    for tries in _tries(first):
        if moving.isdisjoint(tries.places) or not taken.isdisjoint(tries.places):
            continue
        tried += tries.number
        fits += [p for p in tries.fitting if all(holds(p, frame) for frame in others)]
    if not fits:
        return NONE_PROVEN._replace(tried=tried)
    return settled(_of_any(fits), tried, distinct, lambda p: p.width_bits, _same_on(distinct))


def _of_any(fits: Sequence[Proof]) -> list[Proof]:
    """The same, in letters of either kind where no press had one."""
    lower = [replace(p, form=Form.HEX_UPPER) for p in fits if p.form is Form.HEX_LOWER]
    upper = [p for p in fits if p.form is Form.HEX_UPPER]
    return [
        replace(p, form=Form.HEX) if p in lower else p
        for p in fits
        if p.form is not Form.HEX_LOWER or replace(p, form=Form.HEX_UPPER) not in upper
    ]


def summed(frames: Sequence[bytes], taken: frozenset[int]) -> frozenset[int]:
    """The byte near the end that goes with the sum of all before it, whatever it begins with.

    No profile can name such a checksum, but it is no word on the press. None of the places `taken`.
    """
    distinct = list(dict.fromkeys(frames))
    found = []
    tried = 0
    for at in range(max(1, len(frames[0]) - _AFTER - 1), len(frames[0])):
        if at in taken or len({frame[at] for frame in distinct}) == 1:
            continue
        for rest in _RESTS:
            tried += 1
            if len({rest(frame[:at], frame[at]) for frame in distinct}) == 1:
                found.append(at)
    is_chance = tried * 256.0 ** (1 - len(distinct)) > MOST_CHANCE
    return frozenset() if is_chance or len(set(found)) != 1 else frozenset(found)


def summed_digits(frames: Sequence[bytes], taken: frozenset[int]) -> frozenset[int]:
    """The hexadecimal digits near the end that are a sum of which it is open how it is made."""
    distinct = list(dict.fromkeys(frames))
    tried, found = 0, set[range]()
    for places, texts in digits_at_end(distinct, taken):
        kinds = [kind for kind in CHECKSUMS.values() if kind.width_bits == 4 * len(places)]
        for kind, sent, first, gap in product(kinds, Sent, range(FIRSTS), range(2)):
            tried += 1
            if all(
                hexadecimal(frame[first : places.start - gap], kind.name, sent, "X") == text
                for frame, text in zip(distinct, texts, strict=True)
            ):
                found.add(places)
    is_chance = tried * 256.0 ** -len(distinct) > MOST_CHANCE
    return frozenset() if is_chance or len(found) != 1 else frozenset(found.pop())


def digits_at_end(
    frames: Sequence[bytes], taken: frozenset[int]
) -> Iterator[tuple[range, list[str]]]:
    """Places near the end where hexadecimal digits stand that change, and those of each frame."""
    length = len(frames[0])
    for size, behind in product((2, 4), range(_AFTER + 1)):
        places = range(length - behind - size, length - behind)
        texts = [frame[places.start : places.stop].decode("latin-1") for frame in frames]
        is_one = places.start > 0 and taken.isdisjoint(places) and len(set(texts)) > 1
        if is_one and all(re.fullmatch("[0-9A-F]+|[0-9a-f]+", text) for text in texts):
            yield places, [text.upper() for text in texts]


_RESTS: tuple[Callable[[bytes, int], int], ...] = (
    lambda data, sent: (sent - sum(data)) & 0xFF,
    lambda data, sent: (sent + sum(data)) & 0xFF,
    lambda data, sent: reduce(xor, data, sent),
)
"""What is left of such a byte without the others."""


class _Tries(NamedTuple):
    """So many checksums that could stand at these places of a frame, and those that do."""

    places: range
    number: int
    fitting: tuple[Proof, ...]


@lru_cache(maxsize=_KEPT)
def _tries(frame: bytes) -> tuple[_Tries, ...]:
    """Every checksum that a frame could have, each algorithm by its form and place.

    Kept, for presses are looked at together with more of them, and without one, again and again.
    """
    # One sum serves all the ways in which it is sent, and what stands there all the algorithms.
    sums: dict[tuple[str, int, int], int] = {}
    sent: dict[tuple[int, Form, int], dict[int | None, list[tuple[Order, Sent]]]] = {}
    found = []
    for algorithm, form, behind in product(CHECKSUMS.values(), _WRITTEN, range(_BEHIND + 1)):
        bits, name = algorithm.width_bits, algorithm.name
        size = bits // (8 if form is Form.BYTES else 4)
        at = len(frame) - size - behind
        ends = product(range(FIRSTS), (at - 1, at - 2))
        spans = [(first, last) for first, last in ends if first < last]
        if not spans:
            continue
        orders: tuple[Order, ...] = ("big",) if bits == 8 else ("big", "little")
        if (stands := sent.get((bits, form, behind))) is None:
            stands = sent[bits, form, behind] = {}
            for way in product(orders, Sent):
                told = Proof(name, 0, at - 1, at, *way, form).read(frame[at : at + size])
                stands.setdefault(told, []).append(way)
        fitting: list[Proof] = []
        for first, last in spans:
            span = (name, first, last)
            if (made := sums.get(span)) is None:
                made = sums[span] = algorithm.of(frame[first : last + 1])
            fitting += [Proof(*span, at, *way, form) for way in stands.get(made, ())]
        number = len(spans) * len(orders) * len(Sent)
        found.append(_Tries(range(at, at + size), number, tuple(fitting)))
    return tuple(found)


def holds(proof: Proof, frame: bytes) -> bool:
    """Whether a frame has the checksum that it should have."""
    return _asked(proof, frame) == frame[proof.at : proof.at + proof.size]


def _same_on(frames: Sequence[bytes]) -> Callable[[Proof, Proof], bool]:
    """Whether two proofs ask for the same bytes in frames whose constant bytes are those seen."""
    randomness = random.Random(1)  # noqa: S311 - frames to try, not a secret
    varies = [i for i, seen in enumerate(zip(*frames, strict=True)) if len(set(seen)) > 1]
    tries = []
    for _ in range(_TRIES):
        frame = bytearray(frames[0])
        for place in varies:
            frame[place] = randomness.randrange(256)
        tries.append(bytes(frame))

    def same(one: Proof, other: Proof) -> bool:
        if (one.at, one.size) != (other.at, other.size):
            return False
        return all(_asked(one, frame) == _asked(other, frame) for frame in tries)

    return same


def _asked(proof: Proof, frame: bytes) -> bytes:
    return proof.written(CHECKSUMS[proof.name].of(frame[proof.first : proof.last + 1]))
