"""The checksum of a stretch of a stream is the checksum of its bytes alone."""

from __future__ import annotations

import zlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.wire import CHECKSUMS
from acquire.wire.stretches import KEPT_BYTES, Stretches

EACH = pytest.mark.parametrize("name", CHECKSUMS)


@EACH
@settings(deadline=None, derandomize=True)
@given(
    data=st.binary(max_size=80), pairs=st.lists(st.tuples(st.integers(0, 80), st.integers(0, 80)))
)
def test_a_stretch_has_the_checksum_of_its_bytes(
    name: str, data: bytes, pairs: list[tuple[int, int]]
) -> None:
    stretches = Stretches(name)
    for a, b in pairs:
        start, end = sorted((min(a, len(data)), min(b, len(data))))
        assert stretches.of(data, 0, start, end) == CHECKSUMS[name].of(data[start:end])


@EACH
def test_a_stream_of_any_length_is_looked_at_through_a_window(name: str) -> None:
    stream = bytes(i * i % 251 for i in range(6 * KEPT_BYTES))
    stretches = Stretches(name)
    for start in range(0, len(stream) - 40, 17):
        window = stream[start : start + 40]
        wanted = CHECKSUMS[name].of(window[2:37])
        assert stretches.of(window, start, start + 2, start + 37) == wanted
    assert len(stretches._registers) <= 2 * KEPT_BYTES + 200


def test_the_longest_crc_is_that_of_another_library() -> None:
    data = bytes(range(200))
    # zlib's crc32 is CRC-32/ISO-HDLC (RFC 1952, 8).
    assert Stretches("crc32-iso-hdlc").of(data, 0, 3, 190) == zlib.crc32(data[3:190])
