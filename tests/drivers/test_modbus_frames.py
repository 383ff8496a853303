"""Frames of Modbus against published ones, and what a line does to them."""

from __future__ import annotations

import pytest

from acquire.model import Instant
from acquire.wire import Frame
from drivers.modbus.awaited import CUT_BYTES, Answer, Piece
from drivers.modbus.framer import AnswerFramer
from drivers.modbus.request import (
    Block,
    Request,
    Table,
    read_object,
    report_server_id,
    write_coil,
    write_register,
)
from drivers.modbus.rtu import HELD_BYTES, RtuFramer, wrapped
from drivers.modbus.tcp import TcpFramer, transaction_of
from drivers.modbus.tcp import wrapped as wrapped_tcp

NOW = Instant(10**18, 10**12)
GAP_S = 0.1
# The example of MODBUS Application Protocol Specification V1.1b3, 6.3, as frames of unit 1. With
# these CRCs it is printed in a public manual of a device that speaks Modbus.
READ_THREE = Block(Table.HOLDING, 0x6B, 3).request()
ASKED = bytes.fromhex("01 03 00 6B 00 03 74 17")
ANSWERED = bytes.fromhex("01 03 06 02 2B 00 00 00 64 05 7A")


def later(seconds: float) -> Instant:
    ns = round(seconds * 1e9)
    return Instant(NOW.utc_ns + ns, NOW.mono_ns + ns)


def rtu(unit: int = 1) -> RtuFramer:
    framer = RtuFramer(unit, GAP_S)
    assert framer.sent(READ_THREE, NOW)
    return framer


def faults(pieces: list[Piece]) -> list[tuple[bytes, str]]:
    return [(piece.data, piece.fault) for piece in pieces if isinstance(piece, Frame)]


def answers(pieces: list[Piece]) -> list[bytes]:
    return [piece.data for piece in pieces if isinstance(piece, Answer)]


@pytest.mark.parametrize(
    ("body", "frame"),
    [
        # MODBUS over Serial Line V1.02, appendix B, worked example of the CRC (from memory).
        ("02 07", "02 07 41 12"),
        ("01 03 00 6B 00 03", "01 03 00 6B 00 03 74 17"),
        ("01 03 06 02 2B 00 00 00 64", "01 03 06 02 2B 00 00 00 64 05 7A"),
    ],
)
def test_the_crc_is_the_published_one(body: str, frame: str) -> None:
    data = bytes.fromhex(body)
    assert wrapped(data[0], data[1:]) == bytes.fromhex(frame)


@pytest.mark.parametrize(
    ("request_", "pdu", "answer"),
    [
        # The worked examples of V1.1b3, chapters 6.1 to 6.6 (from memory).
        (Block(Table.DISCRETE, 0xC4, 22).request(), "02 00 C4 00 16", "02 03 AC DB 35"),
        (Block(Table.COIL, 0x13, 19).request(), "01 00 13 00 13", "01 03 CD 6B 05"),
        (READ_THREE, "03 00 6B 00 03", "03 06 02 2B 00 00 00 64"),
        (Block(Table.INPUT, 8, 1).request(), "04 00 08 00 01", "04 02 00 0A"),
        (write_coil(0xAC, True), "05 00 AC FF 00", "05 00 AC FF 00"),
        (write_register(1, 3), "06 00 01 00 03", "06 00 01 00 03"),
        # The forms of 6.13 and 6.21; their data are our own.
        (report_server_id(), "11", "11 03 41 42 FF"),
        (read_object(0x80), "2B 0E 04 80", "2B 0E 04 83 00 00 01 80 02 41 42"),
    ],
)
def test_requests_and_answers_are_those_of_the_standard(
    request_: Request, pdu: str, answer: str
) -> None:
    assert request_.pdu == bytes.fromhex(pdu)
    expected = bytes.fromhex(answer)
    for framer in (RtuFramer(1, GAP_S), TcpFramer(1, GAP_S)):
        framer.sent(request_, NOW)
        frame = (
            wrapped(1, expected)
            if isinstance(framer, RtuFramer)
            else wrapped_tcp(transaction_of(NOW), 1, expected)
        )
        (found,) = framer.feed(frame, NOW)
        assert isinstance(found, Answer)
        assert found.pdu == expected


def test_the_header_of_tcp_is_that_of_the_guide() -> None:
    # Implementation Guide V1.0b, 3.1.3 and 4.2 (from memory): transaction, 0, length, unit.
    assert wrapped_tcp(0x1501, 0xFF, bytes.fromhex("04 0000 0001")) == bytes.fromhex(
        "15 01 00 00 00 06 FF 04 00 00 00 01"
    )


def test_an_answer_is_found_whole_split_and_behind_noise() -> None:
    assert answers(rtu().feed(ANSWERED, NOW)) == [ANSWERED]
    framer = rtu()
    for byte in ANSWERED[:-1]:
        assert framer.feed(bytes([byte]), NOW) == []
    assert answers(framer.feed(ANSWERED[-1:], NOW)) == [ANSWERED]
    pieces = rtu().feed(b"\x01\x03\x06" + ANSWERED + b"\x00", NOW)
    assert answers(pieces) == [ANSWERED]
    assert [data for data, _ in faults(pieces)] == [b"\x01\x03\x06"]


def test_an_echo_before_the_answer_is_passed_over_once() -> None:
    pieces = rtu().feed(ASKED + ANSWERED, NOW)
    assert answers(pieces) == [ANSWERED]
    assert faults(pieces) == []
    pieces = rtu().feed(ASKED + ASKED + ANSWERED, NOW)
    assert [data for data, _ in faults(pieces)] == [ASKED]


