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
from functools import cache, reduce
from itertools import count, product
from operator import xor
from typing import NamedTuple

from acquire.learn.proven import FIRSTS, MOST_CHANCE, Proven, settled
from acquire.learn.textproof import hexadecimal
from acquire.wire import CHECKSUMS, Form, Order, Proof, Sent

_AFTER = 2
"""So many bytes may stand behind it, or between it and what it covers."""
_BEHIND = 3
"""So many may stand behind one of bytes: a sign that closes the text, CR and LF."""
_TRIES = 16

_WRITTEN = (Form.BYTES, Form.HEX_UPPER, Form.HEX_LOWER)


def binary(frames: Sequence[bytes], taken: frozenset[int]) -> Proven:
    """The checksum of frames of one length. It has none of the places `taken`."""
    distinct = list(dict.fromkeys(frames))
    first, others = distinct[0], distinct[1:]
    moving = {i for i, seen in enumerate(zip(*distinct, strict=True)) if len(set(seen)) > 1}
    tried = 0
    found: list[tuple[int, Proof]] = []
    # Most are wrong in the first frame already; one sum serves all the ways in which it is sent.
    sums: dict[tuple[str, int, int], int] = {}
    for way, kinds in _ways().items():
        places = way.places(len(first))
        if moving.isdisjoint(places) or not taken.isdisjoint(places):
            continue
        own = [kind for kind in kinds if kind.first < places.start - kind.gap]
        if not own:
            continue
        tried += len(own)
        stands = own[0].proof(way, places).read(first[places.start : places.stop])
        if stands is None:
            continue
        for kind in own:
            last = places.start - kind.gap
            span = (kind.name, kind.first, last)
            if (told := sums.get(span)) is None:
                told = sums[span] = CHECKSUMS[kind.name].of(first[kind.first : last + 1])
            if told == stands:
                proof = kind.proof(way, places)
                if all(holds(proof, frame) for frame in others):
                    found.append((kind.number, proof))
    fits = [proof for _, proof in sorted(found)]
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


class _Way(NamedTuple):
    """Where a checksum stands, `behind` it so many bytes, and how it is sent."""

    size: int
    behind: int
    order: Order
    sent: Sent
    form: Form

    def places(self, length: int) -> range:
        """In frames of this length; none where they are too short for it."""
        at = length - self.size - self.behind
        return range(at, at + self.size) if at > 0 else range(0)


class _Kind(NamedTuple):
    """One of them, by its number: of the bytes from `first` to the `gap`th before it."""

    number: int
    name: str
    first: int
    gap: int

    def proof(self, way: _Way, places: range) -> Proof:
        at = places.start
        return Proof(self.name, self.first, at - self.gap, at, way.order, way.sent, way.form)


@cache
def _ways() -> dict[_Way, tuple[_Kind, ...]]:
    """Every checksum that frames could have, by places and how it is sent.

    Each place is told from the end, so that frames of all lengths are looked at by the same ones.
    """
    ways: dict[_Way, list[_Kind]] = {}
    numbers = count()
    for algorithm, form in product(CHECKSUMS.values(), _WRITTEN):
        orders: tuple[Order, ...] = ("big",) if algorithm.width_bits == 8 else ("big", "little")
        size = algorithm.width_bits // (8 if form is Form.BYTES else 4)
        for behind, first, gap in product(range(_BEHIND + 1), range(FIRSTS), (1, 2)):
            for order, sent in product(orders, Sent):
                way = _Way(size, behind, order, sent, form)
                kind = _Kind(next(numbers), algorithm.name, first, gap)
                ways.setdefault(way, []).append(kind)
    return {way: tuple(kinds) for way, kinds in ways.items()}


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
