"""The line driver's conduct in time: echoes, repeats, silence, what is sent and when."""

from __future__ import annotations

from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest

from acquire.clock import ManualClock
from acquire.driverapi import Driver
from acquire.model import UNKNOWN_SERIAL, Fact, Flag, Noise, Notice, NoticeKind, Reading
from drivers.line import FAMILY
from tests.captures import profile

NAMES = {b"I?\r\n": b"I,SH-0417*51\r\n", b"S\r": b"S DK-2205\r"}
"""What the meters answer when they are asked who they are."""


class Bench:
    """A driver with a clock: receive, let time pass, see what is sent."""

    def __init__(self, table: dict[str, Any]) -> None:
        self.clock = ManualClock()
        self.driver: Driver = FAMILY.driver(table, "test")
        self.sent = [self.driver.opening(self.clock.now())]
        self.facts: list[Fact] = []

    def hear(self, data: bytes) -> list[Fact]:
        facts = self.driver.feed(data, self.clock.now())
        self.facts += facts
        return facts

    def reads(self, data: bytes) -> list[Fact]:
        """What comes of a result of a meter that says who it is when it is asked thereupon."""
        facts = self.hear(data)
        if (asked := self.driver.due(self.clock.now()).send) in NAMES:
            facts += self.hear(NAMES[asked])
        return facts

    def wait(self, seconds: float) -> list[bytes]:
        """Let time pass as a session does: ask again whenever the driver wants to be asked."""
        end = self.clock.now().mono_ns + round(seconds * 1e9)
        sent = []
        while True:
            due = self.driver.due(self.clock.now())
            if due.send:
                sent.append(due.send)
            again = due.again
            if again is None or again.mono_ns > end:
                self.clock.advance((end - self.clock.now().mono_ns) / 1e9)
                self.facts += self.driver.feed(b"", self.clock.now())
                self.sent += sent
                return sent
            self.clock.advance((again.mono_ns - self.clock.now().mono_ns) / 1e9)


def reading(facts: list[Fact]) -> Reading:
    """The one reading among facts."""
    (found,) = [fact for fact in facts if isinstance(fact, Reading)]
    return found


def notices(facts: list[Fact]) -> list[tuple[NoticeKind, str]]:
    return [(fact.kind, fact.text) for fact in facts if isinstance(fact, Notice)]


@pytest.fixture
def press() -> Bench:
    """A sending meter, past its echo window."""
    bench = Bench(profile("gloss-press"))
    bench.hear(b"I,SH-0417*51\r\n")
    bench.wait(2)
    return bench


@pytest.fixture
def asked() -> Bench:
    """An asked meter that has said who it is and that it has no result."""
    bench = Bench(profile("gloss-asked"))
    bench.hear(b"S DK-2205\r")
    bench.wait(0)
    bench.hear(b"NONE\r")
    return bench


def test_a_result_right_after_connecting_is_an_echo() -> None:
    bench = Bench(profile("gloss-press"))
    bench.hear(b"I,SH-0417*51\r\n")
    bench.clock.advance(0.99)
    assert reading(bench.reads(b"R,0001,20,91.4,GU*51\r\n")).flags == {Flag.ECHO}


def test_a_result_after_the_echo_window_is_a_press(press: Bench) -> None:
    assert reading(press.reads(b"R,0001,20,91.4,GU*51\r\n")).flags == frozenset()


def test_all_lines_of_an_echo_are_echoes_though_the_last_comes_late(press: Bench) -> None:
    press.hear(b"B,SH-0417,1.4*5D\r\n")
    press.clock.advance(0.9)
    press.reads(b"R,0001,20,91.4,GU*51\r\n")
    press.clock.advance(0.2)
    assert reading(press.reads(b"R,0001,60,95.8,GU*5D\r\n")).flags == {Flag.ECHO}


