"""Any bytes in any chunks: the line driver never raises, never holds more than a line, never
invents, and accounts for every byte."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import reduce
from operator import xor
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.driverapi.capture import worded
from acquire.driverapi.fit import misfit
from acquire.model import Fact, Flag, Instant, Noise, Reading, Samples
from drivers.line.family import driver_of, load
from tests.captures import CAPTURES, LAYOUTS, profile
from tests.property.pieces import fed_in_pieces

PROFILES: dict[str, Any] = {layout: load(profile(layout), layout) for layout in LAYOUTS}
START = Instant(10**18, 10**12)
STREAMED = ("force-stream",)
"""Its samples are told in stretches that end where a chunk does, and a pull lies in them."""
PRESSED = tuple(layout for layout in LAYOUTS if layout not in STREAMED)


def line_of(count: int, angle: int, tenths: int) -> bytes:
    body = f"R,{count:04d},{angle},{tenths / 10:.1f},GU".encode()
    return body + b"*%02X\r\n" % reduce(xor, body)


PRESS_LINES = st.builds(
    line_of, st.integers(0, 9999), st.sampled_from([20, 60, 85, 45]), st.integers(-20, 1300)
)
ASKED_LINES = st.builds(
    lambda count, tenths: b"%d 60 %6s GU\r" % (count, (b"%d,%d" % divmod(tenths, 10))),
    st.integers(0, 30),
    st.integers(0, 1300),
)
POLLED = ("gloss-asked", "counter-total", "climate-asked")
"""Asked again and again: an answer that is none, or the same as before, is no news."""
NAMES = (
    *(b"I,SH-0417*51", b"S DK-2205", b"S HB-0043", b"SN PG-0031", b"ID TB-0117;39"),
    b"ID,PW-0041",
)
PIECES = st.one_of(
    PRESS_LINES,
    ASKED_LINES,
    st.sampled_from([b"NONE\r", b"ADJ\r", b"\r", b"\n", b"S DK-2205\r", b"B,SH-0417,1.4*5D\r\n"]),
    st.sampled_from([one.received for one in CAPTURES]),
    st.binary(max_size=40),
)
STREAMS = st.lists(PIECES, max_size=12).map(b"".join)
CUTS = st.lists(st.integers(0, 400), max_size=15)
PAUSES = st.lists(st.sampled_from([0.0, 0.1, 0.6, 3.0]), min_size=16, max_size=16)


def fed(layout: str, stream: bytes, cuts: list[int], pauses: list[float]) -> list[Fact]:
    driver = driver_of(PROFILES[layout])
    terminator = PROFILES[layout].terminator

    def is_bounded() -> None:
        assert driver._framer.waiting_bytes < PROFILES[layout].limit_bytes + len(terminator)
        assert driver._facts.taken() == []

    return fed_in_pieces(driver, START, stream, cuts, pauses, is_bounded)


@pytest.mark.parametrize("layout", PRESSED)
@settings(deadline=None, derandomize=True)
@given(stream=STREAMS, cuts=CUTS)
def test_where_the_stream_is_cut_changes_no_fact(
    layout: str, stream: bytes, cuts: list[int]
) -> None:
    still = [0.0] * 16
    assert fed(layout, stream, cuts, still) == fed(layout, stream, [], still)


@pytest.mark.parametrize("layout", PRESSED)
@settings(deadline=None, derandomize=True)
@given(stream=STREAMS, cuts=CUTS, pauses=PAUSES)
def test_facts_cover_the_stream_in_order_without_overlap(
    layout: str, stream: bytes, cuts: list[int], pauses: list[float]
) -> None:
    facts = fed(layout, stream, cuts, pauses)
    terminator = PROFILES[layout].terminator
    readings = {fact.raw for fact in facts if isinstance(fact, Reading)}
    place = 0
    shared: tuple[int, int] | None = None
    for fact in [*facts, Noise(START, b"", len(stream), len(stream), "the end")]:
        assert misfit(fact) == ""
        if isinstance(fact, Reading) and (fact.start, fact.end) == shared:
            continue  # another band of the same line
        shared = (fact.start, fact.end) if isinstance(fact, Reading) else None
        assert fact.start >= place
        assert stream[fact.start : fact.end] == fact.raw
        for line in stream[place : fact.start].split(terminator):
            # Between facts: nothing, an asked meter that had no news, or a name that was known.
            idle = layout in POLLED and (line == b"NONE" or line in readings)
            assert line == b"" or idle or line in NAMES
        place = fact.end


@pytest.mark.parametrize("layout", STREAMED)
@settings(deadline=None, derandomize=True)
@given(stream=STREAMS, cuts=CUTS, pauses=PAUSES)
def test_samples_and_noise_follow_one_another_and_every_sample_is_a_line_that_was_sent(
    layout: str, stream: bytes, cuts: list[int], pauses: list[float]
) -> None:
    place = sampled = 0
    for fact in fed(layout, stream, cuts, pauses):
        assert misfit(fact) == ""
        if isinstance(fact, Reading | Noise):
            assert stream[fact.start : fact.end] == fact.raw
        if isinstance(fact, Samples | Noise):
            assert fact.start >= place
            place = fact.end
        if isinstance(fact, Samples):
            sampled += len(fact.counts) // 4
    assert place <= len(stream)
    assert sampled <= len(re.findall(rb"[+-][0-9]{2}\.[0-9]{3} (?:N|kgf|gf|lbf)\r\n", stream))


@pytest.mark.parametrize("layout", LAYOUTS)
@settings(deadline=None, derandomize=True)
@given(stream=STREAMS, cuts=CUTS, pauses=PAUSES)
def test_no_value_is_invented(
    layout: str, stream: bytes, cuts: list[int], pauses: list[float]
) -> None:
    for fact in fed(layout, stream, cuts, pauses):
        if isinstance(fact, Reading):
            assert fact.text.encode() in fact.raw
            out_of_range = not fact.flags.isdisjoint((Flag.OVER_RANGE, Flag.UNDER_RANGE))
            assert (fact.value is None) == out_of_range
            if layout == "counter-strokes":
                assert fact.value == 1  # a line is a stroke, whatever number it bears
            elif fact.value is not None:
                power = "E[+-][0-9]{2}" if layout == "force-powers" else ""
                assert re.fullmatch(rf"[+-]?[0-9]+(?:[.,][0-9]{{1,4}})?{power}", fact.text)
                # Every digit that was sent, but for zeros in front.
                sent = Decimal(fact.text.replace(",", "."))
                assert fact.value.as_tuple() == sent.as_tuple()


@pytest.mark.parametrize("layout", LAYOUTS)
@settings(deadline=None, derandomize=True)
@given(stream=STREAMS, cuts=CUTS, pauses=PAUSES)
def test_one_count_and_geometry_is_one_fresh_reading(
    layout: str, stream: bytes, cuts: list[int], pauses: list[float]
) -> None:
    """Of neighbours with one line, at most one counts, whatever lies between them but a restart."""
    fresh: tuple[str, bytes] | None = None
    for fact in fed(layout, stream, cuts, pauses):
        if not isinstance(fact, Reading):
            if not isinstance(fact, Noise):
                fresh = None
        elif not fact.flags:
            assert fresh != (fact.channel, fact.raw)
            fresh = (fact.channel, fact.raw)


@settings(deadline=None, derandomize=True)
@given(stream=STREAMS)
def test_facts_word_themselves_the_same_whatever_the_moment(stream: bytes) -> None:
    facts = fed("gloss-press", stream, [], [0.0] * 16)
    assert all(worded(fact).raw == fact.raw for fact in facts)
