"""The modbus driver's conduct in time: what is asked and when, late answers, silence, takes."""

from __future__ import annotations

from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest

from acquire.clock import ManualClock
from acquire.driverapi.guard import Guard
from acquire.link.tape import Passed, Tape, replay
from acquire.model import UNKNOWN_SERIAL, Fact, Flag, Noise, Notice, NoticeKind, Reading
from drivers.modbus import FAMILY
from drivers.modbus.driver import ModbusDriver
from drivers.modbus.rtu import wrapped
from tests.captures import profile

IDENTITY = wrapped(17, b"\x03\x10" + b"SH-0417".ljust(16, b"\0"))
WHO = wrapped(17, bytes.fromhex("03 0100 0008"))
POLL = wrapped(17, bytes.fromhex("04 0000 0006"))
NOT_MEASURED = 0x8000
TAKE = wrapped(17, bytes.fromhex("06 0030 0001"))


def registers(*numbers: int) -> bytes:
    data = b"".join(number.to_bytes(2, "big") for number in numbers)
    return wrapped(17, bytes([4, len(data)]) + data)


def press(count: int, value: int, status: int = 0) -> bytes:
    return registers(count, status, value, NOT_MEASURED, NOT_MEASURED, 0)


class Bench:
    """A driver with a clock, a guard and a tape: answer, let time pass, see what is sent."""

    def __init__(self, table: dict[str, Any]) -> None:
        self.table = table
        self.clock = ManualClock()
        self.opened = self.clock.now()
        self.driver: ModbusDriver = FAMILY.driver(table, "p")
        self.guard = Guard("modbus", self.opened)
        self.facts: list[Fact] = []
        self.passed: list[Passed] = []
        self._sizes = {"sent": 0, "received": 0}
        self._note("sent", self.driver.opening(self.opened))

    def _note(self, direction: str, data: bytes) -> bytes:
        if data:
            self.passed.append(Passed(direction, self._sizes[direction], self.clock.now(), data))
            self._sizes[direction] += len(data)
        return data

    def due(self) -> bytes:
        self.guard.tell(self.clock.now())
        return self._note("sent", self.driver.due(self.clock.now()).send)

    def take(self) -> bytes:
        return self._note("sent", self.driver.take(self.clock.now()))

    def hear(self, data: bytes) -> list[Fact]:
        """What comes of these bytes, a millisecond later."""
        now = self.clock.advance(0.001)
        self._note("received", data)
        facts = self.guard.facts(self.driver.feed(data, now), data, now)
        self.facts += facts
        return facts

    def reads(self, data: bytes, within_s: float = 0.01) -> list[Fact]:
        """What comes of a result, whose device says who it is when it is asked thereupon."""
        facts = self.hear(data)
        if self.driver.holds and WHO in self.wait(within_s):
            facts += self.hear(IDENTITY)
        return facts

    def wait(self, seconds: float) -> list[bytes]:
        """Let time pass as a session does: ask again whenever the driver wants to be asked."""
        end = self.clock.now().mono_ns + round(seconds * 1e9)
        sent = []
        while True:
            now = self.clock.now()
            self.guard.tell(now)
            due = self.driver.due(now)
            if due.send:
                sent.append(self._note("sent", due.send))
            self.facts += self.guard.facts(self.driver.feed(b"", now), b"", now)
            again = due.again
            if again is None or again.mono_ns > end:
                self.clock.advance((end - now.mono_ns) / 1e9)
                return sent
            self.clock.advance((again.mono_ns - now.mono_ns) / 1e9)

    def replayed(self) -> list[Fact]:
        """What a fresh driver makes of the tape."""
        tape = Tape(self.opened, "tape", tuple(self.passed))
        return replay(FAMILY.driver(self.table, "p"), tape)

    def ends_as_its_tape(self) -> None:
        now = self.clock.now()
        self.facts += self.guard.facts(self.driver.lost(now), b"", now)
        assert self.replayed() == self.facts


