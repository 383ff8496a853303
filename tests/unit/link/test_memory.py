"""The null modem in memory: order, cuts, a full line, and mischief that is the same every time."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.errors import LinkLost, LinkUnavailable
from acquire.link import MemoryOpener, Mischief, memory_pair
from acquire.supervise import Scope


def rest(end: object) -> list[bytes]:
    """Everything that waits at an end."""
    chunks = []
    while chunk := end.read(0.0):  # type: ignore[attr-defined]
        chunks.append(chunk)
    return chunks


def test_one_write_is_one_read_in_both_directions() -> None:
    bench, device = memory_pair()
    device.write(b"ab")
    device.write(b"c")
    bench.write(b"?")
    assert rest(bench) == [b"ab", b"c"]
    assert rest(device) == [b"?"]


def test_what_was_sent_before_the_cable_was_cut_can_still_be_read() -> None:
    bench, device = memory_pair()
    device.write(b"last words")
    device.cut()
    assert bench.read(0.0) == b"last words"
    for end in (bench, device):
        with pytest.raises(LinkLost, match="cut"):
            end.read(0.0)
        with pytest.raises(LinkLost, match="cut"):
            end.write(b"x")


def test_a_full_line_makes_the_writer_wait_and_loses_nothing() -> None:
    bench, device = memory_pair(limit_chunks=2)
    with Scope(lambda *_: None) as scope:
        scope.start("device", lambda: [device.write(b"%d" % i) for i in range(50)])
        got = [bench.read(10.0) for _ in range(50)]
    assert got == [b"%d" % i for i in range(50)]


def test_a_writer_on_a_full_line_is_told_when_the_reader_leaves() -> None:
    bench, device = memory_pair(limit_chunks=1)
    device.write(b"x")
    crashes: list[BaseException] = []
    with Scope(lambda _, error: crashes.append(error)) as scope:
        scope.start("device", lambda: device.write(b"y"))
        bench.close()
    assert isinstance(crashes[0], LinkLost)


def test_mischief_drops_flips_splits_and_cuts_at_its_places() -> None:
    mischief = Mischief(drop=frozenset({1}), flip={2: 0x01}, split=(3,), cut_at=5)
    bench, device = memory_pair(mischief=mischief)
    device.write(b"ab")
    device.write(b"cdefg")
    assert [bench.read(0.0) for _ in range(3)] == [b"a", b"b", b"de"]
    with pytest.raises(LinkLost, match="cut"):
        bench.read(0.0)


@settings(deadline=None, derandomize=True)
@given(
    st.lists(st.binary(min_size=1, max_size=9), max_size=8), st.sets(st.integers(0, 60), max_size=9)
)
def test_splitting_changes_the_chunks_and_never_the_bytes(
    writes: list[bytes], splits: set[int]
) -> None:
    bench, device = memory_pair(mischief=Mischief(split=splits))
    for data in writes:
        device.write(data)
    chunks = rest(bench)
    assert b"".join(chunks) == b"".join(writes)
    assert len(chunks) >= len(writes)


def test_an_opener_gives_what_was_plugged_in_and_says_when_nothing_is() -> None:
    opener = MemoryOpener("bench")
    with pytest.raises(LinkUnavailable, match="plug the device in"):
        opener.open()
    device = opener.plug()
    link = opener.open()
    device.write(b"hi")
    assert link.read(0.0) == b"hi"
    with pytest.raises(LinkUnavailable):
        opener.open()
