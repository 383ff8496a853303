"""Presses that differ from those of the lesson: read where they can only mean one thing.

What else stood still is named, so that whoever finds it as noise later knows why.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
FORCE = About(Quantity.FORCE, unit="newton")
GLOSS = About(Quantity.GLOSS, unit="gloss_unit", channel="60")


def taught(*pairs: tuple[str, str], about: About = FORCE) -> Finding:
    made = [Press(sent.encode(), Decimal(shown)) for sent, shown in pairs]
    found = learn(made, about, REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    return found


def read(found: Finding, *data: str) -> list[list[str]]:
    sent = [one.encode() for one in data]
    given = readings(found.family, found.profile, sent, REGISTRY)
    return [[str(reading.value) for reading in here] for here in given]


def test_a_number_of_fewer_digits_may_be_filled_up_before_it_or_behind_it() -> None:
    found = taught(("31.4 N\r\n", "31.4"), ("15.2 N\r\n", "15.2"), ("47.8 N\r\n", "47.8"))
    assert read(found, " 5.2 N\r\n", "5.2  N\r\n", "5.2 N\r\n", "105.2 N\r\n") == [
        ["5.2"], ["5.2"], ["5.2"], ["105.2"],
    ]  # fmt: skip
    assert read(found, "5. 2 N\r\n", "5 .2 N\r\n", "1 05.2 N\r\n") == [[], [], []]


def test_a_meter_that_showed_how_it_writes_fewer_digits_has_no_other_way() -> None:
    found = taught(("31.4 N\r\n", "31.4"), ("5.2 N\r\n", "5.2"), ("47.8 N\r\n", "47.8"))
    assert read(found, " 6.2 N\r\n", "6.2  N\r\n", "6.2 N\r\n") == [[], [], ["6.2"]]


@pytest.mark.parametrize("lines", [
    ("-15.6 N\r\n", "-22.1 N\r\n", "-16.0 N\r\n"), ("40.8 N\r\n", "40.1 N\r\n", "-25.4 N\r\n"),
    ("+15.3 N\r\n", "+38.7 N\r\n", "-36.0 N\r\n"), (" 0.8 N\r\n", "22.9 N\r\n", "-33.4 N\r\n"),
])  # fmt: skip
def test_spaces_between_a_sign_and_fewer_digits_change_nothing(lines: tuple[str, ...]) -> None:
    found = taught(*[(line, line.removesuffix(" N\r\n").strip()) for line in lines])
    assert read(found, "- 4.1 N\r\n", "-14.1 N\r\n") == [["-4.1"], ["-14.1"]]
    assert read(found, "--4.1 N\r\n", "- -4.1 N\r\n", "4.1- N\r\n") == [[], [], []]


def test_where_signs_stood_before_fewer_digits_spaces_between_are_noise() -> None:
    found = taught(("-5.6 N\r\n", "-5.6"), ("-22.1 N\r\n", "-22.1"), ("6.0 N\r\n", "6.0"))
    assert read(found, "- 4.1 N\r\n", "-4.1 N\r\n") == [[], ["-4.1"]]


def test_letters_that_tell_the_sign_may_stand_apart_from_fewer_digits() -> None:
    found = taught(("L11.0 N\r\n", "-11.0"), ("R47.3 N\r\n", "47.3"), ("L43.6 N\r\n", "-43.6"),
                   ("R16.2 N\r\n", "16.2"))  # fmt: skip
    assert read(found, "L 3.5 N\r\n", "R 3.5 N\r\n", "X 3.5 N\r\n") == [["-3.5"], ["3.5"], []]


def test_milliseconds_since_it_was_switched_on_may_be_those_of_a_year() -> None:
    found = taught(("137456 43.6 N\r\n", "43.6"), ("150456 64.3 N\r\n", "64.3"),
                   ("195456 47.4 N\r\n", "47.4"))  # fmt: skip
    assert read(found, "31536000456 77.4 N\r\n") == [["77.4"]]


def told(found: Finding) -> str:
    return "\n".join(found.unseen)


def test_numbers_beside_the_value_that_stood_still_are_named() -> None:
    found = taught(("46,51.3 GU\r\n", "51.3"), ("46,72.9 GU\r\n", "72.9"),
                   ("46,9.2 GU\r\n", "9.2"), about=GLOSS)  # fmt: skip
    assert read(found, "47,9.2 GU\r\n") == [[]]
    assert "same at every press: '46'" in told(found)
    assert "press again some minutes later" in told(found)


def test_digits_of_a_number_that_stood_still_are_named() -> None:
    found = taught(("0461,51.3 GU\r\n", "51.3"), ("0982,72.9 GU\r\n", "72.9"),
                   ("0117,9.2 GU\r\n", "9.2"), about=GLOSS)  # fmt: skip
    assert read(found, "0333,9.2 GU\r\n", "1461,9.2 GU\r\n") == [["9.2"], []]
    assert "the 0 of '0461'" in told(found)


def test_that_two_digits_had_no_letter_is_told() -> None:
    found = taught(("23,51.3 GU\r\n", "51.3"), ("18,72.9 GU\r\n", "72.9"),
                   ("22,19.2 GU\r\n", "19.2"), about=GLOSS)  # fmt: skip
    assert read(found, "B2,19.2 GU\r\n", "77,19.2 GU\r\n") == [[], ["19.2"]]
    assert "digits alone, as in '23'" in told(found)


def test_bytes_that_stood_still_are_named_by_their_places() -> None:
    numbers = (14724, 7202, 1900, 11900)
    made = [
        Press(b"\xa5\x16\x02" + number.to_bytes(2, "big") + b"\x00\x03", Decimal(number) / 10)
        for number in numbers
    ]
    about = About(Quantity.GLOSS, unit="gloss_unit", channel="60", most=Decimal(2000))
    found = learn(made, about, REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    assert "byte 1 to 2, byte 5" in told(found)


def test_nothing_is_named_where_all_that_is_no_word_has_changed() -> None:
    shown = {46: "51.3", 73: "72.9", 9: "9.2", 173: "19.2"}
    pairs = [(f"R,{beside},{value} GU\r\n", value) for beside, value in shown.items()]
    found = taught(*pairs, about=GLOSS)
    assert len(found.unseen) == 1


def test_that_longer_numbers_touch_others_is_told() -> None:
    found = taught(("T 24 89.5\r\n", "89.5"), ("T 25 12.9\r\n", "12.9"), ("T 27 81.8\r\n", "81.8"),
                   ("T 31 11.8\r\n", "11.8"), about=GLOSS)  # fmt: skip
    assert read(found, "T 25109.6\r\n") == [[]]
    assert "if it touches those before it" in told(found)


def test_that_all_numbers_were_below_zero_is_told() -> None:
    found = taught(("(9.0) N\r\n", "-9.0"), ("(24.8) N\r\n", "-24.8"), ("(4.8) N\r\n", "-4.8"))
    assert "a number above zero" in told(found)


def test_how_far_a_force_gauge_goes_that_sends_text_would_be_told_by_a_larger_number() -> None:
    found = taught(("3.4 N\r\n", "3.4"), ("1.2 N\r\n", "1.2"), ("4.8 N\r\n", "4.8"))
    assert found.tell_above == Decimal("48.1")
    most = About(Quantity.FORCE, unit="newton", most=Decimal(500))
    larger = taught(("3.4 N\r\n", "3.4"), ("1.2 N\r\n", "1.2"), ("4.8 N\r\n", "4.8"), about=most)
    assert larger.tell_above is None
    assert read(larger, "498.8 N\r\n", "500.1 N\r\n") == [["498.8"], []]


STILL = (("46;023;51.3 GU\r\n", "51.3"), ("46;023;72.9 GU\r\n", "72.9"),
         ("46;023;9.2 GU\r\n", "9.2"))  # fmt: skip


def test_a_number_that_a_person_knows_to_move_may_be_any_and_others_are_held() -> None:
    known = replace(GLOSS, moves=frozenset(("46",)))
    found = taught(*STILL, about=known)
    assert read(found, "47;023;9.3 GU\r\n", "8;023;9.3 GU\r\n", "47;024;9.3 GU\r\n") == [
        ["9.3"], ["9.3"], [],
    ]  # fmt: skip
    assert read(found, "E7;023;9.3 GU\r\n", "4.7;023;9.3 GU\r\n") == [[], []]
    assert any("46 may be any number like it, as you said" in words for words in found.believed)
    assert "'46'" not in told(found)
    assert "'023'" in told(found)
    assert (taught(*STILL, about=GLOSS).still, found.still) == (("46", "023"), ("023",))


def test_a_number_that_is_said_to_move_and_is_none_is_refused() -> None:
    made = [Press(sent.encode(), Decimal(shown)) for sent, shown in STILL]
    for moves in ("47", "GU", "9.2"):
        found = learn(made, replace(GLOSS, moves=frozenset((moves,))), REGISTRY)
        assert (found.outcome, found.profile) == (Outcome.NONE, "")
        assert f"{moves} was said to move" in found.believed[0]


@pytest.mark.parametrize(
    ("beside", "other", "wrong"), [("23.5", "9.8", "9"), (" 46", "  7", "4 6")]
)
def test_a_number_moves_as_it_is_written(beside: str, other: str, wrong: str) -> None:
    pairs = [(f"{beside};{shown} GU\r\n", shown) for shown in ("51.3", "72.9", "9.2")]
    found = taught(*pairs, about=replace(GLOSS, moves=frozenset((beside.strip(),))))
    assert read(found, f"{other};9.3 GU\r\n", f"{wrong};9.3 GU\r\n") == [["9.3"], []]


def test_a_single_digit_and_one_at_the_end_may_say_how_a_press_went_and_stay_held() -> None:
    pairs = [(f"7;46;{shown};12\r\n", shown) for shown in ("51.3", "72.9", "9.2")]
    assert taught(*pairs, about=GLOSS).still == ("46",)
    made = [Press(sent.encode(), Decimal(shown)) for sent, shown in pairs]
    for moves in ("7", "12"):
        refused = learn(made, replace(GLOSS, moves=frozenset((moves,))), REGISTRY)
        assert refused.outcome is Outcome.NONE


def test_of_two_numbers_that_were_the_same_neither_is_let_free() -> None:
    pairs = [(f"00;{shown} GU;00\r\n", shown) for shown in ("51.3", "72.9", "9.2")]
    found = taught(*pairs, about=GLOSS)
    assert found.still == ()
    assert "'00', '00'" in told(found)
    made = [Press(sent.encode(), Decimal(shown)) for sent, shown in pairs]
    refused = learn(made, replace(GLOSS, moves=frozenset(("00",))), REGISTRY)
    assert refused.outcome is Outcome.NONE