def readings(facts: list[Fact]) -> list[tuple[str, frozenset[Flag]]]:
    return [(str(fact.value), fact.flags) for fact in facts if isinstance(fact, Reading)]


def notices(facts: list[Fact]) -> list[tuple[NoticeKind, str]]:
    return [(fact.kind, fact.text) for fact in facts if isinstance(fact, Notice)]


@pytest.fixture
def gloss() -> Bench:
    """A meter that said who it is and that nothing was measured."""
    bench = Bench(profile("modbus-gloss"))
    bench.hear(IDENTITY)
    assert bench.wait(0.01) == [POLL]
    bench.hear(registers(0, 0, NOT_MEASURED, NOT_MEASURED, NOT_MEASURED, 0))
    return bench


@pytest.fixture
def taking() -> Bench:
    """The same meter with a register that makes it measure."""
    table = deepcopy(profile("modbus-gloss"))
    table["take"] = {"table": "holding", "address": 0x30, "value": 1, "settle_s": 0.1}
    bench = Bench(table)
    bench.hear(IDENTITY)
    bench.wait(0.01)
    bench.hear(registers(0, 0, NOT_MEASURED, NOT_MEASURED, NOT_MEASURED, 0))
    return bench


def test_the_next_request_waits_for_the_silence_between_frames() -> None:
    bench = Bench(profile("modbus-gloss"))
    bench.hear(IDENTITY)
    again = bench.driver.due(bench.clock.now()).again
    assert again is not None
    # 3.5 characters of 11 bits at 19200 baud.
    assert again.mono_ns - bench.clock.now().mono_ns == 2_005_208
    assert bench.due() == b""
    bench.clock.advance(0.0021)
    assert bench.due() == POLL


def test_it_polls_as_often_as_the_profile_says(gloss: Bench) -> None:
    sent = 0
    for _ in range(100):
        for _ in gloss.wait(0.01):
            sent += 1
            gloss.reads(press(1, 914))
    # A hundred times 10 ms and an answer's millisecond each, at one poll in 250 ms.
    assert sent == 4
    assert readings(gloss.facts) == [("91.4", frozenset())]
    gloss.ends_as_its_tape()


def test_a_poll_without_news_makes_no_fact(gloss: Bench) -> None:
    gloss.wait(0.25)
    assert readings(gloss.reads(press(1, 914))) == [("91.4", frozenset())]
    for _ in range(5):
        assert gloss.wait(0.25) == [POLL]
        assert gloss.reads(press(1, 914)) == []
    gloss.ends_as_its_tape()


def test_a_request_without_answer_is_sent_again_and_a_late_answer_belongs_to_nothing_else() -> None:
    table = deepcopy(profile("modbus-gloss"))
    # The count stands apart and is as long as the value: their answers have one form.
    table["value"] = table["value"][:1]
    table["count"]["address"] = 40
    del table["adjusted"], table["trouble"]
    bench = Bench(table)
    bench.hear(IDENTITY)
    ask_count = wrapped(17, bytes.fromhex("04 0028 0001"))
    ask_value = wrapped(17, bytes.fromhex("04 0002 0001"))
    assert bench.wait(0.01) == [ask_count]
    bench.hear(registers(0))
    assert bench.wait(0.3) == [ask_count]
    # Nothing comes for half a second.
    assert bench.wait(0.5) == [ask_count]
    # The late answer to the first; the one to the second may still come: nothing else is asked.
    assert bench.reads(registers(1)) == []
    assert bench.wait(0.2) == []
    bench.reads(registers(1))
    assert bench.wait(0.4) == [ask_value]
    (late,) = [fact for fact in bench.facts if isinstance(fact, Noise)]
    assert late.reason.startswith("an answer that nobody waited for")
    bench.reads(registers(914))
    # There were bytes between the count and the value: all of it anew.
    for request, answer in ((ask_count, 1), (ask_value, 914), (ask_count, 1)):
        assert bench.wait(0.1) == [request]
        bench.reads(registers(answer))
    assert readings(bench.facts) == [("91.4", frozenset())]
    bench.ends_as_its_tape()


