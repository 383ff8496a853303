"""A count above what presses have shown is read only where it came there by counting."""

from __future__ import annotations

from collections.abc import Iterable
from copy import deepcopy
from typing import Any

from acquire.driverapi import Driver
from acquire.driverapi.capture import capture
from acquire.driverapi.conformance import START, violations
from acquire.driverkit.presses import NOT_CARRIED
from acquire.model import Fact, Noise, Reading
from drivers.frame import FAMILY
from tests.drivers.faulty import told

PROFILE: dict[str, Any] = {
    "kind": "gloss",
    "line": {"baud_rate": 9600},
    "frame": {"start": "AA", "end": "BB", "bytes": 6},
    "message": [
        {
            "means": "reading",
            "count": {"offset": 1, "type": "uint16", "order": "big"},
            "value": [{"offset": 3, "type": "uint16", "order": "big"}],
        }
    ],
    "unit": {"default": "gloss_unit"},
    "geometry": {"default": 60},
    "press": {"carried_above": 255},
}


def sent(count: int) -> bytes:
    return b"\xaa" + count.to_bytes(2, "big") + b"\x00\x2d\xbb"


def opened() -> Driver:
    driver = FAMILY.driver(PROFILE, "p")
    driver.opening(START)
    return driver


def heard(driver: Driver, counts: Iterable[int]) -> list[Fact]:
    """The readings, and what is noise, of presses of these counts one after another."""
    facts = [fact for count in counts for fact in driver.feed(sent(count), START)]
    return [fact for fact in facts if isinstance(fact, Reading | Noise)]


def read(driver: Driver, *counts: int) -> list[int | None]:
    return [one.press if isinstance(one, Reading) else None for one in heard(driver, counts)]


def test_a_count_that_goes_on_is_read_and_all_of_it_from_then_on() -> None:
    assert read(opened(), 253, 254, 258, 259, 5000, 259) == [253, 254, 258, 259, 5000, 259]


def test_one_that_leaps_there_is_noise_as_long_as_it_is_there() -> None:
    assert read(opened(), 5, 262, 263, 264, 9, 10) == [5, None, None, None, 9, 10]
    (_, noise) = heard(opened(), (5, 262))
    assert isinstance(noise, Noise)
    assert noise.reason == NOT_CARRIED.format(262, 255)


def test_so_is_one_that_is_there_at_the_first_press_of_a_connection() -> None:
    driver = opened()
    assert read(driver, 300, 301, 255, 256) == [None, None, 255, 256]
    driver.lost(START)
    driver.opening(START)
    assert read(driver, 256 + 40, 4) == [None, 4]


def test_its_driver_keeps_every_rule_of_the_kit() -> None:
    good, bad = sent(5).decode("latin-1"), sent(300).decode("latin-1")
    reading = {"text": "00 2D", "value": "45", "unit": "gloss_unit", "channel": "60", "press": 5}
    table = {
        "step": [{"received": good}, {"after_s": 1.0, "received": bad}, {"after_s": 1.0}],
        "fact": [{"is": "reading", "raw": good, **reading}, {"is": "noise", "raw": bad}],
    }
    assert violations(FAMILY, PROFILE, [capture(table, "carried")], spoilt_bytes=20_000) == []


def test_readings_without_a_count_have_none_to_come_there() -> None:
    table = deepcopy(PROFILE)
    del table["message"][0]["count"]
    assert told(FAMILY, table)["press.carried_above"] == ("255", "a count in the readings")
