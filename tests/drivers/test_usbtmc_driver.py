"""The usbtmc driver's conduct: who is there, what is set up, what follows on what, and silence."""

from __future__ import annotations

import struct
from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest

from acquire.clock import ManualClock
from acquire.driverapi.guard import Guard
from acquire.model import (
    UNKNOWN_SERIAL,
    Fact,
    Flag,
    Noise,
    Notice,
    NoticeKind,
    Reading,
    Spectrum,
    SpectrumType,
)
from acquire.wire.transfer import Description, Pipe, Status, Transfer, TransferReader, record
from drivers.usbtmc import FAMILY
from tests.captures import profile

IDENTITY = b"SLIPWAY OPTICS,LIGHT GATE,LG-0093,1.2\n"
GRID = b"300.0,100.0,12\n"
VALUES = (0.5, 12.5, 80.0, 84.0, 88.0, 90.0, 90.5, 91.0, 91.5, 92.0, 92.0, 92.0)


def block(values: tuple[float, ...] = VALUES, code: str = "f") -> bytes:
    data = struct.pack(f"<{len(values)}{code}", *values)
    return f"#{len(str(len(data)))}{len(data)}".encode() + data + b"\n"


class Host:
    """A driver with a clock, and a device of a few words at the other end of its records."""

    def __init__(self, table: dict[str, Any], interrupt: int = 0x83, serial: str = "USB-1") -> None:
        self.clock = ManualClock()
        self.driver = FAMILY.driver(table, "test")
        self.guard = Guard("test", self.clock.now())
        self.facts: list[Fact] = []
        self.asked: list[str] = []
        self.answers: dict[str, list[bytes | Status]] = {}
        self.status: list[int] = []
        self.has_interrupt = interrupt != 0
        self.clears: Status = Status.DONE
        self._tag = 0
        self._reader = TransferReader()
        self._command = ""
        assert self.driver.opening(self.clock.now()) == b""
        device = Description(0, 0x01, 0x82, interrupt, 2, 64, serial)
        self.hear(record(Pipe.OPENED, device.to_bytes()))

    def hear(self, data: bytes) -> list[Fact]:
        now = self.clock.now()
        facts = self.guard.facts(self.driver.feed(data, now), data, now)
        self.facts += facts
        return facts

    def say(self, command: str, *answers: bytes | Status) -> None:
        """What the device answers to a command from now on; the last answer again and again."""
        self.answers[command] = list(answers)

    def run(self, seconds: float = 0.0, sent: bytes = b"") -> list[Fact]:
        """Carry out what is sent, and what follows on it, for some time; the facts of it."""
        end = self.clock.now().mono_ns + round(seconds * 1e9)
        before = len(self.facts)
        while True:
            due = self.driver.due(self.clock.now())
            waiting = self._reader.feed(sent + due.send)
            sent = b""
            for transfer in waiting:
                self._carry_out(transfer)
            if waiting:
                continue
            if due.again is None or due.again.mono_ns > end:
                self.clock.advance(max(0, end - self.clock.now().mono_ns) / 1e9)
                self.hear(b"")
                return self.facts[before:]
            self.clock.advance((due.again.mono_ns - self.clock.now().mono_ns) / 1e9)

    def request(self, byte: int) -> list[Fact]:
        """The device requests service with this status byte."""
        self.status = [byte, 0]
        before = len(self.facts)
        self.hear(record(Pipe.INTERRUPT_IN, bytes((0x81, byte | 64))))
        self.run()
        return self.facts[before:]

    def _carry_out(self, transfer: Transfer) -> None:
        pipe, data = transfer.pipe, transfer.data
        if pipe is Pipe.BULK_OUT and data[0] == 1:
            self._command = data[12 : 12 + int.from_bytes(data[4:8], "little")].decode()
            self.asked.append(self._command)
            if self.answers.get(self._command) == [Status.STALLED]:
                self.hear(record(Pipe.BULK_OUT, bytes(4), Status.STALLED))
        elif pipe is Pipe.BULK_OUT:
            self._tag = data[1]
        elif pipe is Pipe.BULK_IN:
            self._answer()
        elif pipe is Pipe.CONTROL:
            self._control(data)

    def _answer(self) -> None:
        answers = self.answers.get(self._command, [Status.TIMED_OUT])
        answer = answers.pop(0) if len(answers) > 1 else answers[0]
        if isinstance(answer, Status):
            if answer is Status.TIMED_OUT:
                self.clock.advance(2.0)
            self.hear(record(Pipe.BULK_IN, b"", answer))
            return
        head = bytes([2, self._tag, 255 - self._tag, 0]) + struct.pack("<I", len(answer))
        self.hear(record(Pipe.BULK_IN, head + bytes([1, 0, 0, 0]) + answer))

    def _control(self, setup: bytes) -> None:
        request, tag = setup[1], setup[2]
        self.asked.append(f"request {request}")
        if request != 128:
            if self.clears is not Status.DONE:
                self.hear(record(Pipe.CONTROL, setup, self.clears))
                return
            answer = {1: b"\x80\x00", 3: b"\x80\x00", 5: b"\x01", 6: b"\x01\x00"}[request]
            self.hear(record(Pipe.CONTROL, setup + answer))
            return
        byte = self.status.pop(0) if self.status else 0
        if self.has_interrupt:
            self.hear(record(Pipe.CONTROL, setup + bytes((1, tag, 0))))
            self.hear(record(Pipe.INTERRUPT_IN, bytes((0x80 | tag, byte))))
        else:
            self.hear(record(Pipe.CONTROL, setup + bytes((1, tag, byte))))


