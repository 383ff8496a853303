"""One line at a time: what is understood, and what is refused though it looks right."""

from __future__ import annotations

from decimal import Decimal
from functools import reduce
from operator import xor
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.driverkit import Heard
from acquire.errors import SettingsError
from acquire.model import Flag
from drivers.line.codec import Codec
from drivers.line.family import load
from tests.captures import profile

LOOSE: dict[str, Any] = {
    "kind": "force",
    "line": {"baud_rate": 9600},
    "text": {"terminator": "\n", "encoding": "latin-1"},
    "message": [{"means": "reading", "pattern": "(?P<value>.*)"}],
    "value": {"over": ["OL"], "under": ["-OL"]},
    "unit": {"default": "gram_force"},
}


class One:
    """The codec of a profile whose lines carry one value each."""

    def __init__(self, table: dict[str, Any]) -> None:
        self._codec = Codec(load(table, "test"))

    def decode(self, line: bytes) -> Heard | str:
        heard = self._codec.decode(line)
        if isinstance(heard, str):
            return heard
        (one,) = heard
        return one


def codec(table: dict[str, Any]) -> One:
    return One(table)


EVERY = (codec(LOOSE), codec(profile("gloss-press")), codec(profile("gloss-asked")))


def press_line(body: str) -> bytes:
    raw = body.encode("latin-1")
    return raw + b"*%02X" % reduce(xor, raw, 0)


@pytest.mark.parametrize(
    "text",
    [
        "NaN", "nan", "Infinity", "-inf", "1e5", "1E-3", "1_000", "0x10", "", " ", "-", "+", ".",
        "1.", "1..2", "1.2.3", "--1", "+-1", "1 2", "1,5", "\u00b2", "\u00b9.\u00b3", "12a",
        "1.5\x00", "\t1.5", "1234567890123456789012345",
    ],
)  # fmt: skip
def test_what_is_no_plain_number_is_refused(text: str) -> None:
    heard = codec(LOOSE).decode(text.encode("latin-1"))
    assert isinstance(heard, str)
    assert "is no number" in heard


def test_lines_and_values_have_the_widths_that_the_profile_says() -> None:
    reading = {"means": "reading", "pattern": "(?P<value> *[0-9.]+) *N"}
    long = codec({**LOOSE, "message": [reading | {"length": 7}]})
    for line, value in ((b"  1.5 N", "1.5"), (b" 11.5 N", "11.5"), (b"111.5N", None)):
        heard = long.decode(line)
        assert getattr(heard, "text", None) == value, heard
    wide = codec({**LOOSE, "message": [reading | {"width": 5}]})
    assert isinstance(wide.decode(b"  1.5 N"), Heard)
    assert isinstance(wide.decode(b"  1.5N"), Heard)
    assert wide.decode(b" 1.5 N") == "the value ' 1.5' is 4 wide, and every one 5"


@pytest.mark.parametrize(
    "text", ["0", "-0.0", "+1.50", "  12.5", ".5", "007", "99999999999999999999"]
)
def test_a_plain_number_keeps_its_digits(text: str) -> None:
    heard = codec(LOOSE).decode(text.encode())
    assert isinstance(heard, Heard)
    assert heard.value == Decimal(text)
    assert str(heard.value) == str(Decimal(text))
    assert heard.text == text.strip()
    assert heard.unit == "gram_force"
    assert heard.channel == ""


def test_out_of_range_has_a_flag_and_no_value() -> None:
    above, below = codec(LOOSE).decode(b"OL"), codec(LOOSE).decode(b"-OL")
    assert isinstance(above, Heard)
    assert (above.value, above.flags) == (None, {Flag.OVER_RANGE})
    assert isinstance(below, Heard)
    assert (below.value, below.flags) == (None, {Flag.UNDER_RANGE})


def test_a_comma_is_a_point_only_where_the_profile_says_so() -> None:
    comma = codec({**LOOSE, "value": {"decimal": ","}})
    heard = comma.decode(b"12,5")
    assert isinstance(heard, Heard)
    assert heard.value == Decimal("12.5")
    assert isinstance(comma.decode(b"12.5"), str)
    assert isinstance(comma.decode(b"1,234,5"), str)


