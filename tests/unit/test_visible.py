"""What is shown to a person: no sign that a terminal obeys, or that no eye can see."""

from __future__ import annotations

import json
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.visible import json_visible, says_something, visible

ANY_TEXT = st.text(st.characters(codec=None), max_size=60)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("\x1b[2J\x1b]0;title\x07", "\\x1b[2J\\x1b]0;title\\x07"),
        ("\x9b31m", "\\x9b31m"),
        ("a\x00b\x7f", "a\\x00b\\x7f"),
        ("82.4\n\tforged\r", "82.4\\n\\tforged\\r"),
        ("\u202e4.28", "\\u202e4.28"),
        ("\u2066\u2069\u200b\ufeff", "\\u2066\\u2069\\u200b\\ufeff"),
        ("\ud800", "\\ud800"),
        ("\U000e0041", "\\U000e0041"),
    ],
)
def test_what_no_eye_can_see_stands_as_its_escape(text: str, shown: str) -> None:
    assert visible(text) == shown


@pytest.mark.parametrize(
    "text",
    [
        "",
        "82.4 GU at 20°",
        "a\\x1b",
        "船底塗料 محاري",
        "نی\u200cک",
        "👩\u200d🔧",
        "e\u0301",
        "1\u00a0GU",
    ],
)
def test_letters_of_every_script_and_their_joiners_stay(text: str) -> None:
    assert visible(text) == text


def test_signs_that_lay_a_text_out_stay_where_that_is_said() -> None:
    assert visible("a\nb\tc\x1b", "\n\t") == "a\nb\tc\\x1b"


@given(text=ANY_TEXT)
def test_no_control_override_or_half_character_is_left(text: str) -> None:
    # The general category is that of the standard library's Unicode tables.
    left = {unicodedata.category(sign) for sign in visible(text)}
    assert not left & {"Cc", "Cs", "Zl", "Zp"}
    turning = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
    assert not turning & {unicodedata.bidirectional(sign) for sign in visible(text)}


@given(text=ANY_TEXT, indent=st.sampled_from([None, 2]))
def test_a_json_text_keeps_its_value(text: str, indent: int | None) -> None:
    plain = json.dumps({"note": text, text: [1]}, ensure_ascii=False, indent=indent)
    shown = json_visible(plain)
    assert json.loads(shown) == json.loads(plain)
    assert visible(shown, "\n") == shown


def test_a_letter_a_digit_or_a_sign_says_something_in_every_script() -> None:
    for text in (
        "slipped",
        "7",
        "?",
        "±",
        "ölig",
        "滑った",
        "انزلق",
        "\u200b.\u2060",
        "👀",
        "e\u0301",
    ):
        assert says_something(text), ascii(text)


def test_what_no_eye_can_see_says_nothing() -> None:
    # Spaces, zero width, joiners, controls, direction, fillers, blanks, a mark alone, no character.
    unseen = " \t\n\xa0\u3000\u200b\u200c\u200d\u2060\ufeff\xad\x00\x1b\u202e\u2066"
    unseen += "\u115f\u1160\u3164\uffa0\u2800\u0301\ufe0f\u034f\u180e\U000e0041\ue000\ud800"
    assert not says_something("")
    assert [ascii(sign) for sign in unseen if says_something(sign)] == []
    assert not says_something(unseen)