def test_a_press_while_a_result_is_read_makes_it_read_anew() -> None:
    table = deepcopy(profile("modbus-gloss"))
    table["count"]["address"] = 40
    bench = Bench(table)
    bench.hear(IDENTITY)
    inputs = [0] * 41
    inputs[3:5] = [NOT_MEASURED, NOT_MEASURED]
    asked: list[int] = []
    for result in ((0, 0), (1, 914), (1, 914), (2, 866), (2, 866), (2, 866), (2, 866)):
        inputs[40], inputs[2] = result
        (request,) = bench.wait(0.3)
        first, size = request[3], request[5]
        bench.reads(registers(*inputs[first : first + size]))
        asked.append(first)
    # Its count, its values, and the count again, which had changed: all anew.
    assert asked == [40, 40, 1, 40, 40, 1, 40]
    (reading,) = [fact for fact in bench.facts if isinstance(fact, Reading)]
    assert (reading.press, str(reading.value)) == (2, "86.6")
    assert reading.raw.startswith(registers(2))
    assert reading.raw.endswith(registers(2))
    bench.ends_as_its_tape()


def test_an_answer_of_another_form_cannot_be_taken_for_the_awaited_one(gloss: Bench) -> None:
    gloss.wait(0.25)
    gloss.reads(registers(1))
    assert gloss.wait(0.5) == [POLL]
    assert readings(gloss.reads(press(1, 914), 0.51)) == [("91.4", frozenset())]
    assert [f.raw for f in gloss.facts if isinstance(f, Noise)] == [registers(1)]
    gloss.ends_as_its_tape()


def test_a_silent_meter_is_told_once_and_is_another_meter_when_it_speaks(gloss: Bench) -> None:
    gloss.wait(0.25)
    gloss.reads(press(1, 914))
    gloss.wait(5)
    silent = (NoticeKind.TROUBLE, "no answer to 3 commands in a row")
    assert notices(gloss.facts).count(silent) == 1
    # A late answer to what was asked in vain is awaited before anything else is asked.
    gloss.reads(press(1, 914), 0.51)
    assert notices(gloss.facts)[-1] == (NoticeKind.POWER_UP, "")
    assert readings(gloss.facts)[-1] == ("91.4", frozenset((Flag.ECHO,)))
    gloss.ends_as_its_tape()


def test_a_meter_that_never_says_who_it_is_is_polled_all_the_same() -> None:
    bench = Bench(profile("modbus-gloss"))
    sent = bench.wait(3)
    assert sent[:2] == [WHO, WHO]
    assert set(sent[2:]) == {POLL}
    bench.ends_as_its_tape()


def test_a_line_that_never_falls_silent_is_asked_all_the_same(gloss: Bench) -> None:
    sent: list[bytes] = []
    for _ in range(2000):
        gloss.hear(b"\xaa")
        if data := gloss.due():
            sent.append(data)
    assert sent
    gloss.ends_as_its_tape()


def test_a_count_that_goes_back_means_that_it_was_switched_off_and_on(gloss: Bench) -> None:
    for count in (1, 2):
        gloss.wait(0.25)
        gloss.reads(press(count, 914))
    gloss.wait(0.25)
    facts = gloss.reads(press(1, 850))
    assert notices(facts) == [(NoticeKind.POWER_UP, "")]
    assert readings(facts) == [("85.0", frozenset())]
    # It was asked who it is after that result, and not once more.
    assert gloss.wait(0.1) == []
    gloss.ends_as_its_tape()