def test_a_wrong_crc_is_told_with_both() -> None:
    framer = rtu()
    assert framer.feed(ANSWERED[:-1] + b"\x00", NOW) == []
    ((_, why),) = faults([*framer.expire(later(GAP_S))])
    assert why == "wrong CRC: got 05 00, wanted 05 7a"


@pytest.mark.parametrize(
    ("frame", "why"),
    [
        (wrapped(2, ANSWERED[1:-2]), "an answer of unit 2 where unit 1 was asked"),
        (wrapped(1, b"\x04\x02\x00\x0a"), "an answer to function 4 where function 3 was asked"),
        (wrapped(1, b"\x84\x02"), "an answer to function 4 where function 3 was asked"),
        (wrapped(1, b"\x03\x02\x00\x0a"), "an answer of another form than the request to function"),
    ],
)
def test_an_answer_to_something_else_says_so(frame: bytes, why: str) -> None:
    framer = rtu()
    pieces = framer.feed(frame + ANSWERED, NOW)
    assert answers(pieces) == [ANSWERED]
    ((data, said),) = faults(pieces)
    assert data == frame
    assert said.startswith(why)


def test_an_answer_that_stalls_is_noise_and_so_is_its_tail() -> None:
    framer = rtu()
    framer.feed(ANSWERED[:6], NOW)
    assert framer.deadline == later(GAP_S)
    assert framer.expire(later(GAP_S - 0.001)) == []
    ((data, why),) = faults([*framer.expire(later(GAP_S))])
    assert (data, why) == (ANSWERED[:6], "a frame that was not ended: nothing followed for 0.1 s")
    assert framer.feed(ANSWERED[6:], later(0.2)) == []
    assert [d for d, _ in faults([*framer.expire(later(0.5))])] == [ANSWERED[6:]]


def test_a_second_answer_is_unasked() -> None:
    framer = rtu()
    assert answers(framer.feed(ANSWERED + ANSWERED, NOW)) == [ANSWERED]
    ((_, why),) = faults([*framer.give_up()])
    assert why.startswith("an answer that nobody waited for")


def test_an_exception_is_an_answer() -> None:
    frame = wrapped(1, b"\x83\x02")
    (found,) = rtu().feed(frame, NOW)
    assert isinstance(found, Answer)
    assert found.is_exception


def test_what_looks_like_the_answer_is_tried_a_few_times_and_no_more() -> None:
    framer = rtu()
    false = ANSWERED[:-1] + b"\x00"
    assert answers(framer.feed(7 * false + ANSWERED, NOW)) == [ANSWERED]
    framer = rtu()
    assert answers(framer.feed(8 * false + ANSWERED, NOW)) == []


@pytest.mark.parametrize("framer", [rtu(), TcpFramer(1, GAP_S)], ids=["rtu", "tcp"])
def test_endless_noise_comes_in_pieces_and_little_is_held(framer: AnswerFramer) -> None:
    size = 0
    for _ in range(100):
        pieces = framer.feed(bytes([7, 0xAA, 0xBB]) * 1000, NOW)
        assert all(len(data) <= CUT_BYTES for data, _ in faults(pieces))
        size += sum(len(data) for data, _ in faults(pieces))
        assert framer.waiting_bytes < HELD_BYTES
    assert size + framer.waiting_bytes == 300_000


def tcp() -> tuple[TcpFramer, int]:
    framer = TcpFramer(1, GAP_S)
    framer.sent(READ_THREE, NOW)
    return framer, transaction_of(NOW)


PDU = ANSWERED[1:-2]


def test_on_tcp_the_transaction_pairs_answers_with_requests() -> None:
    framer, number = tcp()
    stale = wrapped_tcp(number - 1, 1, PDU)
    right = wrapped_tcp(number, 1, PDU)
    pieces = framer.feed(stale + right, NOW)
    assert answers(pieces) == [right]
    assert faults(pieces) == [
        (stale, f"an answer to transaction {number - 1} where {number} is under way")
    ]


@pytest.mark.parametrize(
    ("unit", "pdu", "why"),
    [
        (2, PDU, "an answer of unit 2 where unit 1 was asked"),
        (1, b"\x04" + PDU[1:], "an answer to function 4 where function 3 was asked"),
        (1, PDU + b"\x00", "an answer of another form than the request to function 3 asks for"),
        (1, b"\x83\x02\x00", "an answer of another form than the request to function 3 asks for"),
    ],
)
def test_on_tcp_an_answer_to_something_else_says_so(unit: int, pdu: bytes, why: str) -> None:
    framer, number = tcp()
    right = wrapped_tcp(number, 1, PDU)
    pieces = framer.feed(wrapped_tcp(number, unit, pdu) + right, NOW)
    assert answers(pieces) == [right]
    assert [said for _, said in faults(pieces)] == [why]


def test_on_tcp_bytes_that_are_no_header_are_noise_up_to_one_that_is() -> None:
    framer, number = tcp()
    right = wrapped_tcp(number, 1, PDU)
    pieces = framer.feed(b"\xaa\xbb\xcc" + right, NOW)
    assert answers(pieces) == [right]
    assert faults(pieces) == [(b"\xaa\xbb\xcc", "no header of Modbus TCP")]


def test_on_tcp_a_frame_that_stalls_is_noise() -> None:
    framer, number = tcp()
    half = wrapped_tcp(number, 1, PDU)[:9]
    assert framer.feed(half, NOW) == []
    assert [data for data, _ in faults([*framer.expire(later(GAP_S))])] == [half]
