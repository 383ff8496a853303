"""Checksums are taken only where they fit every press and could not well be a coincidence."""

from __future__ import annotations

import random

import pytest

from acquire.learn.checksums.proofs import binary
from acquire.learn.checksums.proven import MOST_CHANCE
from acquire.learn.checksums.textproof import TextProof
from acquire.learn.checksums.textproofs import text
from acquire.wire import CHECKSUMS, Proof
from tests.learning.checks import KINDS, checksum, width


def frames(kind: str, order: str, turned: str, count: int = 3) -> list[bytes]:
    dice = random.Random(f"{kind}{order}{turned}")
    made = []
    for _ in range(count):
        body = b"\xa5\x5a" + dice.randbytes(6)
        told = checksum(kind, body[2:])
        told = {"plain": told, "complement": ~told, "negate": -told}[turned]
        made.append(body + (told % (1 << 8 * width(kind))).to_bytes(width(kind), order))  # type: ignore[arg-type]
    return made


@pytest.mark.parametrize("turned", ["plain", "complement", "negate"])
@pytest.mark.parametrize("order", ["big", "little"])
@pytest.mark.parametrize("kind", KINDS)
def test_a_checksum_is_found_in_every_form(kind: str, order: str, turned: str) -> None:
    more = frames(kind, order, turned, 20)
    found = binary(more[:4], frozenset())
    assert isinstance(found.proof, Proof)
    assert found.chance < MOST_CHANCE
    for frame in more:
        (first, last), at = found.proof.span(len(frame)), found.proof.place(len(frame))
        asked = found.proof.sent_for(CHECKSUMS[found.proof.name].of(frame[first : last + 1]))
        assert int.from_bytes(frame[at : at + found.proof.size], found.proof.order) == asked


def test_bytes_without_a_checksum_have_none() -> None:
    dice = random.Random(3)
    for _ in range(40):
        assert binary([dice.randbytes(9) for _ in range(3)], frozenset()).proof is None


def test_one_press_proves_no_checksum_of_eight_bits() -> None:
    (one,) = frames("xor8", "big", "plain", 1)
    assert binary([one], frozenset()).proof is None
    assert binary([one, one, one], frozenset()).proof is None


def test_digits_without_a_letter_leave_open_which_letters_there_are() -> None:
    lines = []
    for value in range(1000, 1400):
        line = f"V{value}*{checksum('xor8', f'V{value}'.encode()):02X}"
        if line[-2:].isdecimal():
            lines.append(line)
    assert text(lines[:4]).proof == TextProof("xor8", "hex", "*")
    with_letter = next(
        f"V{v}*{checksum('xor8', f'V{v}'.encode()):02X}"
        for v in range(1000, 1400)
        if not f"{checksum('xor8', f'V{v}'.encode()):02X}".isdecimal()
    )
    assert text([*lines[:4], with_letter]).proof == TextProof("xor8", "hex-upper", "*")