def test_a_trouble_that_spoils_nothing_leaves_the_reading_good(gloss: Bench) -> None:
    gloss.wait(0.25)
    facts = gloss.reads(press(1, 914, status=4))
    assert notices(facts) == [(NoticeKind.TROUBLE, "the battery is low")]
    assert readings(facts) == [("91.4", frozenset())]
    gloss.wait(0.25)
    assert notices(gloss.reads(press(2, 914, status=4))) == []
    gloss.ends_as_its_tape()


def test_a_press_that_fails_again_is_told_again(gloss: Bench) -> None:
    for count in (1, 2):
        gloss.wait(0.25)
        facts = gloss.reads(press(count, NOT_MEASURED, status=1))
        assert notices(facts) == [(NoticeKind.TROUBLE, "the lamp failed")]
    gloss.ends_as_its_tape()


def test_busy_is_told_only_when_it_lasts(gloss: Bench) -> None:
    busy = wrapped(17, b"\x84\x06")
    told = []
    for _ in range(6):
        gloss.wait(0.25)
        told += notices(gloss.hear(busy))
    ((kind, text),) = told
    assert kind is NoticeKind.TROUBLE
    assert "server device busy" in text
    gloss.ends_as_its_tape()


def test_a_take_goes_out_at_once_on_an_idle_line(taking: Bench) -> None:
    taking.clock.advance(0.1)
    assert taking.take() == TAKE
    taking.hear(TAKE)
    assert taking.wait(0.2) == [POLL]
    assert readings(taking.reads(press(1, 914))) == [("91.4", frozenset())]
    taking.ends_as_its_tape()


def test_a_take_waits_for_the_answer_that_is_under_way(taking: Bench) -> None:
    assert taking.wait(0.25) == [POLL]
    taking.clock.advance(0.01)
    assert taking.take() == b""
    taking.hear(registers(0, 0, NOT_MEASURED, NOT_MEASURED, NOT_MEASURED, 0))
    assert taking.wait(0.01) == [TAKE]
    taking.hear(TAKE)
    assert taking.wait(0.2) == [POLL]
    taking.reads(press(1, 914))
    assert readings(taking.facts) == [("91.4", frozenset())]
    taking.ends_as_its_tape()


def test_a_take_that_had_to_wait_for_a_silent_meter_is_replayed_where_it_was_sent(
    taking: Bench,
) -> None:
    assert taking.wait(0.25) == [POLL]
    assert taking.take() == b""
    # The poll's time runs out, and a late answer to it is awaited before anything else is asked.
    assert taking.wait(1.2) == [TAKE]
    taking.hear(TAKE)
    assert POLL in taking.wait(0.3)
    taking.reads(press(1, 914))
    assert readings(taking.facts) == [("91.4", frozenset())]
    taking.ends_as_its_tape()


def test_a_take_is_not_held_up_by_a_meter_that_has_not_said_who_it_is() -> None:
    table = deepcopy(profile("modbus-gloss"))
    table["take"] = {"table": "holding", "address": 0x30}
    bench = Bench(table)
    bench.clock.advance(0.1)
    assert bench.take() == b""
    assert bench.wait(1.0) == [TAKE]
    bench.hear(TAKE)
    # Asked twice more, it answers the second time.
    assert bench.wait(0.7) == [WHO, WHO]
    bench.hear(IDENTITY)
    assert (NoticeKind.IDENTITY, "SH-0417") in notices(bench.facts)
    bench.ends_as_its_tape()


def test_a_take_without_answer_is_told(taking: Bench) -> None:
    taking.clock.advance(0.1)
    assert taking.take() == TAKE
    taking.wait(1.2)
    assert notices(taking.facts)[-1][1] == "no answer to the command to take a reading"
    taking.ends_as_its_tape()


def test_a_driver_says_before_it_is_opened_whether_it_can_take() -> None:
    clock = ManualClock()
    head = FAMILY.driver(profile("modbus-transmission"), "p")
    assert head.take(clock.now()) == wrapped(3, bytes.fromhex("05 0000 FF00"))
    assert FAMILY.driver(profile("modbus-gloss"), "p").take(clock.now()) == b""