def head(table: dict[str, Any] | None = None, **how: Any) -> Host:
    host = Host(deepcopy(table or profile("usbtmc-head")), **how)
    host.say("*IDN?\n", IDENTITY)
    host.say("WAV?\n", GRID)
    host.say("SYST:ERR?\n", b'0,"No error"\n')
    return host


def ready(table: dict[str, Any] | None = None, **how: Any) -> Host:
    """A head that was set up."""
    host = head(table, **how)
    host.run()
    return host


def notices(facts: list[Fact]) -> list[tuple[NoticeKind, str]]:
    return [(fact.kind, fact.text) for fact in facts if isinstance(fact, Notice)]


def bands(facts: list[Fact]) -> dict[str, str]:
    return {fact.channel: fact.text for fact in facts if isinstance(fact, Reading)}


# -- who is there ------------------------------------------------------------------------------


def test_the_serial_number_is_that_of_the_identification() -> None:
    assert notices(ready().facts) == [(NoticeKind.IDENTITY, "LG-0093")]


@pytest.mark.parametrize("answer", [b"A,B,0,1.2\n", b"A,B,,1.2\n", b"A,B, 0,1.2\n"])
def test_a_device_without_a_serial_number_has_that_of_its_usb_interface(answer: bytes) -> None:
    host = head()
    host.say("*IDN?\n", answer)
    assert notices(host.run()) == [(NoticeKind.IDENTITY, "USB-1")]


@pytest.mark.parametrize("answer", [Status.TIMED_OUT, b"LIGHT GATE\n"])
def test_a_device_that_does_not_tell_who_it_is_is_nobody_known(answer: bytes | Status) -> None:
    host = head()
    host.say("*IDN?\n", answer)
    told = notices(host.run(30))
    assert [text for kind, text in told if kind is NoticeKind.IDENTITY] == [UNKNOWN_SERIAL]
    assert host.asked.count("*IDN?\n") == 3


def test_a_device_that_is_asked_and_has_no_serial_number_of_any_kind_is_nobody_known() -> None:
    host = head(serial="")
    host.say("*IDN?\n", b"A,B,0,1.2\n")
    assert notices(host.run()) == [(NoticeKind.IDENTITY, UNKNOWN_SERIAL)]


def test_each_press_asks_a_device_that_nobody_knows_anew() -> None:
    host = head()
    host.say("*IDN?\n", Status.TIMED_OUT)
    host.run(30)
    for count in (1, 2, 3):
        if count == 2:
            host.say("*IDN?\n", IDENTITY)
        host.say("FETC?\n", b"%d," % count + block())
        host.request(1)
        host.run(30)
    told = [text for kind, text in notices(host.facts) if kind is NoticeKind.IDENTITY]
    assert told == [UNKNOWN_SERIAL, "LG-0093"]
    assert host.asked.count("*IDN?\n") == 5


