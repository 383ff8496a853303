"""A sign that does not stand right before its digits: a group of its own and a closed table."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from acquire.driverkit import Heard
from acquire.errors import SettingsError
from drivers.line.codec import Codec
from drivers.line.family import load


def table(pattern: str, signs: dict[str, str], **more: object) -> dict[str, Any]:
    return {
        "kind": "force",
        "line": {"baud_rate": 9600},
        "text": {"terminator": "\n"},
        "message": [{"means": "reading", "pattern": pattern, **more}],
        "sign": {"tokens": signs},
        "unit": {"default": "newton"},
    }


BRACKETS = (r"(?P<sign>\(?)(?P<value>\d+\.\d)(?P<sign_behind>\)?)", {"": "plus", "()": "minus"})
BEHIND = (r"(?P<value> *\d+\.\d)(?P<sign>[ -])", {"": "plus", "-": "minus"})
APART = (r"(?P<sign>[+-])(?P<value> *\d+\.\d)", {"+": "plus", "-": "minus"})
LETTERS = (r"(?P<value>[+-]?\d+\.\d) *(?P<sign>[TC]|)", {"T": "plus", "C": "minus"})


def decoded(layout: tuple[str, dict[str, str]], line: bytes) -> list[Heard] | str:
    return Codec(load(table(*layout), "test")).decode(line)


@pytest.mark.parametrize(
    ("layout", "line", "value"),
    [
        (BRACKETS, b"(4.5)", "-4.5"),
        (BRACKETS, b"4.5", "4.5"),
        (BEHIND, b"  44.4-", "-44.4"),
        (BEHIND, b"  44.4 ", "44.4"),
        (APART, b"-   0.4", "-0.4"),
        (APART, b"+   0.4", "0.4"),
        (LETTERS, b"7.1 C", "-7.1"),
        (LETTERS, b"7.1T", "7.1"),
    ],
)
def test_a_sign_elsewhere_is_the_sign_of_the_value(
    layout: tuple[str, dict[str, str]], line: bytes, value: str
) -> None:
    heard = decoded(layout, line)
    assert not isinstance(heard, str)
    assert [(one.text, one.value) for one in heard] == [(value, Decimal(value))]


@pytest.mark.parametrize(
    ("layout", "line", "why"),
    [
        (BRACKETS, b"(4.5", "the sign '(' is not in the profile"),
        (BRACKETS, b"4.5)", "the sign ')' is not in the profile"),
        (LETTERS, b"7.1", "the sign '' is not in the profile"),
        (LETTERS, b"-7.1 C", "a sign beside its own one"),
        (BEHIND, b"44.4+", "no line of the profile"),
    ],
)
def test_half_a_sign_two_of_them_or_none_is_noise(
    layout: tuple[str, dict[str, str]], line: bytes, why: str
) -> None:
    heard = decoded(layout, line)
    assert isinstance(heard, str)
    assert why in heard


@pytest.mark.parametrize(
    ("pattern", "signs", "words"),
    [
        (BEHIND[0], {"-": "minus"}, "plus and minus"),
        (r"(?P<value>\d+)", BEHIND[1], "a group"),
        (BEHIND[0], {"1": "minus", "": "plus"}, "without digits"),
        (BEHIND[0], {"-": "below", "": "plus"}, "minus"),
    ],
)
def test_a_table_of_signs_that_says_too_little_is_refused(
    pattern: str, signs: dict[str, str], words: str
) -> None:
    with pytest.raises(SettingsError, match=words):
        load(table(pattern, signs), "test")
