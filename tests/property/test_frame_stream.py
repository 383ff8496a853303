"""Any bytes in any chunks: the frame driver never raises, never holds more than a piece of garbage
and a frame, never invents, and accounts for every byte."""

from __future__ import annotations

from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.driverapi.fit import misfit
from acquire.model import Fact, Instant, Reading
from acquire.wire import CHECKSUMS
from acquire.wire.blocks import PIECE_BYTES
from drivers.frame.family import driver_of, load
from tests.captures import of_layout, profile
from tests.property.pieces import fed_in_pieces

LAYOUTS = ("frame-gloss", "frame-force", "frame-bands")
TABLES: dict[str, Any] = {layout: profile(layout) for layout in LAYOUTS}
TABLES["unproven"] = deepcopy(TABLES["frame-force"])
del TABLES["unproven"]["checksum"]
PROFILES = {name: load(table, name) for name, table in TABLES.items()}
START = Instant(10**18, 10**12)
EACH = pytest.mark.parametrize("name", PROFILES)


def gloss_of(count: int, a: int, b: int, c: int) -> bytes:
    parts = [value.to_bytes(2, "big", signed=True) for value in (a, b, c)]
    body = b"\x0aR" + count.to_bytes(2, "big") + b"\0" + b"".join(parts)
    return b"\xa5\x5a" + body + CHECKSUMS["crc16-modbus"].of(body).to_bytes(2, "little")


def force_of(count: int, digits: int, unit: int, status: int) -> bytes:
    packed = bytes.fromhex(f"{digits:07d}C")
    body = bytes([0x50, unit, status]) + packed + bytes.fromhex(f"{count:02d}")
    return b"\x02" + body + bytes([-sum(body) & 0xFF]) + b"\x03"


def bands_of(count: int, a: int, b: int, c: int) -> bytes:
    body = b"\x80" + b"".join(value.to_bytes(2, "little") for value in (a, b, c)) + bytes([count])
    return body + bytes([CHECKSUMS["crc8-smbus"].of(body)])


TENTHS = st.integers(-20, 1200)
FORCES = st.builds(
    force_of,
    st.integers(0, 99),
    st.integers(0, 9_999_999),
    st.sampled_from(b"NGKL"),
    st.sampled_from([0x20, 0x22, 0x23]),
)
FRAMES = {
    "frame-gloss": st.builds(gloss_of, st.integers(0, 65535), TENTHS, TENTHS, TENTHS),
    "frame-force": FORCES,
    "frame-bands": st.builds(bands_of, st.integers(0, 255), *[st.integers(0, 11000)] * 3),
    "unproven": FORCES,
}
NAMES = {
    "frame-gloss": bytes.fromhex("A5 5A 09 49 47 46 2D 30 39 33 31 00 36 D3"),
    "frame-force": bytes.fromhex("02 53 46 47 2D 32 32 30 37 28 03"),
    "unproven": bytes.fromhex("02 53 46 47 2D 32 32 30 37 28 03"),
}
PIECES = st.one_of(
    *FRAMES.values(),
    st.sampled_from([one.received for layout in LAYOUTS for one in of_layout(layout)]),
    st.sampled_from([b"\xa5", b"\xa5\x5a", b"\xa5\x5a\x0a", b"\x02" * 30, b"\x03"]),
    st.binary(max_size=30),
)
STREAMS = st.lists(PIECES, max_size=10).map(b"".join)
CUTS = st.lists(st.integers(0, 500), max_size=15)
PAUSES = st.lists(st.sampled_from([0.0, 0.03, 0.2, 3.0]), min_size=16, max_size=16)


def fed(name: str, stream: bytes, cuts: list[int], pauses: list[float]) -> list[Fact]:
    driver = driver_of(PROFILES[name])
    longest = PROFILES[name].shape.longest

    def is_bounded() -> None:
        assert driver._framer.waiting_bytes < PIECE_BYTES + longest

    return fed_in_pieces(driver, START, stream, cuts, pauses, is_bounded)


@EACH
@settings(deadline=None, derandomize=True)
@given(stream=STREAMS, cuts=CUTS)
def test_where_the_stream_is_cut_changes_no_fact(name: str, stream: bytes, cuts: list[int]) -> None:
    still = [0.0] * 16
    assert fed(name, stream, cuts, still) == fed(name, stream, [], still)