def test_an_echo_that_repeats_itself_is_both(press: Bench) -> None:
    press.hear(b"B,SH-0417,1.4*5D\r\n")
    press.reads(b"R,0001,20,91.4,GU*51\r\n")
    press.clock.advance(5)
    assert reading(press.reads(b"R,0001,20,91.4,GU*51\r\n")).flags == {Flag.ECHO, Flag.REPEAT}


def test_an_over_range_repeat_keeps_both_flags(press: Bench) -> None:
    press.reads(b"R,0004,20,----,GU*46\r\n")
    again = reading(press.reads(b"R,0004,20,----,GU*46\r\n"))
    assert again.flags == {Flag.OVER_RANGE, Flag.REPEAT}
    assert again.value is None


def test_the_same_count_with_another_value_means_that_the_counter_started_again(
    press: Bench,
) -> None:
    press.reads(b"R,0001,20,91.4,GU*51\r\n")
    facts = press.reads(b"R,0001,20,85.1,GU*51\r\n")
    assert notices(facts) == [(NoticeKind.POWER_UP, "")]
    assert reading(facts).flags == frozenset()
    # It was asked for its name after it, and not once more.
    assert press.wait(0.1) == []


def test_a_count_that_goes_back_to_one_before_its_end_is_a_power_up_that_was_not_heard(
    press: Bench,
) -> None:
    press.reads(b"R,0007,20,86.4,GU*51\r\n")
    facts = press.reads(b"R,0001,20,91.4,GU*51\r\n")
    assert notices(facts) == [(NoticeKind.POWER_UP, "")]
    assert reading(facts).flags == frozenset()


def test_a_press_that_failed_is_not_missed_and_one_that_never_came_is_told(press: Bench) -> None:
    press.reads(b"R,0004,20,----,GU*46\r\n")
    assert notices(press.hear(b"E,0005,LAMP*50\r\n")) == [(NoticeKind.TROUBLE, "LAMP")]
    assert notices(press.hear(b"E,0007,LIFT*55\r\n")) == [
        (NoticeKind.TROUBLE, "the meter's count went on by one without a reading here"),
        (NoticeKind.TROUBLE, "LIFT"),
    ]


def test_a_readjustment_tells_of_presses_that_never_came(press: Bench) -> None:
    press.reads(b"R,0002,20,86.6,GU*56\r\n")
    assert notices(press.hear(b"A,0004*69\r\n")) == [
        (NoticeKind.TROUBLE, "the meter's count went on by 2 without a reading here"),
        (NoticeKind.ADJUSTED, ""),
    ]


def test_a_meter_that_was_off_when_it_was_asked_is_asked_again_when_it_speaks() -> None:
    bench = Bench(profile("gloss-press"))
    assert bench.sent == [b"I?\r\n"]
    assert bench.wait(10) == [b"I?\r\n", b"I?\r\n"]
    assert bench.facts == []
    bench.hear(b"R,0001,20,91.4,GU*51\r\n")
    assert bench.wait(0.1) == [b"I?\r\n"]
    bench.hear(b"I,SH-0417*51\r\n")
    bench.reads(b"R,0002,20,86.6,GU*56\r\n")
    assert bench.wait(10) == []


def test_a_sending_meter_is_not_disturbed_once_it_has_said_who_it_is(press: Bench) -> None:
    assert press.wait(3600) == []
    assert press.driver.take(press.clock.now()) == b""


def test_a_line_that_is_not_ended_becomes_noise_by_itself(press: Bench) -> None:
    press.hear(b"R,0001,20")
    press.wait(1)
    assert press.facts[-1] == Noise(
        press.facts[-1].at, b"R,0001,20", 14, 23, "not ended within 0.5 s"
    )


def test_a_lost_link_gives_what_was_waiting_and_forgets(press: Bench) -> None:
    press.hear(b"R,0001,20")
    (noise,) = press.driver.lost(press.clock.now())
    assert isinstance(noise, Noise)
    assert noise.raw == b"R,0001,20"
    assert press.driver.lost(press.clock.now()) == []


