"""Another meter behind an adapter that stays open: who is there is asked, and what was passed ends.

Nothing on the line says that a cable was moved to another meter. What tells is its count.
"""

from __future__ import annotations

from typing import NamedTuple

import pytest

from acquire.driverapi import Driver
from acquire.driverkit.presses import FEW_PRESSES
from acquire.model import Fact, Instant, Notice, NoticeKind, Reading
from drivers.line import FAMILY
from tests.captures import profile

SECOND = 1_000_000_000


def checked(body: str) -> bytes:
    """A line of gloss-press, by drivers/line/WIRE.md."""
    parity = 0
    for byte in body.encode():
        parity ^= byte
    return f"{body}*{parity:02X}\r\n".encode()


class Meter(NamedTuple):
    driver: Driver
    seconds: list[int]

    def press(self, count: int, after_s: int = 10) -> list[Fact]:
        return self.hear(f"R,{count:04d},20,50.0,GU", after_s)

    def hear(self, body: str, after_s: int = 10) -> list[Fact]:
        self.seconds[0] += after_s
        return self.driver.feed(checked(body), self.now)

    @property
    def asks(self) -> bytes:
        return self.driver.due(self.now).send

    @property
    def now(self) -> Instant:
        return Instant(self.seconds[0] * SECOND, self.seconds[0] * SECOND)


def meter(*, can_be_asked: bool, proven_count: int | None = None) -> Meter:
    table = dict(profile("gloss-press"))
    if proven_count is not None:
        table["press"] = {"highest_count": 9999, "proven_count": proven_count}
    if not can_be_asked:
        del table["identify"]
    made = Meter(FAMILY.driver(table, "p"), [100])
    made.driver.opening(made.now)
    made.hear("I,SH-0417", 1)
    made.press(5)
    return made


def kinds(facts: list[Fact]) -> list[str]:
    return [fact.kind.value if isinstance(fact, Notice) else type(fact).__name__ for fact in facts]


@pytest.mark.parametrize("can_be_asked", [True, False])
def test_a_count_that_leaps_is_that_of_a_meter_that_was_not_checked(can_be_asked: bool) -> None:
    # The reading comes after the power-up, so that it does not count under the old pass.
    gone = meter(can_be_asked=can_be_asked)
    facts = gone.press(206)
    assert kinds(facts) == ["power-up", "trouble", "Reading"]
    assert (gone.asks == b"I?\r\n") is can_be_asked
    assert kinds(gone.press(207)) == ["Reading"]


def test_a_few_presses_that_were_lost_end_nothing_and_who_is_there_is_asked() -> None:
    same = meter(can_be_asked=True)
    assert kinds(same.press(6 + FEW_PRESSES)) == ["trouble", "Reading"]
    assert same.asks == b"I?\r\n"
    assert kinds(same.hear("I,SH-0417", 0)) == ["identity"]
    assert same.asks == b""


def test_who_is_there_is_asked_after_a_long_silence_of_a_meter_that_sends() -> None:
    same = meter(can_be_asked=True)
    same.press(6, after_s=29)
    assert same.asks == b""
    assert kinds(same.press(7, after_s=31)) == ["Reading"]
    assert same.asks == b"I?\r\n"


def test_presses_between_two_slow_asks_are_no_leap() -> None:
    table = dict(profile("gloss-asked"))
    table["ask"] = {"command": "?\r", "every_s": 60}
    driver = FAMILY.driver(table, "p")
    driver.opening(Instant(0, 0))
    told: list[list[str]] = []
    for second, count in ((60, 1), (120, 2), (180, 2 + 61), (240, 63 + 65)):
        at = Instant(second * SECOND, second * SECOND)
        driver.due(at)
        told.append(kinds(driver.feed(f"{count} 60   88,3 GU\r".encode(), at)))
    assert told[1:] == [["Reading"], ["trouble", "Reading"], ["power-up", "trouble", "Reading"]]


def test_a_trouble_that_bears_a_count_leaps_as_a_reading_does() -> None:
    gone = meter(can_be_asked=False)
    assert kinds(gone.hear("E,0206,LAMP"))[0] == NoticeKind.POWER_UP.value
    assert isinstance(gone.press(207)[0], Reading)


def test_a_bit_of_the_count_that_nobody_has_seen_ends_what_was_passed_once() -> None:
    held = meter(can_be_asked=False, proven_count=15)
    ended = [count for count in range(6, 70) if "power-up" in kinds(held.press(count))]
    assert ended == [16, 32, 64]
    # Missed presses reach over it as well; a bit that was seen is one of the count.
    held = meter(can_be_asked=False, proven_count=15)
    held.press(14)
    assert "power-up" in kinds(held.press(17))
    assert "power-up" not in kinds(held.press(18))