@EACH
@settings(deadline=None, derandomize=True)
@given(stream=STREAMS, cuts=CUTS, pauses=PAUSES)
def test_facts_cover_every_byte_once_and_in_order(
    name: str, stream: bytes, cuts: list[int], pauses: list[float]
) -> None:
    place, before = 0, (-1, -1)
    for fact in fed(name, stream, cuts, pauses):
        assert misfit(fact) == ""
        assert stream[fact.start : fact.end] == fact.raw
        # Several readings of one frame share its bytes; a notice that no frame said has none.
        if (fact.start, fact.end) != before:
            # A name that was known says nothing new.
            assert stream[place : fact.start].replace(NAMES.get(name, b"-"), b"") == b""
        place, before = fact.end, (fact.start, fact.end)
    assert stream[place:].replace(NAMES.get(name, b"-"), b"") == b""


def values_of(name: str, raw: bytes) -> list[Decimal | None]:
    """What a frame of readings carries, read from the page and not by the codec."""
    if name == "frame-gloss":
        status, words = raw[6], [int.from_bytes(raw[i : i + 2], "big") for i in (7, 9, 11)]
        return [
            None if word in (0x7FFF, 0x8000) else Decimal(word - (word >> 15 << 16)) / 10
            for bit, word in zip((0x10, 0x20, 0x40), words, strict=True)
            if not status & bit
        ]
    if name == "frame-bands":
        words = [raw[i] + 256 * raw[i + 1] for i in (1, 3, 5)]
        return [None if word == 0xFFFF else Decimal(word) / 100 for word in words]
    if raw[3] & 0x40:
        return [None]
    digits = Decimal(raw[4:8].hex()[:7]).scaleb(-(raw[3] & 7))
    return [-digits if raw[7] & 15 == 0xD else digits]


@EACH
@settings(deadline=None, derandomize=True)
@given(stream=STREAMS, cuts=CUTS, pauses=PAUSES)
def test_no_value_is_invented(
    name: str, stream: bytes, cuts: list[int], pauses: list[float]
) -> None:
    """With a checksum or without one: a value is what its bytes say by the page."""
    readings = [f for f in fed(name, stream, cuts, pauses) if isinstance(f, Reading)]
    for start in {reading.start for reading in readings}:
        of_frame = [reading for reading in readings if reading.start == start]
        assert [reading.value for reading in of_frame] == values_of(name, of_frame[0].raw)


@pytest.mark.parametrize("layout", LAYOUTS)
@settings(deadline=None, derandomize=True, max_examples=80)
@given(data=st.data())
def test_a_changed_byte_under_a_checksum_is_never_another_value(
    layout: str, data: st.DataObject
) -> None:
    """Any one byte is found by each of them, two neighbours by a CRC of 16 bits."""
    frames = data.draw(st.lists(FRAMES[layout], min_size=1, max_size=5))
    stream = b"".join(frames)
    place = data.draw(st.integers(0, len(stream) - 1))
    width = 2 if layout == "frame-gloss" else 1
    junk = data.draw(st.binary(min_size=width, max_size=width))
    spoilt = (stream[:place] + junk + stream[place + width :])[: len(stream)]
    for fact in fed(layout, spoilt, [], [0.0]):
        assert not isinstance(fact, Reading) or fact.raw in frames


@pytest.mark.parametrize("layout", ["frame-gloss", "frame-force"])
@settings(deadline=None, derandomize=True, max_examples=80)
@given(data=st.data())
def test_garbage_never_swallows_the_frame_behind_it(layout: str, data: st.DataObject) -> None:
    """Starts of frames, cut frames and any bytes, then a frame, then silence: it is read."""
    frame = data.draw(FRAMES[layout])
    start = PROFILES[layout].shape.start
    scrap = st.one_of(
        st.binary(max_size=20),
        st.sampled_from([start, start[:1], start + frame[len(start) : 5]]),
        st.integers(0, len(frame) - 1).map(lambda end: frame[:end]),
        st.integers(1, len(frame)).map(lambda first: frame[first:]),
    )
    junk = b"".join(data.draw(st.lists(scrap, max_size=6)))
    driver = driver_of(PROFILES[layout])
    driver.opening(START)
    facts = driver.feed(junk + frame, START)
    # Long enough for silence, and for a name that is awaited.
    later = Instant(START.utc_ns + 4 * 10**9, START.mono_ns + 4 * 10**9)
    facts += driver.feed(b"", later)
    assert frame in [fact.raw for fact in facts if fact.end == len(junk + frame)]