def test_a_result_that_is_no_number_is_told_once_and_its_press_is_missed() -> None:
    table = deepcopy(profile("modbus-gloss"))
    table["value"] = [
        {"table": "input", "address": 1, "type": "float32", "unit": "gloss_unit", "geometry": 20}
    ]
    del table["trouble"], table["adjusted"]
    bench = Bench(table)
    bench.hear(IDENTITY)
    bench.wait(0.01)
    bench.hear(registers(0, 0, 0))
    for _ in range(3):
        bench.wait(0.3)
        bench.reads(registers(1, 0x7FC0, 0))
    (noise,) = [fact for fact in bench.facts if isinstance(fact, Noise)]
    assert noise.reason == "the float is not a number"
    bench.wait(0.3)
    facts = bench.reads(registers(2, 0x42B6, 0xCCCD))
    assert readings(facts) == [("91.4", frozenset())]
    assert notices(facts) == [
        (NoticeKind.TROUBLE, "the meter's count went on by one without a reading here")
    ]
    bench.ends_as_its_tape()


def test_a_value_cannot_be_above_the_range_and_below_it() -> None:
    table = deepcopy(profile("modbus-gloss"))
    table["value"][0] |= {
        "over_bit": {"table": "input", "address": 1, "bit": 9},
        "under_bit": {"table": "input", "address": 1, "bit": 10},
    }
    bench = Bench(table)
    bench.hear(IDENTITY)
    bench.wait(0.01)
    bench.reads(press(0, NOT_MEASURED))
    seen: list[object] = []
    for count, status in ((1, 1 << 9), (2, 1 << 10), (3, 3 << 9)):
        bench.wait(0.3)
        (fact,) = bench.reads(press(count, 914, status))
        seen.append(fact.flags if isinstance(fact, Reading) else fact)
    assert seen[:2] == [{Flag.OVER_RANGE}, {Flag.UNDER_RANGE}]
    assert isinstance(seen[2], Noise)
    assert seen[2].reason == "a value above the range and below it at once"
    bench.ends_as_its_tape()


def test_values_keep_the_digits_of_the_scale(gloss: Bench) -> None:
    gloss.wait(0.25)
    (reading,) = gloss.reads(press(1, 1000))
    assert isinstance(reading, Reading)
    assert reading.value == Decimal("100.0")
    assert str(reading.value) == "100.0"


def other(serial: bytes) -> bytes:
    return wrapped(17, b"\x03\x10" + serial.ljust(16, b"\0"))


def in_words(facts: list[Fact]) -> list[str]:
    return [
        str(fact.value)
        if isinstance(fact, Reading)
        else f"{fact.kind.value} {fact.text}"
        if isinstance(fact, Notice)
        else "noise"
        for fact in facts
    ]


def test_a_result_is_given_when_it_is_known_who_answers_and_behind_another_name(
    gloss: Bench,
) -> None:
    gloss.wait(0.25)
    assert gloss.hear(press(1, 914)) == []
    assert gloss.wait(0.01) == [WHO]
    # The name that was known: the reading alone.
    assert in_words(gloss.hear(IDENTITY)) == ["91.4"]
    gloss.wait(0.25)
    assert gloss.hear(press(2, 920)) == []
    assert gloss.wait(0.01) == [WHO]
    # Its count goes on by one, and it is another meter all the same.
    named = in_words(gloss.hear(other(b"SH-9999")))
    assert named == ["identity SH-9999", "92.0", "identity SH-9999"]
    gloss.ends_as_its_tape()


