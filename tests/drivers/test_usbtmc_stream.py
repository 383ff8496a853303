"""Whatever comes over the pipes, however cut: the same facts, no exception, little memory."""

from __future__ import annotations

import struct
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.driverapi import Driver
from acquire.driverapi.capture import Expected, worded
from acquire.driverapi.conformance import START
from acquire.driverapi.guard import Guard
from acquire.model import Fact, Instant, Reading, Spectrum
from acquire.wire.transfer import Pipe, Status, record
from drivers.usbtmc import FAMILY
from drivers.usbtmc.driver import UsbtmcDriver
from drivers.usbtmc.family import load
from tests.captures import FOLDER, profile

HEAD = load(profile("usbtmc-head"), "usbtmc-head")
CONVERSATIONS = [path.read_bytes() for path in sorted(FOLDER.glob("usbtmc-head/*.received"))]


def fed(chunks: list[bytes], step_s: float = 0.0) -> list[Expected]:
    driver: Driver = UsbtmcDriver(HEAD)
    guard, now, facts = Guard("usbtmc", START), START, []
    driver.opening(now)
    for chunk in chunks:
        ns = round(step_s * 1e9)
        now = Instant(now.utc_ns + ns, now.mono_ns + ns)
        facts += guard.facts(driver.feed(chunk, now), chunk, now)
        due = driver.due(now)
        assert due.again is None or due.again.mono_ns >= now.mono_ns
    facts += guard.facts(driver.lost(now), b"", now)
    stream = b"".join(chunks)
    for fact in facts:
        assert stream[fact.start : fact.end] == fact.raw
    return [worded(fact) for fact in facts]


def cut(data: bytes, places: list[int]) -> list[bytes]:
    edges = [0, *sorted(place % (len(data) + 1) for place in places), len(data)]
    return [data[a:b] for a, b in pairwise(edges)]


RECORDS = st.builds(
    record,
    st.sampled_from(list(Pipe)),
    st.one_of(
        st.binary(max_size=40),
        st.builds(
            lambda tag, data, end: (
                bytes([2, tag, 255 - tag, 0])
                + struct.pack("<I", len(data))
                + bytes([end, 0, 0, 0])
                + data
            ),
            st.integers(1, 12),
            st.binary(min_size=1, max_size=40),
            st.integers(0, 1),
        ),
        st.builds(
            lambda tag, byte: bytes([0x80 | tag, byte]), st.integers(0, 6), st.integers(0, 255)
        ),
        st.builds(
            lambda request, tag, answer: bytes([0xA1, request, tag, 0, 0, 0, 3, 0]) + answer,
            st.sampled_from([1, 3, 5, 6, 128]),
            st.integers(0, 8),
            st.binary(max_size=9),
        ),
    ),
    st.sampled_from(list(Status)),
)


@given(
    st.sampled_from(CONVERSATIONS),
    st.integers(0, 4000),
    st.lists(RECORDS, max_size=12),
    st.binary(max_size=30),
    st.lists(st.integers(0, 10_000), max_size=12),
)
def test_facts_do_not_depend_on_the_chunks(
    conversation: bytes, kept: int, records: list[bytes], junk: bytes, places: list[int]
) -> None:
    stream = conversation[:kept] + b"".join(records) + junk
    assert fed(cut(stream, places)) == fed([stream])


@given(
    st.sampled_from(CONVERSATIONS),
    st.lists(st.tuples(st.integers(0, 4000), st.integers(1, 255)), min_size=1, max_size=8),
)
def test_a_conversation_with_changed_bytes_raises_nothing(
    conversation: bytes, changes: list[tuple[int, int]]
) -> None:
    stream = bytearray(conversation)
    for place, bits in changes:
        stream[place % len(stream)] ^= bits
    fed([bytes(stream[i : i + 97]) for i in range(0, len(stream), 97)], step_s=0.3)


@given(st.lists(RECORDS, max_size=60))
def test_records_out_of_place_are_no_results(records: list[bytes]) -> None:
    opened = CONVERSATIONS[0][: 6 + 8 + 7]
    told = fed([opened, *records], step_s=0.2)
    assert {one.what for one in told}.isdisjoint({"reading", "spectrum"})


def test_an_endless_answer_is_given_up() -> None:
    driver = UsbtmcDriver(HEAD)
    driver.opening(START)
    facts: list[Fact] = driver.feed(CONVERSATIONS[0][: 6 + 8 + 7], START)
    tag, most = 2, 0
    for _ in range(200):
        part = bytes([2, tag, 255 - tag, 0]) + struct.pack("<I", 2048) + bytes(4) + bytes(2048)
        facts += driver.feed(record(Pipe.BULK_IN, part), START)
        driver.due(START)
        most = max(most, len(driver._pipes._span))
        tag += 1
    assert any("more than 65536 bytes" in getattr(fact, "reason", "") for fact in facts)
    assert most < 3 * 65_536
    assert not any(isinstance(fact, Reading | Spectrum) for fact in facts)


@pytest.mark.parametrize("layout", ["usbtmc-head", "usbtmc-bands"])
def test_two_drivers_share_nothing(layout: str) -> None:
    table = profile(layout)
    one, other = FAMILY.driver(table, layout), FAMILY.driver(table, layout)
    for driver in (one, other):
        driver.opening(START)
    one.feed(CONVERSATIONS[0], START)
    assert other.due(START).send == b""