def test_an_asked_meter_is_asked_at_its_rhythm_while_it_answers(asked: Bench) -> None:
    for _ in range(4):
        assert asked.wait(0.25) == [b"?\r"]
        assert asked.hear(b"NONE\r") == []


def test_an_asked_meter_gets_one_command_at_a_time(asked: Bench) -> None:
    assert asked.wait(0.25) == [b"?\r"]
    # It does not answer: nothing more is sent until its time is up.
    assert asked.wait(0.9) == []
    assert asked.wait(0.2) == [b"?\r"]


def test_a_result_is_news_once(asked: Bench) -> None:
    assert reading(asked.reads(b"1 60   88,3 GU\r")).value == Decimal("88.3")
    assert asked.reads(b"1 60   88,3 GU\r") == []


def test_the_first_result_after_connecting_is_an_echo_unless_there_was_none() -> None:
    bench = Bench(profile("gloss-asked"))
    bench.hear(b"S DK-2205\r")
    bench.clock.advance(100)
    assert reading(bench.reads(b"2 60  100,2 GU\r")).flags == {Flag.ECHO}
    assert reading(bench.reads(b"3 60 OVER\r")).flags == {Flag.OVER_RANGE}


def test_a_meter_that_falls_silent_is_told_once_and_taken_as_new_when_it_speaks(
    asked: Bench,
) -> None:
    asked.reads(b"1 60   88,3 GU\r")
    asked.facts.clear()
    asked.wait(30)
    assert notices(asked.facts) == [(NoticeKind.TROUBLE, "no answer to 3 commands in a row")]
    facts = asked.reads(b"1 60   88,3 GU\r")
    # Off and on, or its cable was out: whether this is an old result nobody knows.
    assert notices(facts) == [(NoticeKind.POWER_UP, "")]
    assert reading(facts).flags == {Flag.ECHO}
    assert asked.wait(0.1) == [b"?\r"]


def test_a_press_between_two_asks_that_was_overwritten_is_told(asked: Bench) -> None:
    asked.reads(b"1 60   88,3 GU\r")
    assert notices(asked.reads(b"3 60 OVER\r")) == [
        (NoticeKind.TROUBLE, "the meter's count went on by one without a reading here")
    ]


def test_taking_a_reading_sends_the_command_of_the_profile(asked: Bench) -> None:
    assert asked.driver.take(asked.clock.now()) == b"M\r"
    assert asked.wait(0.5) == []  # one command at a time
    assert reading(asked.reads(b"1 60   88,3 GU\r")).press == 1
    assert asked.wait(0.1) == [b"?\r"]


def test_a_meter_that_does_not_say_its_name_goes_on_and_gives_readings_of_nobody_known() -> None:
    bench = Bench(profile("gloss-asked"))
    bench.hear(b"ERR\r")
    for _ in range(2):
        assert bench.wait(0) == [b"S\r"]
        bench.hear(b"ERR\r")
    assert bench.wait(0) == [b"?\r"]
    bench.hear(b"NONE\r")
    assert bench.wait(0.5) == [b"?\r"]
    bench.hear(b"1 60   88,3 GU\r")
    bench.facts.clear()
    for _ in range(3):
        assert bench.wait(0) == [b"S\r"]
        bench.hear(b"ERR\r")
    # It is polled on meanwhile.
    assert bench.wait(2.9)[0] == b"?\r"
    assert bench.facts == []
    bench.wait(0.1)
    assert notices(bench.facts)[0] == (NoticeKind.IDENTITY, UNKNOWN_SERIAL)
    assert reading(bench.facts).value == Decimal("88.3")


