"""Abort and clear, step by step as USBTMC 1.00, 4.2.1.2 to 4.2.1.7 has them."""

from __future__ import annotations

from itertools import pairwise

import pytest

from acquire.clock import ManualClock
from acquire.wire.transfer import (
    Description,
    Pipe,
    Status,
    Transfer,
    TransferReader,
    bulk_in,
    record,
)
from drivers.usbtmc.event import Event, What
from drivers.usbtmc.pipes import Pipes
from drivers.usbtmc.recovery import MOST_STEPS, Recovery

DEVICE = Description(0, 0x01, 0x82, 0x83, 2, 64, "")
ABORT_OUT = "a201 0500 0100 0200"
CHECK_OUT = "a202 0000 0100 0800"
ABORT_IN = "a203 0600 8200 0200"
CHECK_IN = "a204 0000 8200 0800"
CLEAR = "a105 0000 0000 0100"
CHECK_CLEAR = "a106 0000 0000 0200"
UNHALT_OUT = record(Pipe.CLEAR, b"\x01")
READ = bulk_in(1024)


class Wire:
    """A recovery with a clock; what is sent is taken record by record."""

    def __init__(self) -> None:
        self.clock = ManualClock()
        self.recovery = Recovery(1024)

    def sent(self) -> bytes:
        sent, self.recovery.send = self.recovery.send, b""
        return sent

    def hear(self, data: bytes) -> None:
        for transfer in TransferReader().feed(data):
            assert self.recovery.hear(transfer, self.clock.now())

    def control(self, setup: str, answer: str, status: Status = Status.DONE) -> None:
        self.hear(record(Pipe.CONTROL, bytes.fromhex(setup + answer), status))

    def asks(self, setup: str) -> bool:
        return self.sent() == record(Pipe.CONTROL, bytes.fromhex(setup))


@pytest.fixture
def wire() -> Wire:
    return Wire()


def test_an_abort_of_bulk_in_reads_to_a_short_packet_and_asks_until_it_is_over(wire: Wire) -> None:
    wire.recovery.abort_in(DEVICE, 6)
    assert wire.asks(ABORT_IN)
    wire.control(ABORT_IN, "0106")
    assert wire.sent() == READ
    wire.hear(record(Pipe.BULK_IN, bytes(1024)))  # no short packet yet
    assert wire.sent() == READ
    wire.hear(record(Pipe.BULK_IN, bytes(10)))
    assert wire.asks(CHECK_IN)
    wire.control(CHECK_IN, "0201000000000000")  # pending, with a packet to be read
    assert wire.sent() == READ
    wire.hear(record(Pipe.BULK_IN, b""))
    assert wire.asks(CHECK_IN)
    wire.control(CHECK_IN, "0100000000000000")
    assert wire.sent() == b""
    assert wire.recovery.is_over
    assert not wire.recovery.has_failed


def test_while_an_abort_is_pending_with_nothing_to_read_it_is_asked_after_a_pause(
    wire: Wire,
) -> None:
    wire.recovery.abort_out(DEVICE, 5)
    assert wire.asks(ABORT_OUT)
    wire.control(ABORT_OUT, "0105")
    assert wire.asks(CHECK_OUT)
    wire.control(CHECK_OUT, "0200000000000000")
    wire.recovery.tick(wire.clock.now())
    assert wire.sent() == b""
    wire.clock.advance(0.1)
    wire.recovery.tick(wire.clock.now())
    assert wire.asks(CHECK_OUT)
    wire.control(CHECK_OUT, "0100000003000000")
    assert wire.sent() == UNHALT_OUT
    assert wire.recovery.is_over


@pytest.mark.parametrize("answer", ["8007", "8000"])
def test_with_nothing_under_way_an_abort_is_over(wire: Wire, answer: str) -> None:
    wire.recovery.abort_in(DEVICE, 6)
    wire.sent()
    wire.control(ABORT_IN, answer)
    assert wire.sent() == b""
    assert wire.recovery.is_over


@pytest.mark.parametrize(
    ("answer", "status"), [("8107", Status.DONE), ("", Status.DONE), ("", Status.STALLED)]
)
def test_an_abort_that_finds_another_transfer_or_is_refused_becomes_a_clear(
    wire: Wire, answer: str, status: Status
) -> None:
    wire.recovery.abort_in(DEVICE, 6)
    wire.sent()
    wire.control(ABORT_IN, answer, status)
    assert wire.asks(CLEAR)
    wire.control(CLEAR, "01")
    assert wire.asks(CHECK_CLEAR)
    wire.control(CHECK_CLEAR, "0100")
    assert wire.sent() == UNHALT_OUT
    assert wire.recovery.is_over
    assert not wire.recovery.has_failed


def test_a_check_of_an_abort_that_fails_becomes_a_clear(wire: Wire) -> None:
    wire.recovery.abort_in(DEVICE, 6)
    wire.sent()
    wire.control(ABORT_IN, "0106")
    wire.sent()
    wire.hear(record(Pipe.BULK_IN, b"", Status.STALLED))
    assert wire.sent() == record(Pipe.CLEAR, b"\x02") + record(
        Pipe.CONTROL, bytes.fromhex(CHECK_IN)
    )
    wire.control(CHECK_IN, "8000000000000000")
    assert wire.asks(CLEAR)


