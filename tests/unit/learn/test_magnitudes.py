"""Integers that are a size with the sign in their top bit: common practice, no source."""

from __future__ import annotations

import struct
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.lesson.odd import odd_one
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
SMALL = ("9.1", "12.4", "-3.3", "0.7", "-20.0")
LARGE = (*SMALL, "33.3")
each_order = pytest.mark.parametrize("order", [">H", "<H"])


def framed(data: bytes) -> bytes:
    frame = b"\xf0" + data
    return frame + bytes((sum(frame) & 0xFF,))


def sent(shown: str, order: str = ">H") -> bytes:
    """A mark, tenths in 15 bits below their sign, and a sum."""
    size = abs(int(Decimal(shown) * 10))
    return framed(struct.pack(order, size | (0x8000 if shown[0] == "-" else 0)))


def taught(shown: tuple[str, ...], order: str = ">H", most: str | None = "500") -> Finding:
    limit = None if most is None else Decimal(most)
    about = About(Quantity.FORCE, unit="newton", most=limit)
    return learn([Press(sent(v, order), Decimal(v)) for v in shown], about, REGISTRY)


def read(found: Finding, frames: list[bytes]) -> list[str]:
    here = readings("frame", found.profile, frames, REGISTRY)
    return [str(one[0].value) if one else "noise" for one in here]


@each_order
def test_presses_of_both_signs_show_that_the_top_bit_is_the_sign(order: str) -> None:
    found = taught(LARGE, order)
    assert found.outcome is Outcome.SURE, found.believed
    assert 'sign = "top-bit"' in found.profile
    fresh = ["45.4", "-45.4", "300.0", "-300.0", "25.5", "-1.0", "0.0"]
    assert read(found, [sent(v, order) for v in fresh]) == fresh


@each_order
def test_a_size_that_was_never_beyond_a_byte_may_be_of_one_and_a_larger_number_is_asked_for(
    order: str,
) -> None:
    found = taught(SMALL, order)
    assert found.outcome is Outcome.MORE
    assert found.tell_above == Decimal("25.6")
    assert not any("no room" in words for words in (*found.believed, *found.unseen))


@each_order
def test_where_the_display_goes_no_further_than_a_byte_both_are_read_alike(order: str) -> None:
    found = taught(SMALL, order, "25")
    assert found.outcome is Outcome.SURE, found.believed
    assert read(found, [sent(v, order) for v in ("-24.9", "24.9")]) == ["-24.9", "24.9"]
    # Another bit of the byte with the sign may be a flag.
    place = 1 if order == ">H" else 2
    flagged = [framed(bytes(b | (at == place) for at, b in enumerate(sent("4.2", order)))[1:3])]
    assert read(found, flagged) == ["noise"]


@each_order
def test_a_larger_press_goes_with_the_others_and_nobody_is_suspected(order: str) -> None:
    presses = [Press(sent(v, order), Decimal(v)) for v in LARGE]
    about = About(Quantity.FORCE, unit="newton", most=Decimal(500))
    assert odd_one(presses, about, REGISTRY) is None
    mistyped = [*presses, Press(sent("8.8", order), Decimal("18.8"))]
    odd = odd_one(mistyped, about, REGISTRY)
    assert odd is not None
    assert (odd.place, odd.says) == (6, Decimal("8.8"))


def test_where_no_press_was_below_zero_the_top_bit_is_no_sign() -> None:
    found = taught(("9.1", "12.4", "33.3"))
    assert "sign" not in found.profile
    assert read(found, [sent("-9.1"), sent("9.2")]) == ["noise", "9.2"]


def test_of_presses_below_zero_alone_one_above_is_asked_for() -> None:
    below = ("-9.1", "-12.4", "-33.3")
    found = taught(below)
    assert (found.outcome, found.tell_above) == (Outcome.MORE, Decimal(0))
    assert "top bit" in found.believed[0]
    assert taught((*below, "0.4")).outcome is Outcome.SURE


def test_all_ones_are_no_number() -> None:
    for most in ("500", "4000", None):
        assert read(taught(LARGE, most=most), [framed(b"\xff\xff")]) == ["noise"]


def split(shown: str) -> bytes:
    """A byte of tenths, and one whose bit 10 says minus."""
    return framed(bytes((0x10 if shown[0] == "-" else 0, abs(int(Decimal(shown) * 10)))))


def test_a_byte_beside_the_number_that_tells_its_sign_may_have_more_of_it() -> None:
    about = About(Quantity.FORCE, unit="newton", most=Decimal(500))
    found = learn([Press(split(v), Decimal(v)) for v in SMALL], about, REGISTRY)
    (told, *_) = (words for words in found.unseen if "500 was said" in words)
    assert "no room beyond 25.5, unless byte 1, which tells its sign, has more of it" in told
