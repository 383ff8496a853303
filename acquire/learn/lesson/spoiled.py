"""A press that does not fit the checksum that all others fit: a fault of the line changed it. Pure.

Fitted to all presses there would be no checksum then, and nothing would be checked for good. One is
kept that could hardly fit the others by chance, whichever press it is that does not. The search of
`acquire.learn.checksums.proven` is counted once for each press, or pair of presses, that may be
left out, and what it gave for frames that asked for the same digits only once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from typing import NamedTuple

from acquire.learn.checksums.proofs import binary, holds
from acquire.learn.checksums.proven import MOST_CHANCE, NONE_PROVEN, Proven
from acquire.learn.checksums.textproof import Tail, TextProof
from acquire.learn.lines.endings import end_of, endings_of
from acquire.learn.presses.framing import encoding_of, is_text, lines_of, terminator
from acquire.learn.presses.press import LEAST_PRESSES
from acquire.wire import Proof

_PAIRS_FROM = 8
"""Presses of which two may be spoiled."""
_ASKED_CHANCE = 0.05
"""Up to this another press is asked for: it would tell whether they do fit by chance."""


class Spoiled(NamedTuple):
    """The places of presses that do not fit the checksum `kind` that all others fit, and how likely
    these do by chance."""

    places: tuple[int, ...]
    kind: str
    chance: float

    @property
    def is_certain(self) -> bool:
        """Whether it could hardly be chance."""
        return self.chance <= MOST_CHANCE


def spoiled_of(data: Sequence[bytes]) -> Spoiled | None:
    """Which presses a checksum shows to be spoiled; None where none does, or that is not clear."""
    whole = _proven(data)[0].likely
    if len(data) <= LEAST_PRESSES or isinstance(whole, TextProof | Tail):
        return None
    sizes = (1, 2) if len(data) >= _PAIRS_FROM else (1,)
    for size in sizes:
        found = []
        ways = list(combinations(range(len(data)), size))
        for places in ways:
            others = [one for at, one in enumerate(data) if at not in places]
            proven, told = _proven(others)
            proof = proven.proof
            # All may fit as frames, and all but one as lines: then the end of one line is spoiled.
            if proof is None or (whole is not None and not isinstance(proof, TextProof)):
                continue
            if any(_fits_in_its_length(proof, data[at], len(others[0])) for at in places):
                # One with more digits or fewer is whole.
                continue
            chance = proven.tried * len(ways) * 2.0 ** (-proof.width_bits * told)
            name = proof.name if isinstance(proof, Proof) else proof.kind
            found.append(Spoiled(places, name, chance))
        if found:
            one = found[0] if len(found) == 1 else None
            return one if one is not None and one.chance <= _ASKED_CHANCE else None
    return None


def _fits_in_its_length(proof: Proof | TextProof, press: bytes, length: int) -> bool:
    """Whether a frame of another length than the others has such a checksum as far from its end."""
    more = len(press) - length
    if not isinstance(proof, Proof) or not more or proof.last + more <= proof.first:
        return False
    moved = replace(proof, last=proof.last + more, at=proof.at + more)
    return holds(moved, press)


def _proven(data: Sequence[bytes]) -> tuple[Proven, int]:
    """What proves these presses, as lines or else as frames, and how many checksums they had."""
    end = terminator(data) if is_text(data) else None
    if end is not None:
        end, code = end_of(data, end), encoding_of(data)
        bursts = [[line.decode(code) for line in lines_of(one, end)] for one in data]
        proven = endings_of(bursts).proven if all(bursts) else NONE_PROVEN
        proof = proven.proof
        if isinstance(proof, TextProof):
            lines = [line for burst in bursts for line in burst if proof.holds(line)]
            return proven, len({line[-proof.size :] for line in lines})
        if proven.likely is not None:
            return proven, 0
    if len(set(map(len, data))) > 1:
        return NONE_PROVEN, 0
    proven = binary(data, frozenset())
    proof = proven.proof
    told = {one[proof.at : proof.at + proof.size] for one in data if isinstance(proof, Proof)}
    return proven, len(told)