def test_an_identification_of_other_than_four_fields_is_noise_and_asked_again() -> None:
    host = head()
    host.say("*IDN?\n", b"LIGHT GATE,LG-0093\n", IDENTITY)
    noise, identity = host.run()
    assert isinstance(noise, Noise)
    assert "no four fields" in noise.reason
    assert notices([identity]) == [(NoticeKind.IDENTITY, "LG-0093")]


def test_a_profile_that_does_not_ask_takes_the_serial_number_of_the_usb_interface() -> None:
    table = deepcopy(profile("usbtmc-head"))
    del table["identify"]
    host = Host(table)
    assert notices(host.facts) == [(NoticeKind.IDENTITY, "USB-1")]


# -- setting up --------------------------------------------------------------------------------


def test_the_device_is_set_up_in_the_order_of_the_profile() -> None:
    assert ready().asked == [
        "*IDN?\n", "*CLS\n", "FORM REAL,32\n", "FORM:BORD SWAP\n", "*SRE 7\n", "WAV?\n",
        "request 128",
    ]  # fmt: skip


def test_a_device_that_does_not_know_a_start_command_is_not_read() -> None:
    host = head()
    host.status = [4] * 9
    host.say("SYST:ERR?\n", b'-113,"Undefined header"\n')
    told = notices(host.run(5))
    assert told.count((NoticeKind.TROUBLE, '-113,"Undefined header"')) == 3
    assert "cannot be set up" in told[-1][1]
    assert host.driver.take(host.clock.now()) == b""
    host.asked.clear()
    assert host.request(1) == []
    assert host.asked == []


def test_an_error_of_before_does_not_stand_in_the_way() -> None:
    host = head()
    host.status = [4]
    host.say("SYST:ERR?\n", b'101,"Lamp;1"\n', b'0,"No error"\n')
    host.run()
    host.say("FETC?\n", b"2," + block())
    assert bands(host.request(1)) == {"315-400": "12.5", "380-780": "66.125"}


def test_a_start_command_that_does_not_go_out_is_sent_again_with_all_others() -> None:
    host = head()
    host.say("FORM REAL,32\n", Status.STALLED)
    host.run(30)
    assert host.asked.count("FORM REAL,32\n") == 3
    assert "cannot be set up" in notices(host.facts)[-1][1]


def test_wavelengths_that_are_none_are_asked_for_again_and_no_spectrum_is_without() -> None:
    host = head()
    host.say("WAV?\n", b"300.0,0,12\n")
    host.run()
    assert host.asked.count("WAV?\n") == 3
    host.say("FETC?\n", b"1," + block())
    facts = host.request(1)
    reasons = [f.reason for f in facts if isinstance(f, Noise)]
    assert reasons[0] == "a spectrum whose wavelengths are not known"
    host.say("WAV?\n", GRID)
    host.say("FETC?\n", b"2," + block())
    host.request(1)
    host.say("FETC?\n", b"3," + block())
    assert any(isinstance(f, Spectrum) for f in host.request(1))


# -- status ------------------------------------------------------------------------------------


def test_without_an_interrupt_pipe_the_byte_is_in_the_answer() -> None:
    host = ready(interrupt=0)
    host.say("FETC?\n", b"1," + block())
    host.status = [1]
    assert bands(host.run(2.1)) == {"315-400": "12.5", "380-780": "66.125"}


def test_a_status_byte_that_does_not_come_is_given_up_and_read_again() -> None:
    host = head()
    host.has_interrupt = False  # it answers on the control pipe alone, against its descriptor
    told = notices(host.run(20))
    assert told[-1] == (
        NoticeKind.TROUBLE,
        "no answer to 3 commands in a row: no status byte came on the interrupt pipe",
    )


