"""What three presses leave open is asked for, and read once it was shown or said."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, unit="gloss_unit", channel="60", settled=9)
FORCE = About(Quantity.FORCE, unit="newton")
SHOWN = "91.4 45.2 12.0 33.3 71.8 60.1 8.4 27.9 55.0"


def taught(sent: list[bytes], shown: str = SHOWN, about: About = GLOSS) -> Finding:
    numbers = [Decimal(one) for one in shown.split()]
    return learn([Press(*one) for one in zip(sent, numbers, strict=False)], about, REGISTRY)


def read(found: Finding, data: bytes) -> list[str]:
    assert found.outcome is Outcome.SURE, found.believed
    (here,) = readings(found.family, found.profile, [data], REGISTRY)
    return [str(reading.value) for reading in here]


def lines(form: str, *places: str) -> list[bytes]:
    shown = SHOWN.split()
    return [f"{form.format(v=shown[i], x=x)}\r\n".encode() for i, x in enumerate(places)]


TIMES = ("09:01:50", "09:02:35", "09:03:53", "09:04:10", "09:06:02")


def test_a_time_between_the_signs_that_part_all_fields_is_one_after_five_presses() -> None:
    open_ = taught(lines("{x}:R:{v}", *TIMES[:4]))
    assert open_.is_state_open
    assert any("a time" in line for line in open_.unseen)
    assert read(open_, b"13:18:54:R:40.1\r\n") == []
    found = taught(lines("{x}:R:{v}", *TIMES))
    assert not found.is_state_open
    assert read(found, b"13:18:54:R:40.1\r\n") == ["40.1"]


@pytest.mark.parametrize(
    ("places", "later"),
    [
        (("01:00:21", "01:00:21", "01:00:22", "01:00:22", "01:00:23"), "01:07:24"),
        (("00:01:21", "00:02:35", "00:03:53", "00:04:10", "00:05:02"), "09:06:24"),
        (("01:31:21", "01:32:75", "01:33:53", "01:34:10", "01:35:02"), "02:36:24"),
        (("09:09:21", "08:10:35", "09:11:53", "08:12:10", "09:13:02"), "07:14:24"),
    ],
)
def test_a_status_between_such_signs_is_none(places: tuple[str, ...], later: str) -> None:
    found = taught(lines("{x}:R:{v}", *places))
    assert read(found, f"{later}:R:40.1\r\n".encode()) == []


def test_two_digits_that_leap_may_be_hexadecimal_until_six_presses() -> None:
    found = taught(lines("{x},{v}", "07", "22", "11"))
    assert found.is_state_open
    assert any("hexadecimal" in line for line in found.unseen)
    assert read(found, b"8A,33.3\r\n") == []
    taught_more = taught(lines("{x},{v}", "07", "22", "11", "8A"))
    assert read(taught_more, b"FC,33.3\r\n") == ["33.3"]
    digits = taught(lines("{x},{v}", "07", "22", "11", "96", "40", "53"))
    assert not digits.is_state_open
    assert read(digits, b"8A,33.3\r\n") == []


def test_hexadecimal_digits_that_were_letters_only_are_held_and_another_press_is_asked_for() -> (
    None
):
    found = taught(lines("{x},{v}", "CB", "CC", "BF"))
    assert found.is_state_open
    assert read(found, b"BF,33.3\r\n") == ["33.3"]
    assert read(found, b"A7,33.3\r\n") == []
    assert read(taught(lines("{x},{v}", "CB", "CC", "BF", "A7")), b"07,33.3\r\n") == ["33.3"]
    at_the_end = taught(lines("{v},{x}", "CB", "CC", "BF"))
    assert "may be a checksum" in at_the_end.believed[0]


def frame(count: int, shown: str) -> bytes:
    return b"\xa5\x9e\x00" + bytes([count, int(Decimal(shown) * 10)]) + b"\x03"


def test_whether_the_display_goes_below_zero_tells_what_zeros_beside_the_count_are() -> None:
    shown = "7.6 18.7 15.5 0.6"
    sent = [frame(n, v) for n, v in enumerate(shown.split(), 1)]
    far = [b"\xa5\x9e\x00\xff\x50\x03", b"\xa5\x9e\x01\x00\x50\x03"]
    most = replace(FORCE, most=Decimal(20))
    open_ = taught(sent, shown, most)
    assert open_.is_sign_open
    assert read(open_, far[1]) == []
    said = taught(sent, shown, replace(most, least=Decimal(0)))
    assert not said.is_sign_open
    here = readings(said.family, said.profile, far, REGISTRY)
    assert [str(reading.value) for one in here for reading in one] == ["8.0", "8.0"]


def test_the_byte_above_packed_decimals_with_a_sign_digit_is_the_counts() -> None:
    shown = "7.4 -12.3 -18.9 5.6"
    codes = ("00 07 4C", "00 12 3D", "00 18 9D", "00 05 6C")
    sent = [b"\x55\x02" + bytes([n]) + bytes.fromhex(c) for n, c in enumerate(codes, 1)]
    found = taught(sent, shown, replace(FORCE, most=Decimal(20), least=Decimal(-20)))
    assert 'count = { offset = 2, type = "uint16", order = "little" }' in found.profile


def test_the_largest_number_shown_may_be_one_below_zero() -> None:
    shown = "-32 -39 -12"
    codes = ("32 80", "39 80", "12 80")
    sent = [b"\xaa\x02" + bytes([0xE4 + n]) + bytes.fromhex(c) for n, c in enumerate(codes, 1)]
    found = taught(sent, shown, FORCE)
    assert read(found, b"\xaa\x02\xe8\x39\x80") == ["-39"]


def test_a_bit_within_a_byte_of_which_all_others_move_is_held_for_eight_presses_only() -> None:
    moving = (0x16, 0x07, 0x5B, 0x4A, 0xC7, 0x9B, 0x32, 0xEE, 0x2F)
    values = [Decimal(v) for v in SHOWN.split()]
    sent = [
        b"\xa5\x40" + bytes([at]) + int(v * 10).to_bytes(2, "big") + b"\x53"
        for at, v in zip(moving, values, strict=True)
    ]
    other = b"\xa5\x40\x91\x01\x4d\x53"
    said = replace(GLOSS, least=Decimal(0), most=Decimal(120))
    assert read(taught(sent[:7], about=said), other) == []
    assert read(taught(sent, about=said), other) == ["33.3"]
    # The one at the top may well be a flag.
    flagged = [one[:2] + bytes([one[2] & 0x7F | 0x80]) + one[3:] for one in sent]
    assert read(taught(flagged, about=said), other[:2] + b"\x11" + other[3:]) == []


def test_frames_that_look_like_lines_of_latin_1_are_frames() -> None:
    shown = "34 13 30"
    sent = [b"\x7e\xaa\x00  " + v.encode() + b"\x00" for v in shown.split()]
    found = taught(sent, shown, replace(FORCE, most=Decimal(50)))
    assert found.family == "frame"
    assert read(found, b"\x7e\xaa\x00  42\x00") == ["42"]


@pytest.mark.parametrize(
    ("form", "sum_"),
    [
        ("$P{v}*", lambda data: f"{sum(data) % 256:03d}"),
        ("{v} GU ", lambda data: f"{sum(data) % 100:02d}"),
    ],
)
def test_a_sum_that_no_profile_can_name_is_no_word_on_the_press(
    form: str, sum_: Callable[[bytes], str]
) -> None:
    def line(value: str) -> bytes:
        body = form.format(v=value)
        return f"{body}{sum_(body.encode())}\r\n".encode()

    found = taught([line(v) for v in SHOWN.split()[:3]])
    assert "that no profile can name" in "".join(found.believed)
    assert read(found, line("77.7")) == ["77.7"]
    assert read(found, line("77.7")[:-3] + b"!\r\n") == []


def test_words_of_which_one_came_once_are_open() -> None:
    assert taught(lines("{v} {x}", "49", "49", "48")).is_state_open
    assert not taught(lines("{v} {x}", "49", "49", "48", "48")).is_state_open


def test_volts_that_stood_still_may_move_and_a_limit_may_not() -> None:
    found = taught(lines("3.76V {v}", "", "", ""))
    assert read(found, b"3.70V 33.3\r\n") == ["33.3"]
    assert read(taught(lines("50.0 {v}", "", "", "")), b"49.0 33.3\r\n") == []


@pytest.mark.parametrize("places", [("R,0201,0", "R,0202,0", "R,0203,0"), ("9,0", "10,0", "11,0")])
def test_a_last_digit_that_never_changed_may_be_a_word_on_the_press(
    places: tuple[str, str, str],
) -> None:
    sent = [one.replace(b".", b",") for one in lines("{v};{x}", *places)]
    found = taught(sent)
    assert read(found, b"33,3;" + places[2].encode() + b"\r\n") == ["33.3"]
    assert read(found, b"33,3;" + places[2][:-1].encode() + b"1\r\n") == []


def test_a_second_line_may_write_its_decimals_otherwise() -> None:
    places = ("23.4", "21.4", "24.1")
    sent = [one.replace(b".", b",", 1) for one in lines("{v}\r\nT\t{x}", *places)]
    assert read(taught(sent), b"44,4\r\nT\t25.7\r\n") == ["44.4"]


def test_a_comma_may_part_decimals_and_fields_as_well() -> None:
    sent = [one.replace(b".", b",") for one in lines("{x},{v},0,GU", "1", "2", "3")]
    found = taught(sent)
    assert read(found, b"4,33,3,0,GU\r\n") == ["33.3"]
    assert read(found, b"4,33,3,1,GU\r\n") == []


@pytest.mark.parametrize(
    ("form", "words"),
    [("({})", "in brackets"), ("{}-", "with the sign behind"), ("- {}", "with the sign apart")],
)
def test_a_sign_in_lines_that_are_not_understood_is_named(form: str, words: str) -> None:
    numbers, beside = ("45.2", "112.0", "33.3"), ("ok", "7;A", "?")
    sent = [f"{form.format(v)} N {x}\r\n".encode() for v, x in zip(numbers, beside, strict=True)]
    found = taught(sent, "-45.2 -112.0 -33.3", FORCE)
    assert found.outcome is Outcome.NONE
    assert words in "".join(found.believed)


def test_round_brackets_about_a_force_may_be_its_sign() -> None:
    sent = [f"({v})\r\n".encode() for v in ("45.2", "12.0", "33.3")]
    found = taught(sent, "45.2 12.0 33.3", FORCE)
    assert found.outcome is Outcome.MORE
    assert found.tell_below == Decimal("-0.1")
    said = taught(sent, "45.2 12.0 33.3", replace(FORCE, least=Decimal(0)))
    assert read(said, b"(5.0)\r\n") == ["5.0"]


def test_a_number_nearer_to_zero_than_all_that_were_shown_may_tell() -> None:
    sent = [b"\xa5\x01" + bytes.fromhex(f"{v} 01 03") for v in ("57", "99", "10")]
    about = replace(FORCE, least=Decimal(0), most=Decimal(199))
    found = taught(sent, "157 199 110", about)
    assert found.outcome is Outcome.MORE
    assert found.tell_between is not None
    assert 0 <= found.tell_between < 110


def test_what_changes_beside_numbers_that_only_rose_may_be_the_number() -> None:
    shown = "40.0 58.2 94.4 120.3 141.0 199.9"
    beside = (0x34, 0x52, 0x10, 0x4B, 0x15, 0x52)
    sent = [
        b"\x7e" + int(Decimal(v) * 10).to_bytes(2, "big") + bytes([at, 0x55])
        for v, at in zip(shown.split(), beside, strict=True)
    ]
    about = replace(FORCE, least=Decimal(0), most=Decimal(250))
    found = taught(sent, shown, about)
    assert found.outcome is Outcome.MORE
    assert "largest so far" in found.believed[0]
    fallen = [*sent, b"\x7e\x01\x4d\x71\x55"]
    assert taught(fallen, f"{shown} 33.3", about).outcome is Outcome.SURE


def noisy(*beside: int) -> Finding:
    sent = [
        b"\xa5\x40" + bytes([at]) + int(Decimal(v) * 10).to_bytes(2, "big") + b"\x53"
        for v, at in zip(SHOWN.split(), beside, strict=False)
    ]
    return taught(sent, about=replace(GLOSS, least=Decimal(0), most=Decimal(120)))


def test_a_profile_that_will_leave_much_unread_says_so() -> None:
    assert "3 of 3 presses had something" in noisy(0x16, 0x07, 0x5B).unseen[0]
    assert "of those to come" in taught(lines("{v} {x}", "49", "48", "47", "47")).unseen[0]
    quiet = noisy(*b"\x16\x07\x16\x07"), taught(lines("{v} {x}", "49", "48", "49", "48"))
    assert not [line for one in quiet for line in one.unseen if "of those to come" in line]


def test_a_count_and_a_checksum_are_nothing_that_one_press_alone_had() -> None:
    shown = SHOWN.split()[:3]
    bodies = [
        b"\xa5" + bytes([n]) + int(Decimal(v) * 10).to_bytes(2, "big")
        for n, v in enumerate(shown, 1)
    ]
    sent = [body + bytes([sum(body) % 256]) for body in bodies]
    found = taught(sent, about=replace(GLOSS, least=Decimal(0), most=Decimal(120)))
    assert not [line for line in found.unseen if "of those to come" in line]


@pytest.mark.parametrize("start", [0x00, 0x30, 0x91])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_sum_that_begins_with_any_number_is_no_word_on_the_press(start: int, sign: int) -> None:
    def frame(count: int, value: str) -> bytes:
        body = b"\x7e" + bytes([count, 0x40]) + int(Decimal(value) * 10).to_bytes(2, "big")
        return body + bytes([(sign * sum(body[1:]) + start) % 256, 0x03])

    said = replace(GLOSS, least=Decimal(0), most=Decimal(120))
    found = taught([frame(n, v) for n, v in enumerate(SHOWN.split()[:3], 1)], about=said)
    assert read(found, frame(4, "33.3")) == ["33.3"]
    assert read(found, frame(4, "77.7")) == ["77.7"]
    assert read(found, frame(4, "118.9")) == ["118.9"]
