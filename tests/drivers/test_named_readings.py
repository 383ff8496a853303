"""Meters whose every reading says whose it is: nothing waits, and another one is told at once."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from acquire.driverapi import Driver
from acquire.driverapi.conformance import START, violations
from acquire.driverapi.guard import Guard
from acquire.errors import SettingsError
from acquire.model import Fact, Instant, Notice, Reading
from drivers.frame import FAMILY as FRAME
from drivers.line import FAMILY as LINE
from tests.captures import profile

LINES: dict[str, Any] = {
    "kind": "gloss",
    "line": {"baud_rate": 9600},
    "text": {"terminator": "\r\n"},
    "message": [
        {
            "means": "reading",
            "pattern": r"(?P<serial>[A-Z0-9-]{0,16});(?P<value>\d{1,3}\.\d)",
            "example": "SH-0417;91.4",
        }
    ],
    "unit": {"default": "gloss_unit"},
    "geometry": {"default": 20},
}
FRAMES: dict[str, Any] = {
    "kind": "force",
    "line": {"baud_rate": 9600},
    "frame": {"start": "02", "end": "03", "bytes": 8, "silence_s": Decimal("0.05")},
    "message": [
        {
            "means": "reading",
            "serial": {"offset": 1, "type": "text", "size": 4},
            "value": [{"offset": 5, "type": "uint16", "order": "big", "scale": Decimal("0.01")}],
            "example": "02 41 42 2D 31 04 D2 03",
        }
    ],
    "unit": {"default": "newton"},
}


def line(serial: str, value: str) -> bytes:
    return f"{serial};{value}\r\n".encode()


def frame(serial: str, value: str) -> bytes:
    return b"\x02" + serial.encode() + int(Decimal(value) * 100).to_bytes(2, "big") + b"\x03"


def told(driver: Driver, *chunks: bytes) -> list[str]:
    """What names and readings say."""
    guard, facts = Guard("p", START), list[Fact]()
    for second, chunk in enumerate(chunks, 5):
        at = Instant(START.utc_ns + second * 10**9, START.mono_ns + second * 10**9)
        facts += guard.facts(driver.feed(chunk, at), chunk, at)
    assert all(isinstance(fact, Notice | Reading) for fact in facts)
    return [
        str(fact.value) if isinstance(fact, Reading) else fact.text
        for fact in facts
        if isinstance(fact, Notice | Reading)
    ]


@pytest.mark.parametrize(
    ("family", "table", "made", "own", "other"),
    [(LINE, LINES, line, "SH-0417", "DK-2205"), (FRAME, FRAMES, frame, "AB-1", "AB-2")],
)
def test_another_name_stands_before_its_reading_and_the_same_is_told_once(
    family: Any, table: dict[str, Any], made: Any, own: str, other: str
) -> None:
    driver = family.driver(table, "p")
    assert driver.opening(START) == b""
    pressed = (made(own, "1.2"), made(own, "1.3"), made(other, "1.4"), made(own, "1.5"))
    values = ["1.2", "1.3", "1.4", "1.5"] if family is LINE else ["1.20", "1.30", "1.40", "1.50"]
    assert told(driver, *pressed) == [own, *values[:2], other, values[2], own, values[3]]
    assert violations(family, table, []) == []


def test_a_reading_that_should_say_whose_it_is_and_does_not_is_none() -> None:
    driver = LINE.driver(LINES, "p")
    driver.opening(START)
    (noise,) = driver.feed(b";91.4\r\n", START)
    assert (noise.raw, getattr(noise, "reason", "")) == (b";91.4", "no serial number")


def test_a_line_of_a_press_may_say_whose_all_of_it_is() -> None:
    table = {
        **LINES,
        "text": {"terminator": "\r\n", "together_s": Decimal("0.25")},
        "message": [
            {"means": "identity", "pattern": "SN (?P<serial>[A-Z0-9-]{1,16})", "in_press": [1]},
            {"means": "reading", "pattern": r"(?P<value>\d{1,3}\.\d)", "in_press": [2]},
        ],
    }
    driver = LINE.driver(table, "p")
    driver.opening(START)
    press = b"SN SH-0417\r\n91.4\r\n", b"SN DK-2205\r\n91.5\r\n"
    assert told(driver, *press, b"") == ["SH-0417", "91.4", "DK-2205", "91.5"]


def test_what_is_asked_for_its_name_and_says_it_anyway_waits_for_nothing() -> None:
    asked = {
        **LINES,
        "identify": {"command": "I?"},
        "message": [
            *LINES["message"], {"means": "identity", "pattern": "I (?P<serial>[A-Z0-9-]{1,16})"},
        ],
    }  # fmt: skip
    assert told(LINE.driver(asked, "p"), line("SH-0417", "1.2")) == ["SH-0417", "1.2"]


def test_only_a_reading_of_a_value_says_so() -> None:
    wrong = {**profile("counter-strokes")}
    wrong["message"] = [
        {"means": "stroke", "pattern": r"S(?P<count>\d{4}) (?P<serial>[A-Z]{1,4})"},
    ]
    del wrong["identify"]
    with pytest.raises(SettingsError, match="serial"):
        LINE.driver(wrong, "p")
