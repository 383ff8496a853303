"""A word of a line that went one to one with its geometry is held to it, as a byte in a frame."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

SHOWN = ("91.4", "45.2", "12.0", "33.3", "70.8", "55.5")
REGISTRY = Registry()
ABOUT = About(Quantity.GLOSS, most=Decimal(120), least=Decimal(0))
FORMS = ("{a} {c} {v} GU", "{a},{c},{v},GU", "{c};{a};{v};GU", "{a} {v} GU {c}", "G{a} {v} GU {c}")
ROUND = ("20", "60", "85", "20")
CODES = ({"20": "A", "60": "B", "85": "C"}, {"20": "1", "60": "2", "85": "3"},
         {"20": "P1", "60": "P2", "85": "P3"})  # fmt: skip


def sent(form: str, angle: str, code: str, value: str) -> bytes:
    return f"{form.format(a=angle, c=code, v=value)}\r\n".encode()


def taught(form: str, *rows: Sequence[str]) -> Finding:
    pressed = [
        Press(sent(form, angle, code, value), Decimal(value))
        for (angle, code), value in zip(rows, SHOWN, strict=False)
    ]
    return learn(pressed, ABOUT, REGISTRY)


def told_by(found: Finding, form: str, *rows: Sequence[str]) -> list[str]:
    """As which geometry a press with these words is read; empty where it is noise."""
    assert found.outcome is Outcome.SURE, found.believed
    data = [sent(form, angle, code, "50.0") for angle, code in rows]
    here = readings(found.family, found.profile, data, REGISTRY)
    return [one[0].channel if one else "" for one in here]


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("codes", CODES)
def test_a_line_in_which_its_word_and_its_geometry_part_is_noise(
    form: str, codes: dict[str, str]
) -> None:
    found = taught(form, *((angle, codes[angle]) for angle in ROUND))
    assert told_by(found, form, *codes.items()) == [*codes]
    parted = [(angle, codes[other]) for angle in codes for other in codes if angle != other]
    assert told_by(found, form, *parted) == [""] * 6
    first, *_ = codes.values()
    assert any(f"{first!r} at 20" in words for words in found.believed)
    assert any("a geometry beside another word" in words for words in found.unseen)


def test_three_presses_of_words_that_would_be_held_anyway_are_held_to_their_geometry() -> None:
    form = FORMS[0]
    found = taught(form, ("20", "A"), ("60", "B"), ("85", "C"))
    assert told_by(found, form, ("20", "A"), ("20", "B"), ("60", "A")) == ["20", "", ""]


def test_words_of_which_none_came_again_ask_for_another_press_as_before() -> None:
    found = taught(FORMS[0], ("20", "KA"), ("60", "RB"), ("85", "MC"))
    assert found.outcome is Outcome.MORE
    assert "had another word beside its number" in found.believed[0]


def test_a_word_that_was_the_same_at_two_geometries_is_held_to_none() -> None:
    form = FORMS[3]
    found = taught(form, ("20", "A"), ("60", "B"), ("20", "B"), ("60", "A"))
    assert told_by(found, form, ("20", "A"), ("20", "B"), ("60", "A"), ("60", "C")) == [
        "20", "20", "60", "",
    ]  # fmt: skip


@pytest.mark.parametrize("codes", [("OK", "LOBAT"), ("23", "24")])
def test_words_on_a_press_and_what_is_measured_are_no_codes(codes: tuple[str, str]) -> None:
    form = "{a};{c} C;{v};GU" if codes[0].isdecimal() else "{a};{c};{v};GU"
    found = taught(form, ("20", codes[0]), ("60", codes[1]), ("20", codes[0]), ("60", codes[1]))
    assert "geometry_again" not in found.profile