def test_asking_for_names_takes_no_poll_away_from_a_meter_that_has_news_at_each(
    asked: Bench,
) -> None:
    polls = 0
    for _ in range(210):
        asked.clock.advance(0.01)
        if (sent := asked.driver.due(asked.clock.now()).send) == b"?\r":
            polls += 1
            asked.hear(f"{polls} 60   88,3 GU\r".encode())
        elif sent:
            asked.hear(NAMES[sent])
    # Every 0.25 s, as the profile says.
    assert polls == 8
    assert sum(isinstance(fact, Reading) for fact in asked.facts) == 8


# -- a meter without a counter -----------------------------------------------------------------


@pytest.fixture
def uncounted() -> Bench:
    table = deepcopy(profile("gloss-press"))
    table["message"] = [
        {
            "means": "reading",
            "pattern": r"(?P<geometry>\d\d) (?P<value>-?\d+\.\d) (?P<unit>GU)",
        }
    ]
    table["press"] = {"repeat_window_s": Decimal("1.0"), "echo_window_s": Decimal("1.0")}
    del table["checksum"], table["identify"]
    bench = Bench(table)
    bench.wait(2)
    return bench


def test_without_a_count_the_same_bytes_within_the_window_are_a_repeat(uncounted: Bench) -> None:
    assert reading(uncounted.hear(b"20 91.4 GU\r\n")).flags == frozenset()
    uncounted.clock.advance(0.9)
    assert reading(uncounted.hear(b"20 91.4 GU\r\n")).flags == {Flag.REPEAT}
    # One meter that will not stop is one press, however long it goes on.
    uncounted.clock.advance(0.9)
    assert reading(uncounted.hear(b"20 91.4 GU\r\n")).flags == {Flag.REPEAT}
    uncounted.clock.advance(1.0)
    assert reading(uncounted.hear(b"20 91.4 GU\r\n")).flags == frozenset()


def test_without_a_count_another_geometry_or_value_is_no_repeat(uncounted: Bench) -> None:
    for line in (b"20 91.4 GU\r\n", b"60 91.4 GU\r\n", b"20 91.5 GU\r\n", b"60 91.5 GU\r\n"):
        assert reading(uncounted.hear(line)).flags == frozenset()


def test_without_a_checksum_the_tail_of_a_stalled_line_is_no_reading(uncounted: Bench) -> None:
    uncounted.hear(b"20 1")
    uncounted.clock.advance(1)
    facts = uncounted.hear(b"20 91.4 GU\r\n")
    assert [type(fact) for fact in facts] == [Noise, Noise]
    assert reading(uncounted.hear(b"20 91.4 GU\r\n")).value == Decimal("91.4")


def test_without_a_count_a_result_in_the_echo_window_is_an_echo(uncounted: Bench) -> None:
    uncounted.driver.opening(uncounted.clock.now())
    assert reading(uncounted.hear(b"20 91.4 GU\r\n")).flags == {Flag.ECHO}
    assert reading(uncounted.hear(b"20 91.4 GU\r\n")).flags == {Flag.ECHO, Flag.REPEAT}


def test_what_sets_a_meter_up_is_sent_once_before_it_is_asked_who_it_is() -> None:
    table = deepcopy(profile("gloss-press"))
    table["start"] = {"command": "MODE 1\r\n"}
    bench = Bench(table)
    assert bench.sent == [b"MODE 1\r\nI?\r\n"]
    sent = bench.wait(10)
    assert b"MODE 1\r\n" not in sent
    assert set(sent) == {b"I?\r\n"}


@pytest.mark.parametrize(
    ("humidity", "is_air"),
    [("000.0", True), ("048.2", True), ("100.0", True), ("100.1", False), ("840.2", False)],
)
def test_no_air_is_damper_than_a_hundred_percent(humidity: str, *, is_air: bool) -> None:
    body = f"T=+21.4 RH={humidity}"
    line = f"{body};{sum(body.encode()) & 0xFF:02X}\r\n".encode()
    facts = Bench(profile("climate-asked")).hear(line)
    assert [type(fact) for fact in facts] == ([Reading, Reading] if is_air else [Noise])