def test_the_last_star_of_a_line_is_that_of_the_checksum() -> None:
    press = codec(profile("gloss-press"))
    assert press.decode(b"") == "no checksum"
    assert press.decode(b"R,0001,20,91.4,GU") == "no checksum"
    assert "wrong checksum" in press.decode(b"R,0001,20,91.4,GU*51*51")
    assert "wrong checksum" in press.decode(b"R,0001,20,91.4,GU*51 ")
    assert "wrong checksum" in press.decode(b"R,0001,20,91.4,GU* 51")


@pytest.mark.parametrize(
    ("table", "line", "broken"),
    [
        ({"kind": "xor8", "after": "\x03"}, b"12.5\x0318", b"12.6\x0318"),
        ({"kind": "xor8", "after": "\x03", "with_after": True}, b"12.5\x031B", b"12.5\x0318"),
        ({"kind": "sum8", "after": ""}, b"12.5C6", b"12.5C"),
        ({"kind": "sum8", "after": "", "sent": "negate"}, b"12.53A", b"12.5C6"),
        ({"kind": "sum8", "after": ";", "sent": "complement"}, b"12.5;39", b"12.5;3A"),
        ({"kind": "sum8", "after": ";", "form": "hex"}, b"12.5;c6", b"12.5;c7"),
        ({"kind": "sum8", "after": ";", "form": "hex"}, b"12.5;C6", b"12.5;"),
        ({"kind": "sum8", "after": ";", "form": "hex-lower"}, b"12.5;c6", b"12.5;C6"),
    ],
)
def test_a_checksum_is_made_and_written_as_the_profile_says(
    table: dict[str, Any], line: bytes, broken: bytes
) -> None:
    # By hand: 31 + 32 + 2E + 35 = C6; the exclusive or of the four is 18, and with 03 it is 1B.
    one = codec({**LOOSE, "checksum": table})
    heard = one.decode(line)
    assert isinstance(heard, Heard), heard
    assert heard.value == Decimal("12.5")
    assert "checksum" in str(one.decode(broken))


def test_a_checksum_alone_makes_no_line() -> None:
    press = codec(profile("gloss-press"))
    assert press.decode(press_line("")) == "no line of the profile"
    assert press.decode(press_line("Q,1")) == "no line of the profile"
    assert press.decode(press_line("R,0001,20,91.4,GU ")) == "no line of the profile"
    assert press.decode(press_line("R,\u00b9001,20,91.4,GU")) == "the byte 0xb9 is not ascii"


def test_a_serial_number_with_control_characters_is_not_shown_to_anybody() -> None:
    table = {
        **LOOSE,
        "message": [*LOOSE["message"], {"means": "identity", "pattern": "S(?P<serial>.*)"}],
    }
    table["message"].reverse()
    assert codec(table).decode(b"S\x1b[31mX") == "a control character in '\\x1b[31mX'"
    assert codec(table).decode(b"S ") == "no serial number"


@settings(deadline=None, derandomize=True)
@given(st.binary(max_size=64))
def test_any_line_is_understood_or_gets_a_reason(line: bytes) -> None:
    for one in EVERY:
        heard = one.decode(line)
        assert heard
        if isinstance(heard, Heard):
            assert (heard.value is None) == bool(heard.flags)


@settings(deadline=None, derandomize=True)
@given(st.binary(min_size=1, max_size=40))
def test_a_changed_byte_under_a_checksum_is_never_a_reading(junk: bytes) -> None:
    press = EVERY[1]
    good = b"R,0001,20,91.4,GU*51"
    for place in range(len(good)):
        wrong = good[:place] + junk[:1] + good[place + 1 :]
        assert wrong == good or isinstance(press.decode(wrong), str)


THREE: dict[str, Any] = {
    "kind": "gloss",
    "line": {"baud_rate": 9600},
    "text": {"terminator": "\r\n"},
    "message": [
        {
            "means": "reading",
            "pattern": r"G(?: 20=(?P<value_a>[0-9.]+|OVR))?(?: 60=(?P<value_b>[0-9.]+))?"
            r"(?: 85=(?P<value_c>[0-9.]+))?",
        }
    ],
    "value": {"over": ["OVR"]},
    "unit": {"default": "gloss_unit"},
    "geometry": {"tokens": {"a": 20, "b": 60, "c": 85}},
}


