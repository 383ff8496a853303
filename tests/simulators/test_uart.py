"""A line whose ends are set otherwise: what is heard was drawn by hand, bit by bit."""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest
import serial
from hypothesis import given
from hypothesis import strategies as st

from simulators.arguments import ActFault, Arguments
from simulators.faults import Piece, read_faults
from simulators.handle import DeviceProcess
from simulators.line import TroubledLine
from simulators.uart import DROPPED, KEPT, ZEROED, Setting, heard, levels, setting
from tests.simulators.ports import NoPort, perform

FORMATS = ("8N1", "8E1", "8O2", "7E1", "7O1", "7N2")
WAIT_S = 10


def test_a_character_on_the_line_is_start_data_parity_stop() -> None:
    # 0x43 = 100 0011: from the least significant on 1100001, three ones, so even parity adds one.
    assert levels(b"C", Setting(9600, "7E1")) == [1, 0, 1, 1, 0, 0, 0, 0, 1, 1, 1, 1]
    assert levels(b"C", Setting(9600, "8N2")) == [1, 0, 1, 1, 0, 0, 0, 0, 1, 0, 1, 1, 1]


@given(st.binary(max_size=60), st.sampled_from(FORMATS), st.sampled_from([300, 9600, 115200]))
def test_two_ends_set_alike_hear_every_byte(data: bytes, form: str, baud: int) -> None:
    wide = bytes(byte & 0x7F for byte in data) if form[0] == "7" else data
    assert heard(wide, Setting(baud, form), Setting(baud, form)) == wide


@pytest.mark.parametrize(
    ("sent", "at_twice"),
    [
        # Each bit lasts for two of the receiver's. FF: low for one bit, so the start and one 0.
        (b"\xff", b"\xfe"),
        # F8: low for four bits, eight of the receiver's: its start, seven 0 and one 1.
        (b"\xf8", b"\x80"),
        # 00 is low for nine bits: also where its stop bit should be.
        (b"\x00", b"\x00"),
    ],
)
def test_a_receiver_of_twice_the_speed_takes_every_bit_twice(sent: bytes, at_twice: bytes) -> None:
    assert heard(sent, Setting(9600), Setting(19200)) == at_twice


@pytest.mark.parametrize(("errors", "came"), [(KEPT, b"\x00"), (ZEROED, b"\x00"), (DROPPED, b"")])
def test_a_stop_bit_that_is_low_is_an_error_of_its_character(errors: str, came: bytes) -> None:
    assert heard(b"\x00", Setting(9600), Setting(19200), errors) == came


def test_a_wrong_parity_is_an_error_of_its_character() -> None:
    odd, even = Setting(9600, "7O1"), Setting(9600, "7E1")
    assert [heard(b"A", odd, even, errors) for errors in (KEPT, ZEROED, DROPPED)] == [
        b"A", b"\x00", b"",
    ]  # fmt: skip


def test_even_parity_is_the_top_bit_of_whoever_expects_eight() -> None:
    assert heard(b"AC", Setting(9600, "7E1"), Setting(9600, "8N1")) == b"\x41\xc3"


def test_a_start_bit_that_is_over_by_its_middle_was_none() -> None:
    # One bit of the sender, an eighth of the receiver's.
    assert heard(b"\xff", Setting(9600), Setting(1200)) == b""


@pytest.mark.parametrize(("near", "far"), [(0.955, 0.945), (1.05, 1.06)])
def test_speeds_that_differ_by_less_than_half_a_bit_at_the_stop_are_one(
    near: float, far: float
) -> None:
    # Its middle is 9.5 bits from the edge: half a bit there is 5.3 % (arithmetic of a character of
    # ten bits; data sheets allow about 5 %, common practice, no source).
    data = bytes(range(256))
    assert heard(data, Setting(9600), Setting(round(9600 * near)), DROPPED) == data
    assert heard(data, Setting(9600), Setting(round(9600 * far)), DROPPED) != data


