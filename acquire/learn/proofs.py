"""Checksums: which algorithm over which bytes gives what stands in every frame. Pure; any thread.

Every algorithm of `acquire.wire` is tried over all spans that are usual, in every form a profile
can name. One is taken only if it fits every press and if so much could hardly come of chance; of
several that fit, only if they agree on frames that were not seen as well.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache, partial, reduce
from itertools import product
from operator import xor
from typing import NamedTuple, TypeVar

from acquire.learn.framing import encoded
from acquire.learn.sums import DECIMAL, SUMS, WEIGHTED
from acquire.wire import CHECKSUMS, Form, Order, Proof, Sent

MOST_CHANCE = 1e-3
"""A coincidence that is more likely than this proves nothing."""

_FIRSTS = 5
"""A checksum begins at one of so many bytes: with the marker or behind it."""
_AFTER = 2
"""So many bytes may stand behind it, or between it and what it covers."""
_BEHIND = 3
"""So many may stand behind one of bytes: a sign that closes the text, CR and LF."""
_TRIES = 16

_FORMS = ("hex-upper", "hex-lower")
_WRITTEN = (Form.BYTES, Form.HEX_UPPER, Form.HEX_LOWER)


class TextProof(NamedTuple):
    """The checksum at the end of a line, as the profile names it."""

    kind: str
    form: str
    after: str
    first: int = 0
    with_after: bool = False
    sent: Sent = Sent.PLAIN

    @property
    def width_bits(self) -> int:
        """Bits of the checksum itself."""
        return CHECKSUMS[self.kind].width_bits

    @property
    def size(self) -> int:
        """Digits that it has."""
        return self.width_bits // 4

    def holds(self, line: str) -> bool:
        """Whether a line ends in it."""
        body, told = line[: -self.size], line[-self.size :]
        if not body.endswith(self.after):
            return False
        covered = body if self.with_after else body[: len(body) - len(self.after)]
        made = _hexadecimal(
            encoded(covered[self.first :]), self.kind, self.sent,
            "x" if self.form == "hex-lower" else "X",
        )  # fmt: skip
        return (told.upper() if self.form == "hex" else told) == made


class Tail(NamedTuple):
    """A sum at the end of a line that no profile can name: its digits are explained, no more."""

    after: str
    size: int
    pattern: str


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


def binary(frames: Sequence[bytes], taken: frozenset[int]) -> Proven:
    """The checksum of frames of one length. It has none of the places `taken`."""
    distinct = list(dict.fromkeys(frames))
    first, others = distinct[0], distinct[1:]
    moving = {i for i, seen in enumerate(zip(*distinct, strict=True)) if len(set(seen)) > 1}
    tried = 0
    found: list[tuple[int, Proof]] = []
    # Most are wrong in the first frame already; one sum serves all the ways in which it is sent.
    sums: dict[tuple[str, int, int], int] = {}
    for way, proofs in _ways(len(first)):
        places = range(way.at, way.at + way.size)
        if moving.isdisjoint(places) or not taken.isdisjoint(places):
            continue
        tried += len(proofs)
        stands = way.read(first[way.at : places.stop])
        if stands is None:
            continue
        for number, proof in proofs:
            span = (proof.name, proof.first, proof.last)
            if (told := sums.get(span)) is None:
                told = CHECKSUMS[proof.name].of(first[proof.first : proof.last + 1])
                sums[span] = told
            if told == stands and all(_holds(proof, frame) for frame in others):
                found.append((number, proof))
    fits = [proof for _, proof in sorted(found)]
    return _settled(_of_any(fits), tried, distinct, lambda p: p.width_bits, _same_on(distinct))


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
        for kind, sent, first, gap in product(kinds, Sent, range(_FIRSTS), range(2)):
            tried += 1
            if all(
                _hexadecimal(frame[first : places.start - gap], kind.name, sent, "X") == text
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


def text(lines: Sequence[str]) -> Proven:
    """The checksum in hexadecimal digits at the end of lines, without their terminator."""
    distinct = list(dict.fromkeys(lines))
    tried = 0
    fits: list[TextProof] = []
    if not distinct:
        return NONE_PROVEN
    firsts = _firsts(distinct)
    for algorithm in CHECKSUMS.values():
        digits = algorithm.width_bits // 4
        for after, with_after in _afters(distinct, digits):
            for form, first, sent in product(_FORMS, firsts, Sent):
                proof = TextProof(algorithm.name, form, after, first, with_after, sent)
                tried += 1
                if all(map(proof.holds, distinct)):
                    fits.append(proof)
    return _settled(_of_either(fits), tried, distinct, lambda p: p.width_bits, lambda a, b: a == b)


def _afters(lines: Sequence[str], digits: int) -> Iterator[tuple[str, bool]]:
    """What may stand before so many digits in every line, and whether a sum may cover it, too."""
    is_marked = False
    for size in range(1, 5):
        afters = {line[-digits - size : -digits] for line in lines}
        after = min(afters)
        if len(afters) > 1 or len(after) < size or not _is_after(after):
            continue
        yield after, False
        if size == 1:
            # A longer one would be covered no further.
            is_marked = True
            yield after, True
    if not is_marked:
        yield "", False


def _of_either(fits: Sequence[TextProof]) -> list[TextProof]:
    """The same, in letters of either kind where no press had one."""
    upper = [fit for fit in fits if fit.form == "hex-upper"]
    lower = [fit._replace(form="hex-upper") for fit in fits if fit.form == "hex-lower"]
    return [fit._replace(form="hex") if fit in lower else fit for fit in upper] + [
        fit._replace(form="hex-lower") for fit in lower if fit not in upper
    ]


def _firsts(lines: Sequence[str]) -> list[int]:
    """Where what a sum covers may begin: with the line, or behind signs that begin every line."""
    marks = [
        place
        for place in range(1, _MOST_MARKS + 1)
        if len({line[:place] for line in lines}) == 1
        and not any(sign.isalnum() or sign in "+-. " for sign in lines[0][:place])
        and len(lines[0]) > place
    ]
    return [0, *marks]


_MOST_MARKS = 2
_LEAST_LINES = 2


def tail(lines: Sequence[str]) -> tuple[Tail | None, bool]:
    """A sum at the end of lines that fits all of them and that no profile can name.

    And whether it could hardly come of chance; without that more lines would tell.
    """
    distinct = list(dict.fromkeys(lines))
    tried = 0
    fits: list[tuple[int, Tail]] = []
    if len(distinct) < _LEAST_LINES:
        return None, False
    firsts = _firsts(distinct)
    for size, values, digits_of, what in _tails():
        for gap in range(5):
            afters = {line[-size - gap : -size] for line in distinct}
            after = min(afters, default="")
            if len(afters) > 1 or len(after) < gap:
                continue
            for covered, first in product({size, size + gap}, firsts if size > 1 else (0,)):
                tried += 1
                if all(
                    line[-size:] == digits_of(encoded(line[first:-covered])) for line in distinct
                ):
                    fits.append((values, Tail(after, size, what)))
    if not fits:
        return None, False
    most, best = max(fits, key=lambda fit: (fit[0], -len(fit[1].after)))
    return best, tried * float(most) ** -len(distinct) <= MOST_CHANCE


def _tails() -> Iterator[tuple[int, int, Callable[[bytes], str], str]]:
    """Digits of every such sum, how many values it has, how it is made, and its pattern."""
    for kind, sum_of in SUMS.items():
        for size, values in DECIMAL:
            if kind in WEIGHTED and size > 1:
                continue
            for negated in (False, True):
                make = partial(_decimal, sum_of=sum_of, size=size, values=values, negated=negated)
                yield size, values, make, rf"\d{{{size}}}"
    for algorithm in CHECKSUMS.values():
        for sent in Sent:
            for letter in "Xx":
                size = algorithm.width_bits // 4
                make = partial(_hexadecimal, kind=algorithm.name, sent=sent, letter=letter)
                letters = "A-F" if letter == "X" else "a-f"
                yield size, 1 << algorithm.width_bits, make, f"[0-9{letters}]{{{size}}}"


def _decimal(
    data: bytes, sum_of: Callable[[bytes], int], size: int, values: int, *, negated: bool
) -> str:
    told = sum_of(data)
    return f"{(-told if negated else told) % values:0{size}d}"


def _hexadecimal(data: bytes, kind: str, sent: Sent, letter: str) -> str:
    algorithm = CHECKSUMS[kind]
    told = sent.of(algorithm.of(data), algorithm.width_bits)
    return format(told, f"0{algorithm.width_bits // 4}{letter}")


def _settled(
    fits: list[_Kind], tried: int, distinct: Sequence[object],
    bits: Callable[[_Kind], int], same: Callable[[_Kind, _Kind], bool],
) -> Proven:  # fmt: skip
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


@lru_cache(maxsize=16)
def _ways(length: int) -> tuple[tuple[Proof, tuple[tuple[int, Proof], ...]], ...]:
    """Every checksum that frames of a length could have, numbered, by places and how it is sent.

    Each with one of them, since all of them read alike what stands there.
    """
    ways: dict[object, list[tuple[int, Proof]]] = {}
    for number, proof in enumerate(_possible(length)):
        way = (proof.at, proof.width_bits, proof.order, proof.sent, proof.form)
        ways.setdefault(way, []).append((number, proof))
    return tuple((proofs[0][1], tuple(proofs)) for proofs in ways.values())


def _possible(length: int) -> Iterator[Proof]:
    for algorithm, form in product(CHECKSUMS.values(), _WRITTEN):
        orders: tuple[Order, ...] = ("big",) if algorithm.width_bits == 8 else ("big", "little")
        size = algorithm.width_bits // (8 if form is Form.BYTES else 4)
        for behind in range(_BEHIND + 1):
            at = length - size - behind
            for first, last in product(range(_FIRSTS), (at - 1, at - 2)):
                if first < last:
                    for order, sent in product(orders, Sent):
                        yield Proof(algorithm.name, first, last, at, order, sent, form)


def _holds(proof: Proof, frame: bytes) -> bool:
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


def _is_after(text: str) -> bool:
    return text.isascii() and not text[-1].isalnum()