def values_of(line: bytes) -> list[tuple[str, str | None]] | str:
    heard = Codec(load(THREE, "test")).decode(line)
    if isinstance(heard, str):
        return heard
    return [(one.channel, None if one.value is None else str(one.value)) for one in heard]


def test_one_line_can_carry_a_value_of_each_geometry() -> None:
    assert values_of(b"G 20=88.1 60=91.4 85=97.0") == [
        ("20", "88.1"), ("60", "91.4"), ("85", "97.0"),
    ]  # fmt: skip
    assert values_of(b"G 60=91.4") == [("60", "91.4")]
    assert values_of(b"G 20=OVR 60=91.4") == [("20", None), ("60", "91.4")]


def test_a_line_of_several_values_is_taken_whole_or_not_at_all() -> None:
    assert values_of(b"G 20=88.1 60=9.1.4") == "the value '9.1.4' is no number"
    assert values_of(b"G") == "no value"


@pytest.mark.parametrize(
    ("pattern", "path"),
    [
        (r"(?P<value_a>\d+) (?P<value>\d+)", "message[0].pattern"),
        (r"(?P<value_a>\d+) (?P<geometry>\d\d)", "message[0].pattern"),
        (r"(?P<value_d>\d+)", "geometry.tokens"),
    ],
)
def test_values_that_do_not_say_their_geometry_once_are_faults_of_the_profile(
    pattern: str, path: str
) -> None:
    table = {**THREE, "message": [{"means": "reading", "pattern": pattern}]}
    with pytest.raises(SettingsError) as caught:
        load(table, "test")
    assert path in [fault.path for fault in caught.value.faults]


def test_a_sum_may_begin_behind_a_start_mark() -> None:
    """The worked line of drivers/line/WIRE.md."""
    table = {
        **LOOSE,
        "message": [{"means": "reading", "pattern": "#A,(?P<value>.*)"}],
        "checksum": {"kind": "xor8", "after": "*", "first": 1},
    }
    heard = codec(table).decode(b"#A,7*5A")
    assert isinstance(heard, Heard)
    assert heard.value == 7
    assert "wrong checksum" in str(codec(table).decode(b"#A,8*5A"))
    # That of the whole line.
    assert "wrong checksum" in str(codec(table).decode(b"#A,7*79"))


def grouped(thousands: str, decimal: str = ".") -> One:
    value = {"thousands": thousands, "decimal": decimal}
    return codec(LOOSE | {"value": value})


@pytest.mark.parametrize(
    ("thousands", "decimal", "line", "value"),
    [
        (",", ".", b"1,234.5", "1234.5"),
        (",", ".", b"-12,345,678", "-12345678"),
        ("'", ".", b"+1'234.50", "1234.50"),
        (" ", ",", b"  1 234,5", "1234.5"),
        (".", ",", b"1.234,5", "1234.5"),
        (",", ".", b"987.6", "987.6"),
        (",", ".", b"12", "12"),
    ],
)
def test_a_sign_between_thousands_is_read_as_the_profile_says(
    thousands: str, decimal: str, line: bytes, value: str
) -> None:
    heard = grouped(thousands, decimal).decode(line)
    assert isinstance(heard, Heard)
    assert heard.value == Decimal(value)
    assert heard.text == line.decode().strip()


@pytest.mark.parametrize(
    "line",
    [b"1234.5", b"1,23.4", b"1,2345", b",234.5", b"12,34", b"1,,234", b"1,234,5", b"1.234,5",
     b"1,234.5,6", b"1 234.5", b"1'234.5", b"1234,567"],
)  # fmt: skip
def test_a_number_whose_thousands_are_parted_otherwise_is_noise(line: bytes) -> None:
    assert isinstance(grouped(",").decode(line), str)


@pytest.mark.parametrize("text", [b"1,234.5", b"1'234.5", b"1 234.5"])
def test_without_a_word_of_the_profile_no_sign_parts_thousands(text: bytes) -> None:
    assert isinstance(codec(LOOSE).decode(text), str)


def test_the_sign_between_thousands_is_not_that_of_the_decimals() -> None:
    with pytest.raises(SettingsError, match="thousands"):
        grouped(".")


