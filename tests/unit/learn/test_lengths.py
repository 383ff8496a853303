"""Numbers whose digits become more and fewer: read as they come, or told to be noise beforehand."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, hear, learn
from acquire.learn.presses.press import Line
from acquire.learn.presses.speed import Looks, is_words
from acquire.learn.profile.proved import readings
from acquire.model import Quantity
from tests.learning.checks import checksum

GLOSS = About(Quantity.GLOSS, channel="60")
FORCE = About(Quantity.FORCE, unit="newton")
REGISTRY = Registry()
Send = Callable[[str], bytes]


def found_of(send: Send, *shown: str, about: About = GLOSS) -> Finding:
    return learn([Press(send(text), Decimal(text)) for text in shown], about, REGISTRY)


def given(found: Finding, *data: bytes) -> list[list[str]]:
    assert found.outcome is Outcome.SURE, found.believed
    read = readings(found.family, found.profile, data, REGISTRY)
    return [[str(reading.value) for reading in here] for here in read]


def unseen(found: Finding, words: str) -> bool:
    return any(words in line for line in found.unseen)


def closed(body: str, kind: str, after: str, closer: str, first: int = 1) -> bytes:
    told = checksum(kind, body[first:].encode())
    return f"{body}{after}{told:02X}{closer}\r\n".encode()


@pytest.mark.parametrize("closer", [";", ";;", " ", "]", "\x03", ";\x03", "\t"])
@pytest.mark.parametrize(
    ("form", "kind", "after", "first"),
    [
        ("$GL,{0},GU", "xor8", "*", 1),
        ("#+{0}GU", "crc8-smbus", "/", 0),
        ("M {0} GU", "sum8", ",", 0),
    ],
)
def test_signs_behind_a_checksum_end_the_line_and_any_number_of_digits_is_read(
    form: str, kind: str, after: str, first: int, closer: str
) -> None:
    def send(text: str) -> bytes:
        return closed(form.format(text), kind, after, closer, first)

    found = found_of(send, "91.4", "45.2", "12.0")
    assert found.family == "line"
    assert tomllib.loads(found.profile)["checksum"]["kind"] == kind
    others = ["7.7", "107.7", "0.3", "45.3"]
    assert given(found, *map(send, others)) == [[text] for text in others]
    # What fails its checksum is noise.
    assert given(found, send("45.3").replace(b"45.3", b"46.3")) == [[]]


def test_a_sum_in_decimal_digits_is_found_before_a_sign_that_closes_the_line() -> None:
    def send(text: str) -> bytes:
        body = f"#{text} GU"
        return f"{body}*{sum(body.encode()) % 256:03d})\r\n".encode()

    found = found_of(send, "19.4", "41.8", "24.6")
    assert any("are a sum of it that no profile can name" in line for line in found.believed)
    assert given(found, send("78.5"), send("107.7")) == [["78.5"], ["107.7"]]


@pytest.mark.parametrize("presses", [("64.95", "45.20", "12.01"), ("64.95", "8.48", "101.93")])
def test_presses_of_other_lengths_do_not_lose_the_checksum(presses: tuple[str, ...]) -> None:
    def send(text: str) -> bytes:
        return closed(f"#+{text}GU", "crc8-smbus", "/", ";", 0)

    for more in ((), ("33.33", "2.18", "150.07")):
        found = found_of(send, *presses, *more)
        assert tomllib.loads(found.profile)["checksum"]["kind"] == "crc8-smbus"


def test_a_sign_that_closes_lines_without_a_checksum_stays_a_part_of_them() -> None:
    found = found_of(lambda text: f"{text} GU;\r\n".encode(), "91.4", "45.2", "12.0")
    assert tomllib.loads(found.profile)["text"]["terminator"] == "\r\n"


@pytest.mark.parametrize(
    "form",
    [
        "\x1b[2J\x1b[1;1HGloss {0} GU\x1b[K",
        "\x1b[2J\x1b[HGloss {0} GU\x1b[K\r\n",
        "\x1b[1;31m{0}\x1b[0m GU\r\n",
        "\x1b[2J\x1b[2;10H{0}\x1b[3;1HGU\x1b[K\r\n",
    ],
)
def test_text_with_control_sequences_for_a_terminal_is_a_line(form: str) -> None:
    def send(text: str) -> bytes:
        return form.format(text).encode()

    found = found_of(send, "91.4", "45.2", "12.0")
    assert found.family == "line"
    others = ["7.7", "107.7", "0.3", "45.3"]
    assert given(found, *map(send, others)) == [[text] for text in others]
    # Digits of such a sequence are no temperature.
    assert not unseen(found, "If it is a temperature")
    assert hear(send("91.4"), Line()).looks is Looks.TEXT


def test_a_greeting_with_control_sequences_is_no_press() -> None:
    assert is_words(b"\x1b[2J\x1b[1;1HREADY\r\n")


def framed(text: str) -> bytes:
    return b"\xaa\x01" + text.encode() + b"\x55"


def test_frames_of_one_length_tell_that_other_numbers_of_digits_may_be_noise() -> None:
    found = found_of(framed, "91.4", "45.2", "12.0")
    assert unseen(found, "a number of other than 3 digits")
    assert unseen(found, "a number below zero")
    assert (found.tell_below, found.tell_above) == (10, Decimal("100.0"))
    assert any("from -9.9 to 99.9" in line for line in found.believed)
    assert given(found, framed("7.7"), framed("107.7"), framed(" 7.7")) == [[], [], ["7.7"]]


def test_a_press_that_shows_what_fills_digits_up_settles_it() -> None:
    for fill in " 0":
        pairs = [(t, framed(t.rjust(5, fill))) for t in ("91.4", "45.2", "7.7")]
        # What another digit in place of a zero means no press has shown.
        about = GLOSS if fill == " " else replace(GLOSS, most=Decimal(120))
        found = learn([Press(data, Decimal(text)) for text, data in pairs], about, REGISTRY)
        assert not unseen(found, "a number of other than")
        assert found.tell_below is None
        assert given(found, framed("107.7")) == [["107.7"]]


def test_frames_have_no_room_for_what_a_person_said_of_the_display() -> None:
    def send(text: str) -> bytes:
        return framed(text.rjust(4))

    found = found_of(send, "91.4", "45.2", "7.7", about=About(Quantity.GLOSS, channel="60",
                     least=Decimal(0), most=Decimal(120)))  # fmt: skip
    assert unseen(found, "a number above 99.9: its digits have no room in 7 bytes")
    assert not unseen(found, "below zero")
    assert found.tell_above is None


@pytest.mark.parametrize("send", [framed, lambda text: f"P{text} N\r\n".encode()])
def test_presses_below_zero_alone_say_that_others_may_be_noise(send: Send) -> None:
    found = found_of(send, "-91.4", "-45.2", "-12.0", about=FORCE)
    assert unseen(found, "a number above zero")
    found = found_of(send, "-91.4", "-45.2", "-12.0", "0.0", about=FORCE)
    assert found.outcome is not Outcome.SURE or unseen(found, "a number above zero")


def test_digits_in_frames_of_several_lengths_are_said_to_be_such() -> None:
    found = found_of(framed, "91.4", "45.2", "12.0", "7.7")
    assert found.outcome is Outcome.NONE
    assert "a press 6 bytes long or 7" in found.believed[0]
    assert "leave the presses of the rarer length out" in found.next_step
    assert not found.is_nowhere


@pytest.mark.parametrize("mark", ["\x01", "\x05", "\x0b", "\x10\x02", "\x16\x16"])
@pytest.mark.parametrize("end", ["\r\n", "\x17", "\x03\r", "\x04"])
def test_control_signs_that_begin_or_end_every_press_leave_it_a_text(mark: str, end: str) -> None:
    def send(text: str) -> bytes:
        return f"{mark}{text} GU{end}".encode()

    found = found_of(send, "91.4", "45.2", "12.0")
    assert found.family == "line"
    others = ["7.7", "107.7", "0.3"]
    assert given(found, *map(send, others)) == [[text] for text in others]
    # Another mark was never seen.
    assert given(found, b"\x07" + send("45.2")[1:]) == [[]]


@pytest.mark.parametrize("presses", [("3.9", "5.1", "2.8"), ("13.9", "15.1", "2.8")])
def test_a_last_digit_that_is_a_sum_by_chance_stays_a_digit_of_the_number(
    presses: tuple[str, ...],
) -> None:
    found = found_of(lambda text: f"R,60,+{text}\r\n".encode(), *presses)
    assert given(found, b"R,60,+107.7\r\n", b"R,60,+4.4\r\n") == [["107.7"], ["4.4"]]


def test_lines_say_which_numbers_are_read_and_how_one_below_zero_is_written() -> None:
    found = found_of(lambda text: f"{text} GU\r\n".encode(), "91.4", "45.2", "12.0")
    said = "numbers from -20 to 199.9 are read, one below zero if its sign stands right before"
    assert any(said in line for line in found.believed)
    assert given(found, b"-7.2 GU\r\n", b"7.2- GU\r\n", b"200.0 GU\r\n") == [["-7.2"], [], []]
    found = found_of(lambda text: f"{text} GU\r\n".encode(), "91.4", "0.2", "-2.0")
    assert any("are read; others are noise" in line for line in found.believed)


def test_lines_say_that_a_number_below_one_is_read_with_a_zero_before_its_point_alone() -> None:
    said = "one below 1 if a 0 stands before its point"
    found = found_of(lambda text: f"{text} GU\r\n".encode(), "10.6", "45.2", "12.0")
    assert any(said in line for line in found.believed)
    assert given(found, b"0.3 GU\r\n", b".3 GU\r\n") == [["0.3"], []]
    shown = found_of(
        lambda text: f"{text.removeprefix('0')} GU\r\n".encode(), "10.6", "0.4", "12.0"
    )
    assert given(shown, b".3 GU\r\n") == [["0.3"]]
    filled = found_of(lambda text: f"{text:0>5} GU\r\n".encode(), "10.6", "45.2", "12.0")
    for known in (shown, filled):
        assert not any(said in line for line in known.believed)


def test_a_half_of_a_sum_that_never_changed_may_be_a_mark_and_is_said() -> None:
    def send(text: str) -> bytes:
        body = f"R,60,{text.rjust(6, '0')},GU".encode()
        return body + b"\x03" + bytes([checksum("sum8", body)]) + b"\t\x04"

    found = found_of(send, "23.16", "64.92", "30.53")
    assert unseen(found, "is taken for the upper half of the checksum")
    assert given(found, send("6.01")) == [[]]
    found = found_of(send, "23.16", "64.92", "30.53", "6.01")
    assert not unseen(found, "is taken for the upper half of the checksum")
    assert given(found, send("5.02")) == [["5.02"]]


@pytest.mark.parametrize(("kind", "size"), [("sum8", 1), ("xor8", 1), ("crc16-modbus", 2)])
@pytest.mark.parametrize("after", ["", ",", "\x03"])
def test_decimals_behind_a_comma_are_read_beside_a_checksum_in_bytes(
    kind: str, size: int, after: str
) -> None:
    def send(text: str) -> bytes:
        body = f"G {text.rjust(5).replace('.', ',')} GU{after}".encode()
        return body + checksum(kind, body).to_bytes(size, "big") + b"\x03\r\n"

    found = found_of(send, "91.4", "45.2", "12.0", "78.1")
    assert found.outcome is Outcome.SURE, found.believed
    assert 'point = ","' in found.profile
    assert "[checksum]" in found.profile
    spoiled = send("45.2").replace(b"45", b"46", 1)
    sent = (send("33.3"), send("107.7"), send("-7.5"), send("45.2").replace(b",", b".", 1), spoiled)
    assert given(found, *sent) == [["33.3"], ["107.7"], ["-7.5"], [], []]


def test_digits_with_a_comma_in_frames_of_several_lengths_are_told_as_such() -> None:
    found = found_of(
        lambda text: b"\xaa" + text.replace(".", ",").encode() + b"\x90", "91.4", "5.2", "112.0"
    )
    assert found.outcome is Outcome.NONE
    assert "no profile reads frames of several lengths" in found.believed[0]