@given(st.binary(max_size=80), st.integers(50, 4_000_000), st.integers(50, 4_000_000))
def test_whatever_the_speeds_it_ends_and_gives_no_more_than_the_line_holds(
    data: bytes, sent: int, received: int
) -> None:
    came = heard(data, Setting(sent), Setting(received))
    assert len(came) <= len(levels(data, Setting(sent)))


@pytest.mark.parametrize(("baud", "form"), [(49, "8N1"), (9600, "9N1"), (9600, "8X1")])
def test_a_setting_no_line_has_is_refused(baud: int, form: str) -> None:
    with pytest.raises(ValueError, match="wanted"):
        setting(baud, form)


def test_the_fault_befalls_one_line_and_the_next_is_whole() -> None:
    line = TroubledLine(b"\r\n", "seed")
    given = {"kind": "wrong_speed", "baud": 9600, "heard_baud": 19200}
    line.await_faults(read_faults(Arguments("fault", given)))
    garbage = heard(b"R,1\r\n", Setting(9600), Setting(19200))
    assert garbage != b"R,1\r\n"
    assert line.send(b"R,1\r\nR,2\r\n") == [Piece(garbage), Piece(b"R,2\r\n")]


def test_a_wrong_speed_that_is_the_right_one_is_refused() -> None:
    with pytest.raises(ActFault, match="heard_baud: got 9600, wanted a speed or a format other"):
        read_faults(Arguments("fault", {"kind": "wrong_speed", "heard_baud": 9600}))


def test_an_echo_gives_back_what_the_host_sends_before_the_answer() -> None:
    class Speaking(NoPort):
        """Sends its question at every look."""

        def receive(self) -> bytes:
            return b"I?\r\n"

    host = Speaking()
    perform({"act": "echo", "on": True}, {"act": "state"}, host=host)
    assert host.taken[0] != b"I?\r\n"
    assert b"I?\r\n" in host.taken
    echo = host.taken.index(b"I?\r\n")
    assert host.taken[echo + 1].startswith(b"I,")


@pytest.mark.skipif(os.name != "posix", reason="needs pseudo-terminals")
def test_a_host_that_has_set_another_speed_hears_what_its_receiver_would(tmp_path: Path) -> None:
    with DeviceProcess(
        "gloss", layout="press", serial="SH-0417", seed=7, baud=9600, link=tmp_path / "shore"
    ) as shore:
        shore.act("place", surface="trap")
        came = []
        for baud in (9600, 19200):
            with serial.Serial(shore.port, baud, timeout=WAIT_S) as port:
                sent = shore.act("press")["sent_bytes"]
                came.append(port.read(sent))
    assert came[0].startswith(b"R,0001,20,0.0,GU*")
    likely = came[0].replace(b"0001", b"0002").split(b"*")[0]
    assert came[1].startswith(heard(likely, Setting(9600), Setting(19200))[:8])


@pytest.mark.skipif(os.name != "posix", reason="needs pseudo-terminals")
def test_a_device_hears_nothing_right_of_a_host_at_another_speed(tmp_path: Path) -> None:
    with DeviceProcess(
        "gloss", layout="asked", serial="DK-2205", seed=7, baud=4800, link=tmp_path / "deck"
    ) as deck:
        with serial.Serial(deck.port, 9600, timeout=0.2) as port:
            port.write(b"S\r")
            assert b"DK-2205" not in port.read(64)
        with serial.Serial(deck.port, 4800, timeout=WAIT_S) as port:
            # What it took for the beginning of a command ends with the first terminator.
            port.write(b"\rS\r")
            assert b"DK-2205" in port.read_until(b"2205")


def test_random_lines_are_mostly_garbage_at_another_speed() -> None:
    chance = random.Random(1)
    lines = [b"%.1f GU\r\n" % chance.uniform(0, 100) for _ in range(200)]
    same = sum(heard(line, Setting(9600), Setting(19200)) == line for line in lines)
    assert same == 0