def test_a_bit_that_stays_set_is_told_and_does_not_keep_the_bus_busy() -> None:
    host = ready()
    host.say("ADJ?\n", b"1\n")
    host.status = [2] * 100
    host.hear(record(Pipe.INTERRUPT_IN, b"\x81\x42"))
    host.asked.clear()
    told = notices(host.run())
    assert told[-1] == (NoticeKind.TROUBLE, "the status byte stays 2, whatever is fetched")
    assert len(host.asked) < 40
    host.asked.clear()
    # It says again and again that it was re-adjusted, so it is told so.
    assert set(notices(host.run(20))) == {(NoticeKind.ADJUSTED, "")}
    assert len(host.asked) == 20  # two at each poll: the byte, and the question
    host.status = []
    host.say("FETC?\n", b"1," + block())
    host.run(2)
    assert len(host.request(1)) == 4


def test_a_device_that_refuses_every_fetch_does_not_keep_the_bus_busy() -> None:
    host = ready()
    host.say("FETC?\n", Status.STALLED)
    host.status = [1] * 1000
    host.hear(record(Pipe.INTERRUPT_IN, b"\x81\x41"))
    host.run(60)
    # At each of 30 polls three fetches at most, each with a clear and setting up anew.
    assert len(host.asked) < 30 * 3 * 15


def test_a_service_request_during_an_answer_is_followed_after_it() -> None:
    host = ready()
    host.say("FETC?\n", b"1," + block(), b"2," + block())
    host.status = [1, 1, 0]
    host.hear(record(Pipe.INTERRUPT_IN, b"\x81\x41"))
    presses = [f.press for f in host.run() if isinstance(f, Spectrum)]
    assert presses == [1, 2]


# -- presses -----------------------------------------------------------------------------------


def test_the_same_result_again_is_no_news() -> None:
    host = ready()
    host.say("FETC?\n", b"1," + block())
    assert len(host.request(1)) == 4
    assert host.request(1) == []


def test_presses_that_never_came_are_told() -> None:
    host = ready()
    for count in (1, 4):
        host.say("FETC?\n", b"%d," % count + block())
        facts = host.request(1)
    assert notices(facts) == [
        (NoticeKind.TROUBLE, "the meter's count went on by 2 without a reading here")
    ]


@pytest.mark.parametrize(("good", "failed"), [(2, 3), (3, 2)])
def test_a_failed_press_beside_a_good_one_is_neither_missed_nor_a_restart(
    good: int, failed: int
) -> None:
    host = ready()
    host.say("FETC?\n", b"1," + block())
    host.request(1)
    host.say("FETC?\n", b"%d," % good + block())
    host.say("SYST:ERR?\n", b'101,"Lamp;%d"\n' % failed, b'0,"No error"\n')
    assert notices(host.request(5)) == [(NoticeKind.TROUBLE, f'101,"Lamp;{failed}"')]
    host.say("FETC?\n", b"4," + block())
    assert notices(host.request(1)) == []


def test_a_failed_press_that_is_told_before_a_later_result_is_counted_once() -> None:
    host = ready()
    host.say("FETC?\n", b"1," + block())
    host.request(1)
    host.say("FETC?\n", b"2," + block())
    host.say("SYST:ERR?\n", b'101,"Lamp;3"\n', b'0,"No error"\n')
    host.status = [5, 0]
    host.hear(record(Pipe.INTERRUPT_IN, b"\x81\x45"))
    host.run()
    host.say("FETC?\n", b"5," + block())
    assert notices(host.request(1)) == [
        (NoticeKind.TROUBLE, "the meter's count went on by one without a reading here")
    ]


def test_a_count_that_goes_back_is_a_restart_and_its_spectrum_is_not_believed() -> None:
    host = ready()
    host.say("FETC?\n", b"7," + block())
    host.request(1)
    host.asked.clear()
    host.say("FETC?\n", b"1," + block())
    power_up, noise, identity = host.request(1)
    assert notices([power_up, identity]) == [
        (NoticeKind.POWER_UP, ""),
        (NoticeKind.IDENTITY, "LG-0093"),
    ]
    assert isinstance(noise, Noise)
    assert "FORM REAL,32\n" in host.asked
    host.say("FETC?\n", b"2," + block())
    assert len(bands(host.request(1))) == 2


