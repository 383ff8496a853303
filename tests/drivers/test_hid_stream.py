"""Whatever comes over the pipes, however cut: the same facts, no exception, little memory."""

from __future__ import annotations

import struct
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.driverapi.capture import Expected, worded
from acquire.driverapi.conformance import START
from acquire.driverapi.guard import Guard
from acquire.driverapi.stretches import joined, raw_of
from acquire.model import Fact, Flag, Instant, Notice, NoticeKind, Reading, Samples
from acquire.wire.transfer import Description, Pipe, Status, record
from drivers.hid import FAMILY
from drivers.hid.packets import Packets
from tests.captures import FOLDER, profile

LAYOUTS = ("hid-weighing", "hid-gloss", "hid-force")
CONVERSATIONS = [
    (layout, path.read_bytes())
    for layout in LAYOUTS
    for path in sorted(FOLDER.glob(f"{layout}/*.received"))
]
GET_DESCRIPTOR = bytes.fromhex("81 06 00 22 00 00 00 10")


def stream_table() -> dict[str, Any]:
    """The force gauge as a stream of samples."""
    table = profile("hid-force")
    table["flag"] = [flag for flag in table["flag"] if flag["means"] != "button"]
    table["press"] = {"by": "stream"}
    table["stream"] = {
        "rate_hz": 1000,
        "step": Decimal("0.1"),
        "pull": {"begins_at": 2, "ends_below": 1, "ends_after_s": Decimal("0.01")},
    }
    del table["take"]
    return table


TABLES = {layout: profile(layout) for layout in LAYOUTS} | {"stream": stream_table()}


def facts_of(layout: str, chunks: list[bytes], step_s: float = 0.0) -> list[Fact]:
    driver = FAMILY.driver(TABLES[layout], layout)
    guard, now, facts = Guard("hid", START), START, []
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
        assert isinstance(fact, Samples) or stream[fact.start : fact.end] == raw_of(fact)
    return joined(facts)


def fed(layout: str, chunks: list[bytes], step_s: float = 0.0) -> list[Expected]:
    return [worded(fact) for fact in facts_of(layout, chunks, step_s)]


def cut(data: bytes, places: list[int]) -> list[bytes]:
    edges = [0, *sorted(place % (len(data) + 1) for place in places), len(data)]
    return [data[a:b] for a, b in pairwise(edges)]


REPORTS = st.one_of(
    st.builds(
        lambda status, unit, power, weight: struct.pack("<BBBbH", 3, status, unit, power, weight),
        st.integers(0, 9),
        st.integers(0, 13),
        st.integers(-128, 127),
        st.integers(0, 65535),
    ),
    st.builds(
        lambda number, flags, values: struct.pack("<BBHHHH", number, flags, *values)[:8],
        st.integers(0, 2),
        st.integers(0, 255),
        st.tuples(*[st.integers(0, 65535)] * 4),
    ),
    st.builds(lambda value, bits: struct.pack("<hB", value, bits), st.integers(-1100, 1100),
              st.integers(0, 3)),
    st.binary(max_size=9),
)  # fmt: skip
RECORDS = st.one_of(
    REPORTS.map(lambda data: record(Pipe.INTERRUPT_IN, data)),
    st.builds(
        record,
        st.sampled_from([Pipe.CONTROL, Pipe.INTERRUPT_IN, Pipe.OPENED, Pipe.BULK_IN]),
        st.one_of(
            st.binary(max_size=20),
            st.builds(
                lambda head, rest: bytes.fromhex(head) + rest,
                st.sampled_from(
                    [
                        "a1 01 03 01 00 00 06 00",
                        "21 09 02 03 00 00 02 00",
                        "21 0a 00 00 00 00 00 00",
                    ]
                ),
                REPORTS,
            ),
        ),
        st.sampled_from(list(Status)),
    ),
)


@given(
    st.sampled_from(CONVERSATIONS),
    st.integers(0, 4000),
    st.lists(RECORDS, max_size=12),
    st.binary(max_size=30),
    st.lists(st.integers(0, 10_000), max_size=12),
)
def test_facts_do_not_depend_on_the_chunks(
    conversation: tuple[str, bytes],
    kept: int,
    records: list[bytes],
    junk: bytes,
    places: list[int],
) -> None:
    layout, data = conversation
    stream = data[:kept] + b"".join(records) + junk
    assert fed(layout, cut(stream, places)) == fed(layout, [stream])
    if layout == "hid-force":
        assert fed("stream", cut(stream, places)) == fed("stream", [stream])


@given(
    st.sampled_from(CONVERSATIONS),
    st.lists(st.tuples(st.integers(0, 4000), st.integers(1, 255)), min_size=1, max_size=8),
)
def test_a_conversation_with_changed_bytes_raises_nothing(
    conversation: tuple[str, bytes], changes: list[tuple[int, int]]
) -> None:
    layout, data = conversation
    stream = bytearray(data)
    for place, bits in changes:
        stream[place % len(stream)] ^= bits
    fed(layout, [bytes(stream[i : i + 97]) for i in range(0, len(stream), 97)], step_s=0.3)