@pytest.mark.parametrize("answer", ["80", "02"])
def test_a_clear_that_is_refused_has_failed(wire: Wire, answer: str) -> None:
    wire.recovery.clear(DEVICE)
    assert wire.asks(CLEAR)
    wire.control(CLEAR, answer)
    assert wire.recovery.is_over
    assert wire.recovery.has_failed


def test_a_device_that_is_pending_for_ever_is_given_up(wire: Wire) -> None:
    wire.recovery.clear(DEVICE)
    wire.control(CLEAR, "01")
    for _ in range(MOST_STEPS):
        if wire.recovery.is_over:
            break
        wire.control(CHECK_CLEAR, "0200")
        wire.clock.advance(0.1)
        wire.recovery.tick(wire.clock.now())
    assert wire.recovery.has_failed


def test_what_answers_something_else_is_not_taken(wire: Wire) -> None:
    wire.recovery.abort_in(DEVICE, 6)
    for other in (
        record(Pipe.CONTROL, bytes.fromhex(CHECK_IN + "01")),
        record(Pipe.BULK_IN, b"\x01\x06"),
    ):
        (transfer,) = TransferReader().feed(other)
        assert not wire.recovery.hear(transfer, wire.clock.now())


# -- beneath the pipes -------------------------------------------------------------------------


def opened(answer_bytes: int = 200) -> Pipes:
    pipes = Pipes(64, answer_bytes, 2)
    pipes.hear(transfer(Pipe.OPENED, DEVICE.to_bytes()), ManualClock().now())
    return pipes


def transfer(pipe: Pipe, data: bytes = b"", status: Status = Status.DONE) -> Transfer:
    (read,) = TransferReader().feed(record(pipe, data, status))
    return read


def told(pipes: Pipes, one: Transfer) -> list[What]:
    return [event.what for event in pipes.hear(one, ManualClock().now())]


def test_a_command_that_runs_out_of_time_is_aborted_by_its_own_tag() -> None:
    pipes = opened()
    pipes.ask(b"FETC?\n")
    pipes.take_out()
    assert told(pipes, transfer(Pipe.BULK_OUT, bytes(4), Status.TIMED_OUT)) == [What.REFUSED]
    # The read that went along is answered first; nothing is sent in between.
    assert pipes.take_out() == b""
    assert told(pipes, transfer(Pipe.BULK_IN, b"", Status.TIMED_OUT)) == [What.FAILED]
    (sent,) = TransferReader().feed(pipes.take_out())
    assert sent.data.hex() == "a201010001000200"  # bTag 1: the command's, not the request's


def test_each_part_of_an_answer_has_the_whole_time() -> None:
    pipes = opened()
    pipes.ask(b"FETC?\n")
    for tag in (2, 3, 4):
        assert told(pipes, transfer(Pipe.BULK_IN, b"", Status.TIMED_OUT)) == []
        part = bytes([2, tag, 255 - tag, 0, 1, 0, 0, 0, tag == 4, 0, 0, 0]) + b"x"
        found = told(pipes, transfer(Pipe.BULK_IN, part))
    assert found == [What.ANSWER]


def test_what_comes_between_the_parts_of_an_answer_is_bounded() -> None:
    pipes = opened()
    pipes.ask(b"FETC?\n")
    part = bytes([2, 2, 253, 0, 1, 0, 0, 0, 0, 0, 0, 0]) + b"x"
    told(pipes, transfer(Pipe.BULK_IN, part))
    events: list[Event] = []
    for _ in range(20_000):
        events += pipes.hear(transfer(Pipe.INTERRUPT_IN, b"\x81\x41"), ManualClock().now())
    assert max(len(event.raw) for event in events) < 70_000
    failed = [event.why for event in events if event.what is What.FAILED]
    assert failed == ["an answer among too much else"]


def test_an_answer_to_another_status_request_is_none() -> None:
    pipes = opened()
    pipes.read_status()
    setup = TransferReader().feed(pipes.take_out())[0].data
    found = told(pipes, transfer(Pipe.CONTROL, setup + b"\x01\x55\x00"))
    assert found == [What.NOISE, What.FAILED]


def test_tags_of_status_requests_go_from_2_to_127_and_round() -> None:
    tags: list[int] = []
    pipes = opened()
    for _ in range(300):
        pipes.read_status()
        setup = TransferReader().feed(pipes.take_out())[0].data
        tags.append(setup[2])
        told(pipes, transfer(Pipe.CONTROL, setup + bytes((1, setup[2], 0))))
        told(pipes, transfer(Pipe.INTERRUPT_IN, bytes((0x80 | setup[2], 0))))
    assert tags[:126] == list(range(2, 128))
    assert all(b == a + 1 or (a, b) == (127, 2) for a, b in pairwise(tags))