@pytest.mark.parametrize(("lowest", "kinds"), [(0, []), (1, [NoticeKind.POWER_UP])])
def test_a_count_at_its_end_begins_again_where_the_profile_says(
    lowest: int, kinds: list[NoticeKind]
) -> None:
    table = deepcopy(profile("usbtmc-head"))
    table["press"] |= {"highest_count": 9, "lowest_count": lowest}
    host = ready(table)
    host.say("FETC?\n", b"9," + block())
    host.request(1)
    host.say("FETC?\n", b"0," + block())
    assert [kind for kind, _ in notices(host.request(1))][:1] == kinds


def test_told_to_take_a_reading_while_something_is_under_way_it_is_taken_after_it() -> None:
    host = ready()
    host.say("READ?\n", b"1," + block())
    host.say("FETC?\n", b"1," + block())
    host.status = [1, 0]
    host.hear(record(Pipe.INTERRUPT_IN, b"\x81\x41"))
    assert host.driver.take(host.clock.now()) == b""
    host.run()
    assert host.asked[-1] == "READ?\n"


def test_a_device_that_can_not_be_asked_is_known_by_its_profile() -> None:
    table = deepcopy(profile("usbtmc-head"))
    now = ManualClock().now()
    assert FAMILY.driver(table, "test").take(now) != b""
    del table["take"]
    assert FAMILY.driver(table, "test").take(now) == b""


# -- silence -----------------------------------------------------------------------------------


def test_a_device_that_can_not_even_be_cleared_is_told_and_tried_again() -> None:
    host = ready()
    host.say("FETC?\n", Status.STALLED)
    host.clears = Status.STALLED
    host.request(1)
    host.run(10)
    told = [text for _, text in notices(host.facts)]
    assert len([text for text in told if "cannot be cleared" in text]) == 1
    assert host.asked.count("request 5") >= 4
    host.clears = Status.DONE
    host.say("FETC?\n", b"1," + block())
    host.run(3)
    assert any(isinstance(f, Spectrum) for f in [*host.facts, *host.request(1)])


def test_nothing_is_sent_after_the_link_was_lost() -> None:
    host = ready()
    now = host.clock.now()
    host.hear(record(Pipe.INTERRUPT_IN, b"\x81\x41")[:5])
    (noise,) = host.driver.lost(now)
    assert isinstance(noise, Noise)
    assert host.driver.lost(now) == []
    assert host.driver.due(now).send == b""
    assert host.driver.take(now) == b""


# -- what is polled ----------------------------------------------------------------------------


def asked_table(**changes: Any) -> dict[str, Any]:
    table = deepcopy(profile("usbtmc-bands"))
    table.update(changes)
    return {name: value for name, value in table.items() if value is not None}


def test_a_flag_that_says_new_leads_to_the_result() -> None:
    poll = {
        "every_s": Decimal("0.5"),
        "command": "NEW?\n",
        "pattern": r"(?P<flag>\d)",
        "fresh": ["1"],
    }
    host = head(asked_table(poll=poll))
    host.say("NEW?\n", b"0\n", b"1\n", b"0\n")
    host.say("FETC:BAND?\n", b"3,12.50,88.04,90.11\n")
    facts = host.run(2)
    assert bands(facts) == {"315-400": "12.50", "380-780": "88.04", "780-1400": "90.11"}
    # What was there when it was connected may be old.
    assert all(f.flags == {Flag.ECHO} for f in facts if isinstance(f, Reading))


def test_a_result_that_is_asked_in_a_rhythm_is_news_once() -> None:
    poll = {"every_s": Decimal("0.5"), "command": "FETC:BAND?\n"}
    host = head(asked_table(poll=poll, fetch=None))
    host.say("FETC:BAND?\n", b"0\n", b"1,12.50,88.04,90.11\n")
    facts = host.run(5)
    assert len(bands(facts)) == 3
    assert all(f.flags == frozenset() for f in facts if isinstance(f, Reading))
    assert len([f for f in facts if isinstance(f, Reading)]) == 3
    assert host.asked.count("FETC:BAND?\n") >= 9


def test_polls_follow_on_the_answer_in_their_rhythm() -> None:
    host = head(asked_table())
    host.say("COUN?\n", b"0\n")
    host.run(0.1)
    host.asked.clear()
    host.run(5.0)
    assert host.asked == ["COUN?\n"] * 10


