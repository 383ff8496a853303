"""Headers of the class against the bytes that WIRE.md works out by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.usbtmc.message import (
    MessageIn,
    message_in,
    message_out,
    next_tag,
    read_bytes,
    request_in,
)

IDENTIFY = bytes.fromhex("01 01 fe 00 06 00 00 00 01 00 00 00 2a 49 44 4e 3f 0a 00 00")
REQUEST = bytes.fromhex("02 02 fd 00 00 08 00 00 00 00 00 00")
ANSWER = bytes.fromhex("02 02 fd 00 26 00 00 00 01 00 00 00") + (
    b"SLIPWAY OPTICS,LIGHT GATE,LG-0093,1.2\n"
)


def test_a_command_and_its_request_are_the_bytes_of_the_page() -> None:
    assert message_out(1, b"*IDN?\n") == IDENTIFY
    assert request_in(2, 2048) == REQUEST


def test_the_answer_of_the_page_is_read() -> None:
    assert message_in(ANSWER, 2, 2048) == MessageIn(ANSWER[12:], True)


@pytest.mark.parametrize("length", range(1, 9))
def test_a_message_is_filled_up_to_a_multiple_of_four(length: int) -> None:
    sent = message_out(7, b"x" * length)
    assert len(sent) % 4 == 0
    assert sent[12 : 12 + length] == b"x" * length
    assert not any(sent[12 + length :])


def test_tags_go_round_without_zero() -> None:
    tag, seen = 0, []
    for _ in range(512):
        tag = next_tag(tag)
        seen.append(tag)
    assert seen == [*range(1, 256), *range(1, 256), 1, 2]


def test_a_part_has_no_end_and_up_to_three_bytes_of_alignment() -> None:
    part = bytes.fromhex("02 05 fa 00 01 00 00 00 00 00 00 00") + b"x"
    assert message_in(part, 5, 64) == MessageIn(b"x", False)
    assert message_in(part + bytes(3), 5, 64) == MessageIn(b"x", False)
    assert message_in(part + bytes(4), 5, 64) == "1 bytes told of, 5 came"


@pytest.mark.parametrize(
    ("transfer", "why"),
    [
        ("02 05 fa", "fewer than a header"),
        ("01 05 fa 00 01 00 00 00 01 00 00 00 78", "the message 0x01"),
        ("02 05 05 00 01 00 00 00 01 00 00 00 78", "as its complement"),
        ("02 06 f9 00 01 00 00 00 01 00 00 00 78", "the tag 6, wanted 5"),
        ("02 05 fa 00 00 00 00 00 01 00 00 00", "0 bytes told of"),
        ("02 05 fa 00 41 00 00 00 01 00 00 00 78", "65 bytes told of, wanted 1 to 64"),
        ("02 05 fa 00 02 00 00 00 01 00 00 00 78", "of which 1 came"),
    ],
)
def test_what_is_no_part_of_the_answer_is_told_why(transfer: str, why: str) -> None:
    told = message_in(bytes.fromhex(transfer), 5, 64)
    assert isinstance(told, str)
    assert why in told


@given(st.binary(max_size=40), st.integers(1, 255), st.integers(1, 4096))
def test_any_bytes_are_a_part_or_a_reason(transfer: bytes, tag: int, limit: int) -> None:
    part = message_in(transfer, tag, limit)
    assert isinstance(part, str) or transfer[12:].startswith(part.data)


@given(st.integers(1, 1 << 20), st.sampled_from([8, 16, 32, 64, 512, 1024]))
def test_a_read_is_longer_than_the_transfer_and_whole_packets(limit: int, packet: int) -> None:
    assert read_bytes(limit) > 12 + limit + 3
    assert read_bytes(limit) % packet == 0
