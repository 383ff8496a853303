"""What a display cannot show is no reading, of lines and of frames alike."""

from __future__ import annotations

import struct
from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest

from acquire.driverkit.limits import Limits
from drivers import frame, line
from drivers.frame.codec import Codec as FrameCodec
from drivers.frame.family import load as load_frame
from drivers.line.codec import Codec as LineCodec
from drivers.line.family import load as load_line
from tests.captures import profile
from tests.drivers.faulty import told

LINE: dict[str, Any] = {
    "kind": "force",
    "line": {"baud_rate": 9600},
    "text": {"terminator": "\n"},
    "message": [{"means": "reading", "pattern": "(?P<value>.*)"}],
    "value": {"least": -5, "most": 199.9, "most_decimals": 1},
    "unit": {"default": "newton"},
}
FRAME: dict[str, Any] = {
    "kind": "force",
    "line": {"baud_rate": 9600},
    "frame": {"start": "02", "bytes": 5},
    "message": [
        {
            "means": "reading",
            "value": [
                {
                    "offset": 1, "type": "float32", "order": "big",
                    "least": -5, "most": 199.9, "most_decimals": 1,
                }
            ],
        }
    ],
    "unit": {"default": "newton"},
}  # fmt: skip

INSIDE = ("-5", "-4.9", "0", "0.1", "45.2", "199.9")
OUTSIDE = {
    "-5.1": "-5.1 is less than the display can show (-5)",
    "-999": "-999 is less than the display can show (-5)",
    "200": "200 is more than the display can show (199.9)",
    "1000000000": "1000000000 is more than the display can show (199.9)",
    "91.45": "91.45 has more decimals than the display shows (1)",
}


@pytest.mark.parametrize("text", INSIDE)
def test_what_the_display_can_show_is_read(text: str) -> None:
    for heard in (of_line(text), of_frame(text)):
        assert not isinstance(heard, str), heard
        assert [one.value for one in heard] == [Decimal(text)]


@pytest.mark.parametrize("text", OUTSIDE)
def test_what_it_cannot_show_is_noise_with_that_reason(text: str) -> None:
    assert of_line(text) == OUTSIDE[text]
    assert of_frame(text) == OUTSIDE[text]


def test_a_zero_with_a_minus_is_none_of_a_display_that_goes_no_lower_than_zero() -> None:
    why = "-0.0 has a minus, and the display shows nothing below 0"
    assert Limits(least=Decimal(0)).outside(Decimal("-0.0")) == why
    assert Limits(least=Decimal(0)).outside(Decimal("0.0")) == ""
    assert Limits(least=Decimal(-5)).outside(Decimal("-0.0")) == ""
    assert Limits(least=Decimal("-0.0")).outside(Decimal("-0.0")) == ""
    assert Limits(least=Decimal("-0.0")).outside(Decimal("-0.1")).startswith("-0.1 is less")
    assert Limits().outside(Decimal("-0.0")) == ""


def test_a_refused_number_is_refused_again() -> None:
    codec = LineCodec(load_line(LINE, "test"))
    assert codec.decode(b"999") == codec.decode(b"999") != codec.decode(b"99")


@pytest.mark.parametrize("text", ["91.40", "91.4000", "0.00", "120", "1E+2", "-0.50"])
def test_zeros_at_the_end_are_no_decimals(text: str) -> None:
    assert Limits(most_decimals=1).outside(Decimal(text)) == ""


def test_without_limits_every_number_is_read() -> None:
    assert Limits().outside(Decimal("1e12")) == ""


def test_a_least_above_the_most_is_a_fault() -> None:
    for family, table, value, path in both():
        value |= {"least": 200}
        assert told(family, table)[f"{path}.least"] == ("200", "at most 199.9, which most says")


def test_limits_of_a_value_of_several_units_are_a_fault() -> None:
    table = deepcopy(LINE)
    table["unit"] = {"tokens": {"N": "newton", "gf": "gram_force"}}
    table["message"][0]["pattern"] = r"(?P<value>\d+) (?P<unit>\w+)"
    assert set(told(line.FAMILY, table)) == {"value.least", "value.most"}
    force = deepcopy(profile("frame-force"))
    force["message"][0]["value"][0]["most"] = 50
    got, wanted = told(frame.FAMILY, force)["message[0].value[0].most"]
    assert got == "50"
    assert "one unit" in wanted


def both() -> list[tuple[Any, dict[str, Any], dict[str, Any], str]]:
    lines, frames = deepcopy(LINE), deepcopy(FRAME)
    value = frames["message"][0]["value"][0]
    return [
        (line.FAMILY, lines, lines["value"], "value"),
        (frame.FAMILY, frames, value, "message[0].value[0]"),
    ]


def of_line(text: str) -> Any:
    return LineCodec(load_line(LINE, "test")).decode(text.encode())


def of_frame(text: str) -> Any:
    return FrameCodec(load_frame(FRAME, "test")).decode(b"\x02" + struct.pack(">f", float(text)))
