"""A frame that says its geometry at several places is held to all of them."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

SHOWN = ("91.4", "45.2", "12.0", "33.3")
REGISTRY = Registry()
ABOUT = About(Quantity.GLOSS, most=Decimal(120), least=Decimal(0))
PLAIN = {20: 0x14, 60: 0x3C, 85: 0x55}
PACKED = {20: 0x20, 60: 0x60, 85: 0x85}
CODE = {20: 0x01, 60: 0x02, 85: 0x03}
ANGLES = (20, 60, 85, 20)


def sent(first: int, value: str, *behind: int) -> bytes:
    """Start mark, a geometry, tenths in two bytes, what says it once more, end mark."""
    tenths = int(Decimal(value) * 10).to_bytes(2, "big")
    return bytes((0xAA, first)) + tenths + bytes((*behind, 0xBB))


def taught(*rows: Sequence[int]) -> Finding:
    """Of the bytes that say the geometry in each frame, the first before its number."""
    pairs = zip(rows, SHOWN, strict=False)
    pressed = [Press(sent(row[0], value, *row[1:]), Decimal(value)) for row, value in pairs]
    return learn(pressed, ABOUT, REGISTRY)


def told_by(found: Finding, *rows: Sequence[int]) -> list[str]:
    """As which geometry a press with these bytes is read; empty where it is noise."""
    data = [sent(row[0], "50.0", *row[1:]) for row in rows]
    here = readings(found.family, found.profile, data, REGISTRY)
    return [one[0].channel if one else "" for one in here]


@pytest.mark.parametrize("again", [PLAIN, PACKED, CODE])
def test_two_bytes_that_say_it_have_to_say_the_same(again: dict[int, int]) -> None:
    found = taught(*((PLAIN[angle], again[angle]) for angle in ANGLES))
    assert found.outcome is Outcome.SURE, found.believed
    assert "geometry_again = [{ offset = 4 }]" in found.profile
    assert told_by(found, *((PLAIN[one], again[one]) for one in (20, 60, 85))) == ["20", "60", "85"]
    parted = [
        (PLAIN[one], again[two]) for one in (20, 60, 85) for two in (20, 60, 85) if one != two
    ]
    assert told_by(found, *parted) == [""] * 6
    assert any("byte 4 went with the geometry" in one for one in found.believed)


def test_the_codes_of_one_place_are_none_at_the_other() -> None:
    found = taught(*((PLAIN[angle], PACKED[angle]) for angle in ANGLES))
    assert told_by(found, (0x20, 0x20), (0x14, 0x14), (0x60, 0x60)) == ["", "", ""]


def test_of_three_places_all_are_held_to_one_another() -> None:
    found = taught(*((PLAIN[a], PLAIN[a], CODE[a]) for a in ANGLES))
    assert "geometry_again = [{ offset = 4 }, { offset = 5 }]" in found.profile
    assert told_by(found, (0x14, 0x14, 1), (0x14, 0x3C, 1), (0x14, 0x14, 2)) == ["20", "", ""]


def test_a_byte_that_was_the_same_at_two_geometries_is_not_held_to_them() -> None:
    found = taught((0x14, 1), (0x3C, 2), (0x14, 2), (0x3C, 1))
    assert "geometry_again" not in found.profile
    assert told_by(found, (0x14, 1), (0x14, 2), (0x14, 3)) == ["20", "20", ""]


def test_two_that_contradict_one_another_in_the_lesson_are_not_learned() -> None:
    found = taught((0x14, 0x14), (0x3C, 0x3C), (0x55, 0x3C), (0x14, 0x14))
    assert found.outcome is Outcome.MORE
    assert found.profile == ""
    assert found.is_anew
    assert found.believed == (
        "bytes 1 and 4 each say a geometry, and contradict one another: at press 3 byte 1 says 85 "
        "and byte 4 says 60",
    )
    assert found.next_step.startswith("set the meter to one geometry")