# -- numbers -----------------------------------------------------------------------------------


def spectral(**changes: Any) -> dict[str, Any]:
    table = deepcopy(profile("usbtmc-head"))
    table["spectrum"] = {**table["spectrum"], **changes.pop("spectrum", {})}
    table.update(changes)
    return table


def test_integers_become_binary64_with_the_scale_of_the_profile() -> None:
    table = spectral(spectrum={"form": "int16", "scale": Decimal("0.01")})
    host = ready(table)
    whole = (50, 1250, 8000, 8400, 8800, 9000, 32767, 9100, 9150, 9200, 9200, -32768)
    host.say("FETC?\n", b"1," + block(whole, "h"))
    facts = host.request(1)
    (spectrum,) = [f for f in facts if isinstance(f, Spectrum)]
    assert spectrum.type is SpectrumType.BINARY64
    assert struct.unpack("<12d", spectrum.values) == tuple(n / 100 for n in whole)
    assert bands(facts) == {"315-400": "12.5", "380-780": "66.125"}


def test_the_most_significant_byte_may_stand_first_and_is_turned() -> None:
    host = ready(spectral(spectrum={"order": "big"}))
    data = struct.pack(">12f", *VALUES)
    host.say("FETC?\n", b"1,#248" + data + b"\n")
    (spectrum,) = [f for f in host.request(1) if isinstance(f, Spectrum)]
    assert spectrum.values == struct.pack("<12f", *VALUES)


def test_wavelengths_may_be_a_block_of_their_own() -> None:
    table = spectral(wavelengths={"command": "WAV:GRID?\n"})
    host = head(table)
    grid = (300.0, 320.0, 350.0, 399.0, 401.0, 500.0, 600.0, 700.0, 779.5, 780.0, 940.0, 1000.0)
    host.say("WAV:GRID?\n", block(grid))
    host.run()
    host.say("FETC?\n", b"1," + block())
    facts = host.request(1)
    (spectrum,) = [f for f in facts if isinstance(f, Spectrum)]
    assert spectrum.wavelengths == grid
    # By hand: (12.5 + 80 + 84) / 3, and 84 to 92 from 399 to 780 nm: 628 / 7.
    assert bands(facts) == {
        "315-400": repr(176.5 / 3),
        "380-780": repr((84 + 88 + 90 + 90.5 + 91 + 91.5 + 92) / 7),
        "940": "92.0",
    }


@pytest.mark.parametrize(
    ("point", "told"),
    [
        (float("nan"), "the band 380-780 cannot be told: a point that is no number"),
        (3.0e38, ""),
    ],
)
def test_a_point_that_is_no_number_refuses_its_band_alone(point: float, told: str) -> None:
    host = ready()
    values = (*VALUES[:3], point, *VALUES[4:])
    host.say("FETC?\n", b"1," + block(values))
    facts = host.request(1)
    assert bands(facts)["315-400"] == "12.5"
    assert any(isinstance(f, Spectrum) for f in facts)
    if told:
        assert (NoticeKind.TROUBLE, told) in notices(facts)
        assert "380-780" not in bands(facts)


def test_what_the_wavelengths_lack_is_told_once() -> None:
    host = head()
    host.say("WAV?\n", b"320.0,10.0,12\n")
    host.run()
    told: list[str] = []
    for count in (1, 2, 3):
        host.say("FETC?\n", b"%d," % count + block())
        facts = host.request(1)
        assert bands(facts) == {}
        told += [text for _, text in notices(facts)]
    assert told == [
        "the band 315-400 cannot be told: the wavelengths go from 320 to 430 nm",
        "the band 380-780 cannot be told: the wavelengths go from 320 to 430 nm",
        "the band 940 cannot be told: the wavelengths go from 320 to 430 nm",
    ]


def test_a_spectrum_of_other_than_the_wavelengths_points_is_noise() -> None:
    host = ready()
    host.say("FETC?\n", b"1," + block(VALUES[:11]))
    (noise,) = host.request(1)
    assert isinstance(noise, Noise)
    assert noise.reason == "11 points of 12 wavelengths"
