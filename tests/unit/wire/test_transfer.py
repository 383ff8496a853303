"""Records of transfers: whatever the cuts, the same records, and nothing made of what is none."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.wire.transfer import (
    LONGEST_TRANSFER,
    Description,
    Pipe,
    Status,
    Transfer,
    TransferReader,
    bulk_in,
    record,
    setup,
)

transfers = st.lists(
    st.tuples(st.sampled_from(Pipe), st.binary(max_size=40), st.sampled_from(Status)), max_size=8
)


def test_a_record_is_head_and_bytes() -> None:
    assert record(Pipe.INTERRUPT_IN, b"\x01\x02") == bytes.fromhex("03 00 00000002 0102")
    assert bulk_in(512) == bytes.fromhex("02 00 00000004 00000200")


def test_a_setup_packet_is_laid_out_as_usb_2_0_table_9_2_has_it() -> None:
    # GET_DESCRIPTOR of the device: 80 06 00 01 00 00 12 00 (USB 2.0, 9.4.3: type in the high byte
    # of wValue, fields of two bytes least significant first).
    assert setup(0x80, 6, 0x0100, 0, 18)[6:] == bytes.fromhex("8006000100001200")
    assert setup(0x21, 9, 0x0200, 1, 0, b"\xab")[6:] == bytes.fromhex("21090002010001 00 ab")


@given(transfers, st.data())
def test_records_are_the_same_in_whatever_chunks_they_come(
    wanted: list[tuple[Pipe, bytes, Status]], data: st.DataObject
) -> None:
    stream = b"".join(record(*one) for one in wanted)
    reader = TransferReader()
    found: list[Transfer] = []
    at = 0
    while at < len(stream):
        step = data.draw(st.integers(1, 9))
        found += reader.feed(stream[at : at + step])
        at += step
    assert [(t.pipe, t.data, t.status) for t in found] == wanted
    assert b"".join(stream[t.start : t.end] for t in found) == stream
    assert reader.waiting_bytes == 0


@given(st.binary(max_size=200))
def test_any_bytes_are_records_or_wait_or_are_told_as_none(junk: bytes) -> None:
    reader = TransferReader()
    found = reader.feed(junk)
    covered = sum(t.end - t.start for t in found)
    assert covered + reader.waiting_bytes == len(junk)
    assert reader.take_rest() == (covered, junk[covered:])


def test_what_is_no_head_makes_everything_after_it_unreadable() -> None:
    reader = TransferReader()
    assert len(reader.feed(record(Pipe.BULK_IN, b"x") + b"\xff" * 6 + record(Pipe.BULK_IN))) == 1
    assert "ff ff" in reader.fault
    assert reader.feed(record(Pipe.BULK_IN)) == []


def test_a_transfer_longer_than_any_is_refused() -> None:
    with pytest.raises(ValueError, match="at most"):
        record(Pipe.BULK_OUT, bytes(LONGEST_TRANSFER + 1))


def test_a_description_survives_its_way() -> None:
    one = Description(1, 0x02, 0x81, 0x83, 8, 64, "SN-é1")
    assert Description.from_bytes(one.to_bytes()) == one
    with pytest.raises(ValueError, match="too short"):
        Description.from_bytes(b"\x01")
