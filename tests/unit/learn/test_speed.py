"""Speed and format of a line by what is heard, with a line modelled level by level."""

from __future__ import annotations

import random

import pytest

from acquire.driverapi import Parity
from acquire.learn import LINES, Line, Looks, hear
from tests.unit.uart import heard

TEXT = b"R,0001,20,91.4,GU*51\r\n"
BINARY = bytes.fromhex("A5 5A 0A 52 00 01 00 03 92 03 BE 03 D6 1C 9B")
LINE = Line(9600)


def test_the_model_gives_back_what_was_sent_at_the_same_settings() -> None:
    for line in (LINE, Line(4800, 7, Parity.EVEN), Line(1200, 8, Parity.ODD, 2)):
        assert heard(TEXT, line, line) == TEXT


@pytest.mark.parametrize("sent", LINES, ids=str)
def test_text_is_known_at_its_own_speed_and_at_no_other(sent: Line) -> None:
    for by in LINES:
        found = hear(heard(TEXT, sent, by), by)
        assert (found.looks is Looks.TEXT) == (by == sent), by
        if by == sent:
            assert found.chance < 1e-8


def test_of_many_texts_at_wrong_speeds_none_looks_like_text() -> None:
    dice = random.Random(7)
    for _ in range(300):
        sent, by = dice.sample(LINES, 2)
        number = f"{dice.uniform(-9, 199):.1f}"
        data = f"{dice.choice(['', 'V=', '60 ', 'XK,'])}{number},GU\r\n".encode()
        assert hear(heard(data, sent, by), by).looks is not Looks.TEXT, (data, sent, by)


@pytest.mark.parametrize("parity", [Parity.EVEN, Parity.ODD])
def test_seven_bits_with_parity_are_told_from_eight(parity: Parity) -> None:
    sent = Line(9600, 7, parity)
    found = hear(heard(TEXT, sent, LINE), LINE)
    assert (found.looks, found.line) == (Looks.TEXT, sent)


def test_a_slow_line_heard_fast_is_garbage_and_binary_bytes_are_not() -> None:
    assert hear(heard(TEXT, Line(1200), Line(115200)), Line(115200)).looks is Looks.GARBAGE
    assert hear(BINARY, LINE).looks is Looks.BINARY


@pytest.mark.parametrize("data", [b"", b"\r\n", b"9\r\n", b"OK, ready\r\n"])
def test_too_little_proves_no_speed(data: bytes) -> None:
    assert hear(data, LINE).looks is not Looks.TEXT


FRAMED = b"\x0207    91.4 GU\x03"
SIGNED = (
    "60\xb0  91.4 GU\r\n".encode(),
    "60\xb0  91.4 GU\r\n".encode("latin-1"),
    "F \u22121.25 N\r\n".encode(),
    FRAMED + b"\x91",
    FRAMED + b"\x03",
    FRAMED + b"5C",
    FRAMED + b"5C\r\n",
)


@pytest.mark.parametrize("data", SIGNED, ids=repr)
def test_a_degree_sign_or_a_sum_behind_etx_leaves_it_text(data: bytes) -> None:
    for by in LINES:
        found = hear(heard(data, LINE, by), by)
        assert (found.looks is Looks.TEXT) == (by == LINE), by


@pytest.mark.parametrize("parity", [Parity.EVEN, Parity.ODD])
def test_letters_with_a_parity_bit_are_taken_for_no_degree_sign(parity: Parity) -> None:
    sent = Line(9600, 7, parity)
    for text in (b"B0,20,91.4,GU\r\n", b"0000,B0 0\r\n"):
        assert hear(heard(text, sent, LINE), LINE).line == sent


def test_of_binary_bytes_with_a_degree_or_an_etx_none_look_like_text() -> None:
    dice = random.Random(11)
    for _ in range(2000):
        body = dice.randbytes(dice.randint(6, 14))
        for data in (body + b"\xb0\r\n", b"\x02" + body + b"\x03" + dice.randbytes(1)):
            assert hear(data, LINE).looks is not Looks.TEXT, data