@pytest.mark.parametrize("thousands", ["", ","])
def test_zeros_before_other_digits_are_a_number_unless_the_profile_says_no(thousands: str) -> None:
    value = {"thousands": thousands}
    loose = One(LOOSE | {"value": value})
    strict = One(LOOSE | {"value": value | {"leading_zeros": False}})
    for line, number in ((b"0", "0"), (b"0.05", "0.05"), (b"-10.0", "-10.0"), (b"905", "905")):
        for one in (loose, strict):
            heard = one.decode(line)
            assert isinstance(heard, Heard)
            assert str(heard.value) == number
    for line in (b"000", b"00.5", b"-07", b"+007.0"):
        assert isinstance(loose.decode(line), Heard)
        assert isinstance(strict.decode(line), str)


def implied(line: bytes, **value: Any) -> Heard | str:
    table = {
        "kind": "force",
        "line": {"baud_rate": 9600},
        "text": {"terminator": "\n"},
        "message": [{"means": "reading", "pattern": "(?P<value>.*)"}],
        "value": {"implied_decimals": 2} | value,
        "unit": {"default": "newton"},
    }
    heard = Codec(load(table, "test")).decode(line)
    return heard if isinstance(heard, str) else heard[0]


@pytest.mark.parametrize(
    ("line", "value"),
    [(b"914", "9.14"), (b" -0914", "-9.14"), (b"+12345", "123.45"), (b"7", "0.07"), (b"000", "0")],
)
def test_a_decimal_point_that_is_not_sent_stands_where_the_profile_says(
    line: bytes, value: str
) -> None:
    heard = implied(line)
    assert isinstance(heard, Heard)
    assert heard.value == Decimal(value)
    assert heard.text == line.decode().strip()


@pytest.mark.parametrize("line", [b"9.14", b"9,14", b".14", b"914.", b"9E2", b"9 14", b""])
def test_where_no_point_is_sent_a_number_with_one_is_noise(line: bytes) -> None:
    assert isinstance(implied(line), str)


def test_the_zero_before_a_point_that_is_not_sent_fills_nothing_up() -> None:
    told = [implied(line, leading_zeros=False) for line in (b"007", b"07", b"0007", b"0914")]
    assert [isinstance(one, Heard) for one in told] == [True, True, False, False]


def test_limits_are_those_of_the_number_with_its_point() -> None:
    assert isinstance(implied(b"914", most=9.14, most_decimals=2), Heard)
    assert "more than the display can show" in str(implied(b"915", most=9.14))


@pytest.mark.parametrize(
    ("value", "place"),
    [({"exponent": True}, "implied_decimals"), ({"thousands": ","}, "implied_decimals"),
     ({"most_decimals": 1}, "most_decimals"), ({"implied_decimals": 7}, "implied_decimals")],
)  # fmt: skip
def test_a_point_that_is_not_sent_stands_in_no_other_form(
    value: dict[str, Any], place: str
) -> None:
    with pytest.raises(SettingsError, match=place):
        implied(b"914", **value)


@pytest.mark.parametrize(
    ("kind", "key", "tokens", "unit"),
    [
        ("gloss", "geometry", {"20": 20, "60": 60, "G60": 60}, "gloss_unit"),
        ("transmittance", "band", {"20": "365", "60": "940", "G60": "940"}, "percent"),
    ],
)
def test_a_geometry_or_a_band_may_stand_in_a_line_twice_and_means_the_same_then(
    kind: str, key: str, tokens: dict[str, Any], unit: str
) -> None:
    pattern = rf"(?P<{key}>\w+) (?P<value>\d+\.\d)(?: (?P<{key}_again>\w+))?"
    message = {"means": "reading", "pattern": pattern}
    table = {**LOOSE, "kind": kind, "message": [message], "unit": {"default": unit}}
    table |= {key: {"tokens": tokens}, "value": {}}
    one = codec(table)
    for line in (b"60 91.4 60", b"60 91.4 G60", b"60 91.4"):
        heard = one.decode(line)
        assert isinstance(heard, Heard)
        assert heard.channel == str(tokens["60"])
    assert one.decode(b"60 91.4 20") == f"the {key} is '60' and once more '20'"
    assert one.decode(b"60 91.4 85") == f"the {key} is '60' and once more '85'"