def begun(layout: str, descriptor: bytes, packet_bytes: int = 8) -> bytes:
    device = Description(0, 0, 0, 0x81, packet_bytes, 0, "N-1")
    return record(Pipe.OPENED, device.to_bytes()) + record(
        Pipe.CONTROL, GET_DESCRIPTOR + descriptor
    )


@given(
    st.sampled_from(LAYOUTS),
    st.lists(st.tuples(st.integers(0, 200), st.integers(1, 255)), max_size=6),
    st.lists(REPORTS, max_size=30),
    st.lists(st.integers(0, 10_000), max_size=6),
)
def test_a_device_that_describes_itself_oddly_is_read_or_refused(
    layout: str, changes: list[tuple[int, int]], reports: list[bytes], places: list[int]
) -> None:
    _, whole = next(one for one in CONVERSATIONS if one[0] == layout)
    start = whole.index(b"\x81\x06\x00\x22") + 8
    end = start - 8 + int.from_bytes(whole[start - 12 : start - 8], "big")
    descriptor = bytearray(whole[start:end])
    for place, bits in changes:
        descriptor[place % len(descriptor)] ^= bits
    packets = b"".join(record(Pipe.INTERRUPT_IN, one) for one in reports)
    stream = begun(layout, bytes(descriptor)) + packets
    assert fed(layout, cut(stream, places)) == fed(layout, [stream])


@given(st.lists(REPORTS, max_size=80))
def test_values_lie_within_what_the_device_declares(reports: list[bytes]) -> None:
    for layout, lowest, highest in (
        ("hid-force", Decimal(-100), Decimal(100)),
        ("hid-weighing", Decimal(0), Decimal("1E+20")),
        ("stream", Decimal(-100), Decimal(100)),
    ):
        kind = "hid-force" if layout == "stream" else layout
        start = next(data for one, data in CONVERSATIONS if one == kind)
        packets = b"".join(record(Pipe.INTERRUPT_IN, one) for one in reports)
        for fact in facts_of(layout, [start + packets]):
            if isinstance(fact, Reading) and fact.value is not None:
                assert lowest <= fact.value <= highest
                assert (fact.value * 10) % 1 == 0 or layout == "hid-weighing"


def set_up() -> bytes:
    """The first capture of the gauge has reports of its own: only its set-up is used."""
    start = next(data for layout, data in CONVERSATIONS if layout == "hid-force")
    opened = start[: start.index(b"\x81\x06\x00\x22")]
    head = opened[: len(opened) - 6]
    length = int.from_bytes(opened[-4:], "big")
    return head + start[len(head) : len(head) + 6 + length]


def sent(steps: list[int]) -> bytes:
    return b"".join(record(Pipe.INTERRUPT_IN, struct.pack("<hB", s, 0)) for s in steps)


def test_a_stream_loses_no_sample_and_finds_its_pulls() -> None:
    steps = [0] * 50 + [30, 90, 45, 40] + [0] * 50
    facts = facts_of("stream", [set_up(), sent(steps)])
    samples = [fact for fact in facts if isinstance(fact, Samples)]
    counts = b"".join(fact.counts for fact in samples)
    assert list(struct.unpack(f"<{len(counts) // 4}i", counts)) == steps
    (pull,) = [fact for fact in facts if isinstance(fact, Reading)]
    assert (pull.text, pull.unit) == ("9.0", "newton")


@pytest.mark.parametrize("times", [1, 4, 0.25])
def test_a_stream_of_another_rate_than_declared_is_told_and_its_pulls_flagged(times: float) -> None:
    quiet = [sent([0] * 50)] * round(120 * max(1, times))
    pulled = [sent([0] * 5 + [30, 90, 45, 40] + [0] * 41)]
    facts = facts_of("stream", [set_up(), *quiet, *pulled, *quiet], step_s=0.05 / times)
    told = [f for f in facts if isinstance(f, Notice) and f.kind is NoticeKind.OTHER_RATE]
    (pull,) = [fact for fact in facts if isinstance(fact, Reading)]
    is_off = times != 1
    assert len(told) == is_off
    assert pull.flags == frozenset([Flag.OTHER_RATE] * is_off)


def test_a_report_that_never_ends_takes_no_more_than_its_length() -> None:
    huge = bytes.fromhex("05 8d 09 40 15 00 25 01 75 08 96 00 10 81 02")
    start = begun("hid-weighing", huge)
    driver = FAMILY.driver(TABLES["hid-gloss"], "hid-gloss")
    driver.opening(START)
    driver.feed(start, START)
    for _ in range(3000):
        driver.feed(record(Pipe.INTERRUPT_IN, bytes(8)), START)
    packets: Packets = driver._packets  # type: ignore[attr-defined]
    assert sum(len(part.data) for part in packets._part) <= 4096


@pytest.mark.parametrize("layout", LAYOUTS)
def test_two_drivers_share_nothing(layout: str) -> None:
    table = TABLES[layout]
    one, other = FAMILY.driver(table, layout), FAMILY.driver(table, layout)
    for driver in (one, other):
        driver.opening(START)
    one.feed(next(data for name, data in CONVERSATIONS if name == layout), START)
    assert other.due(START).send == b""
