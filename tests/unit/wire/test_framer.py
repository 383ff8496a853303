"""The framer against everything its docstring says a line can do."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.model import Instant
from acquire.wire import Frame, LineFramer


def at(seconds: float) -> Instant:
    return Instant(round(seconds * 1e9), round(seconds * 1e9))


NOW = at(1)
LIMIT = 8


def framer(
    *, terminator: bytes = b"\r\n", skip_tail: bool = False, refuse_empty: bool = False
) -> LineFramer:
    return LineFramer(terminator, LIMIT, 0.5, skip_tail=skip_tail, refuse_empty=refuse_empty)


def whole(start: int, data: bytes) -> Frame:
    return Frame(start, data, "")


def test_split_a_line_and_its_terminator_in_many_chunks() -> None:
    f = framer()
    assert [f.feed(bytes([b]), NOW) for b in b"ab\r\n"] == [[], [], [], [whole(0, b"ab")]]
    assert f.waiting_bytes == 0


def test_glued_many_lines_and_the_head_of_another_in_one_chunk() -> None:
    f = framer()
    assert f.feed(b"ab\r\ncde\r\nf", NOW) == [whole(0, b"ab"), whole(4, b"cde")]
    assert f.feed(b"\r\n", NOW) == [whole(9, b"f")]


def test_empty_terminators_without_anything_between() -> None:
    f = framer()
    assert f.feed(b"\r\n\r\nab\r\n\r\n", NOW) == [whole(4, b"ab")]


def test_empty_lines_that_are_refused_are_faulty_frames_in_any_chunks() -> None:
    wanted = [
        Frame(0, b"\r\n", "an empty line"),
        whole(2, b"ab"),
        Frame(6, b"\r\n", "an empty line"),
    ]
    f = framer(refuse_empty=True)
    assert f.feed(b"\r\nab\r\n\r\n", NOW) == wanted
    f = framer(refuse_empty=True)
    assert [x for b in b"\r\nab\r\n\r\n" for x in f.feed(bytes([b]), NOW)] == wanted


def test_endless_a_line_longer_than_the_limit() -> None:
    f = framer()
    frames = f.feed(b"0123456789abcdefgh\r\nok\r\n", NOW)
    assert frames == [
        Frame(0, b"01234567", "longer than 8 bytes"),
        Frame(8, b"89abcdef", "longer than 8 bytes"),
        Frame(16, b"gh", "longer than 8 bytes"),
        whole(20, b"ok"),
    ]


def test_endless_a_line_of_exactly_the_limit_is_a_line() -> None:
    f = framer()
    assert f.feed(b"01234567\r", NOW) == []
    assert f.feed(b"\n", NOW) == [whole(0, b"01234567")]


def test_stalled_a_line_that_is_not_ended_in_time() -> None:
    f = framer()
    f.feed(b"ab", at(1))
    f.feed(b"c", at(1.4))
    assert f.deadline == at(1.5)
    assert f.expire(at(1.499)) == []
    assert f.expire(at(1.5)) == [Frame(0, b"abc", "not ended within 0.5 s")]
    assert f.deadline is None


def test_stalled_the_next_bytes_tell_it_too_when_nobody_asked() -> None:
    f = framer()
    f.feed(b"abc", at(1))
    assert f.feed(b"de\r\n", at(3)) == [
        Frame(0, b"abc", "not ended within 0.5 s"),
        whole(3, b"de"),
    ]


def test_resumed_the_tail_of_a_stalled_line_is_no_line_where_nothing_proves_it() -> None:
    f = framer(skip_tail=True)
    f.feed(b"1", at(1))
    frames = f.feed(b"2 60\r\n3 60\r\n", at(3))
    assert frames == [
        Frame(0, b"1", "not ended within 0.5 s"),
        Frame(1, b"2 60", "the tail of a line that was not ended within 0.5 s"),
        whole(7, b"3 60"),
    ]


def test_torn_the_link_is_lost_in_mid_line() -> None:
    f = framer()
    f.feed(b"ab\r\ncd", NOW)
    assert f.lost() == [Frame(4, b"cd", "cut off when the link was lost")]
    assert f.lost() == []
    assert f.deadline is None


def test_the_time_of_a_line_is_counted_from_its_own_first_byte() -> None:
    f = framer()
    f.feed(b"ab", at(1))
    assert f.feed(b"\r\ncd", at(1.4)) == [whole(0, b"ab")]
    assert f.deadline == at(1.9)


def test_a_framer_without_terminator_limit_or_time_is_refused() -> None:
    for wrong in ((b"", 8, 0.5), (b"\n", 0, 0.5), (b"\n", 8, 0.0)):
        with pytest.raises(ValueError, match="needs"):
            LineFramer(*wrong)


# Bytes that make terminators, halves of terminators and long lines likely.
STREAMS = st.lists(
    st.one_of(st.sampled_from([b"\r\n", b"\r", b"\n", b"0123456", b"89"]), st.binary(max_size=12)),
    max_size=20,
).map(b"".join)


@settings(deadline=None, derandomize=True)
@given(STREAMS, st.lists(st.integers(0, 250), max_size=12), st.booleans())
def test_where_a_stream_is_cut_into_chunks_changes_no_frame(
    stream: bytes, cuts: list[int], skip_tail: bool
) -> None:
    one = framer(skip_tail=skip_tail)
    at_once = one.feed(stream, NOW) + one.lost()
    many = framer(skip_tail=skip_tail)
    places = [0, *sorted(c for c in cuts if c < len(stream)), len(stream)]
    piecewise = []
    for start, end in pairwise(places):
        piecewise += many.feed(stream[start:end], NOW)
        assert many.waiting_bytes < LIMIT + 2
    piecewise += many.lost()
    assert piecewise == at_once


@settings(deadline=None, derandomize=True)
@given(
    st.lists(st.tuples(STREAMS, st.sampled_from([0.0, 0.2, 0.7])), max_size=6),
    st.sampled_from([b"\r\n", b"\r"]),
    st.booleans(),
)
def test_every_byte_is_in_one_frame_or_a_terminator(
    chunks: list[tuple[bytes, float]], terminator: bytes, skip_tail: bool
) -> None:
    f = framer(terminator=terminator, skip_tail=skip_tail)
    frames: list[Frame] = []
    seconds = 1.0
    for data, pause in chunks:
        frames += f.feed(data, at(seconds))
        seconds += pause
    frames += f.lost()
    stream = b"".join(data for data, _ in chunks)
    place = 0
    for frame in frames:
        between = stream[place : frame.start]
        assert between.replace(terminator, b"") == b""
        assert stream[frame.start : frame.start + len(frame.data)] == frame.data
        assert 0 < len(frame.data) <= LIMIT + len(terminator) - 1
        assert frame.fault or len(frame.data) <= LIMIT
        place = frame.start + len(frame.data)
    assert stream[place:].replace(terminator, b"") == b""


@settings(deadline=None, derandomize=True)
@given(
    st.lists(st.tuples(STREAMS, st.sampled_from([0.0, 0.2, 0.7])), max_size=6),
    st.lists(st.booleans(), min_size=6, max_size=6),
    st.booleans(),
)
def test_asking_for_stalled_lines_in_between_changes_no_frame(
    chunks: list[tuple[bytes, float]], asked: list[bool], skip_tail: bool
) -> None:
    quiet, nervous = framer(skip_tail=skip_tail), framer(skip_tail=skip_tail)
    expected: list[Frame] = []
    frames: list[Frame] = []
    seconds = 1.0
    for (data, pause), ask in zip(chunks, asked, strict=False):
        expected += quiet.feed(data, at(seconds))
        frames += nervous.feed(data, at(seconds))
        seconds += pause
        if ask:
            frames += nervous.expire(at(seconds))
    end = at(seconds + 10)
    assert frames + nervous.feed(b"", end) == expected + quiet.feed(b"", end)


def test_a_stray_byte_behind_a_line_spoils_none_that_comes_long_after_it() -> None:
    f = framer(skip_tail=True)
    assert f.feed(b"2 60\r\n\x00", at(1)) == [whole(0, b"2 60")]
    assert f.feed(b"3 60\r\n", at(12)) == [
        Frame(6, b"\x00", "not ended within 0.5 s"),
        whole(7, b"3 60"),
    ]