def test_what_was_taken_is_of_the_device_that_names_itself_after_it() -> None:
    table = deepcopy(profile("modbus-gloss"))
    del table["count"]
    table.pop("press", None)
    table["take"] = {"table": "holding", "address": 0x30, "value": 1, "settle_s": 0.1}
    bench = Bench(table)
    bench.hear(IDENTITY)
    for value, name in ((914, IDENTITY), (920, other(b"SH-9999"))):
        bench.clock.advance(0.5)
        assert bench.take() == TAKE
        bench.hear(TAKE)
        assert len(bench.wait(0.2)) == 1
        assert bench.hear(registers(0, value, NOT_MEASURED, NOT_MEASURED, 0)) == []
        # Another take waits until it is known whose the first is.
        bench.clock.advance(0.01)
        assert bench.due() == WHO
        bench.hear(name)
    assert in_words(bench.facts)[1:] == [
        "91.4", "identity SH-9999", "92.0", "identity SH-9999",
    ]  # fmt: skip
    bench.ends_as_its_tape()


@pytest.mark.parametrize("refuses", [True, False])
def test_a_result_without_a_name_is_of_nobody_known(gloss: Bench, refuses: bool) -> None:
    gloss.wait(0.25)
    assert gloss.hear(press(1, 914)) == []
    assert gloss.wait(0.01) == [WHO]
    if refuses:
        gloss.hear(wrapped(17, b"\x83\x01"))
    else:
        gloss.wait(2)
    assert in_words(gloss.facts)[-3:-1] == [f"identity {UNKNOWN_SERIAL}", "91.4"]
    gloss.ends_as_its_tape()


def test_a_result_that_nobody_named_before_the_line_broke_is_of_nobody_known(gloss: Bench) -> None:
    gloss.wait(0.25)
    gloss.hear(press(1, 914))
    gloss.ends_as_its_tape()
    assert in_words(gloss.facts)[-2:] == [f"identity {UNKNOWN_SERIAL}", "91.4"]


def test_noise_while_a_name_is_awaited_stands_behind_the_result_and_holds_little(
    gloss: Bench,
) -> None:
    gloss.wait(0.25)
    gloss.hear(press(1, 914))
    gloss.wait(0.01)
    for _ in range(200):
        gloss.hear(b"\xaa" * 512)
    said = in_words(gloss.facts)
    assert said.index("91.4") < said.index("noise")
    gloss.ends_as_its_tape()


def test_of_a_result_whose_name_comes_at_the_second_question_nobody_is_sure(gloss: Bench) -> None:
    gloss.wait(0.3)
    gloss.hear(press(1, 914))
    assert WHO in gloss.wait(0.01)
    assert WHO in gloss.wait(0.6)
    gloss.hear(IDENTITY)
    assert ("91.4", frozenset((Flag.UNSURE_WHOSE,))) in readings(gloss.facts)
    gloss.ends_as_its_tape()


def test_a_result_in_the_midst_of_which_nobody_answered_is_read_anew() -> None:
    """Another meter may be there when the rest of it is read."""
    table = deepcopy(profile("modbus-gloss"))
    table["value"][2]["address"] = 200
    del table["adjusted"]
    poll = wrapped(17, bytes.fromhex("04 0000 0004"))
    far = wrapped(17, bytes.fromhex("04 00C8 0001"))
    bench = Bench(table)
    bench.hear(IDENTITY)
    assert bench.wait(0.01) == [poll]
    bench.hear(registers(0, 0, NOT_MEASURED, NOT_MEASURED))
    assert bench.wait(0.3) == [poll]
    bench.hear(registers(1, 0, 914, NOT_MEASURED))
    assert bench.wait(0.01) == [far]
    # The other one has pressed as often.
    assert bench.wait(1.2)[0] == poll
    bench.hear(registers(1, 0, 402, NOT_MEASURED))
    assert bench.wait(0.01) == [far]
    bench.hear(registers(403))
    assert bench.wait(0.01) == [poll]
    bench.hear(registers(1, 0, 402, NOT_MEASURED))
    bench.wait(0.01)
    bench.hear(IDENTITY)
    assert [text for text, _ in readings(bench.facts)] == ["40.2", "40.3"]
    bench.ends_as_its_tape()
