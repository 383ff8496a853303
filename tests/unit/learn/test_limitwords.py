"""Words on the limits of a number (HI, GO, LO), of which few presses show each but once."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.cli.lessonwords import telling
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
FORCE = About(Quantity.FORCE, unit="newton")
PRESSES = [
    ("39.57", "HI"), ("27.19", "GO"), ("5.13", "LO"), ("40.12", "HI"), ("3.11", "LO"),
    ("28.04", "GO"),
]  # fmt: skip
FORMS = ["{v:>6} N {w}", "{w} {v:>6} N", "{v} N,{w}", "{w};{v};N"]


def taught(form: str, presses: list[tuple[str, str]]) -> Finding:
    sent = [f"{form.format(v=v, w=word)}\r\n".encode() for v, word in presses]
    told = [Press(b, Decimal(v)) for b, (v, _) in zip(sent, presses, strict=True)]
    return learn(told, FORCE, REGISTRY)


@pytest.mark.parametrize("form", FORMS)
def test_a_word_that_is_another_one_at_each_of_three_presses_asks_for_a_press_and_says_why(
    form: str,
) -> None:
    found = taught(form, PRESSES[:3])
    assert found.outcome is Outcome.MORE
    assert len(found.left) == 1
    (why,) = found.believed
    assert "'HI', 'GO', 'LO'" in why
    assert telling(found) == [why, "wanted: a press that reads much like one before"]


@pytest.mark.parametrize("form", FORMS)
def test_once_such_words_have_come_again_the_line_is_learned_and_another_word_is_noise(
    form: str,
) -> None:
    found = taught(form, PRESSES)
    assert found.outcome is Outcome.SURE, found.believed
    sent = [f"{form.format(v='31.42', w=word)}\r\n".encode() for word in ("GO", "ER")]
    good, strange = readings("line", found.profile, sent, REGISTRY)
    assert [reading.value for reading in good] == [Decimal("31.42")]
    assert not strange


def test_words_that_never_come_again_are_never_learned() -> None:
    words = ["HI", "GO", "LO", "OK", "NG", "UP"]
    presses = [(v, word) for (v, _), word in zip(PRESSES, words, strict=True)]
    for count in range(3, len(presses) + 1):
        assert taught(FORMS[0], presses[:count]).outcome in (Outcome.MORE, Outcome.NONE)


@pytest.mark.parametrize("form", ["{v} N*{w}", "{v} N,#{w}"])
def test_letters_in_the_place_of_a_checksum_in_a_byte_are_no_words(form: str) -> None:
    presses = [(v, letter) for (v, _), letter in zip(PRESSES, "KQZ", strict=False)]
    assert taught(form, presses).outcome is Outcome.NONE


@pytest.mark.parametrize("form", FORMS)
def test_a_letter_in_a_field_of_its_own_may_be_such_a_word_and_is_asked_about(form: str) -> None:
    presses = [(v, word[0]) for v, word in PRESSES]
    found = taught(form, presses[:3])
    assert found.outcome is Outcome.MORE
    assert "'H', 'G', 'L'" in found.believed[0]
    assert telling(found)[-1] == "wanted: a press that reads much like one before"
    found = taught(form, presses)
    assert found.outcome is Outcome.SURE, found.believed
    sent = [f"{form.format(v='31.42', w=word)}\r\n".encode() for word in "GE"]
    good, strange = readings("line", found.profile, sent, REGISTRY)
    assert [reading.value for reading in good] == [Decimal("31.42")]
    assert not strange


def test_letters_in_a_field_that_never_come_again_are_never_learned() -> None:
    presses = [(v, letter) for (v, _), letter in zip(PRESSES, "KQZEXB", strict=False)]
    for count in range(3, len(presses) + 1):
        assert taught(FORMS[2], presses[:count]).outcome in (Outcome.MORE, Outcome.NONE)


def test_a_checksum_in_a_byte_that_is_a_letter_so_far_is_used_as_one() -> None:
    bodies = [f"{v} N," for v in ("20.36", "33.68", "47.00", "59.21", "71.79")]
    made = []
    for body in bodies:
        total = 0
        for byte in body.encode():
            total ^= byte
        made.append(Press(body.encode() + bytes([total]) + b"\r\n", Decimal(body[:5])))
    letters = [press.data[-3:-2] for press in made]
    assert len({letter for letter in letters if letter.isalpha()}) == len(made), letters
    for count in range(3, len(made) + 1):
        found = learn(made[:count], FORCE, REGISTRY)
        assert found.outcome is not Outcome.SURE or "[checksum]" in found.profile
    assert found.outcome is Outcome.SURE, found.believed
