"""Facts of then against facts of now: counts, the first difference, and what is put aside."""

from __future__ import annotations

import tracemalloc
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.link.tape import Made
from acquire.report.replay.comparing import (
    END,
    MOST_TOLD,
    Comparing,
    Comparison,
    Count,
    Stretch,
    Tail,
    compared,
)
from acquire.report.replay.sampled import Streams


def reading(start: int, value: str = "1.0", channel: str = "20", at_utc_ns: int = 5) -> Made:
    says = {
        "value": value,
        "unit": "gloss_unit",
        "channel": channel,
        "press": "1",
        "flags": "",
        "text": value,
    }
    return Made("reading", start, start + 10, at_utc_ns, tuple(says.items()))


def noise(start: int, reason: str = "no line", at_utc_ns: int = 5) -> Made:
    return Made("noise", start, start + 10, at_utc_ns, (("reason", reason),))


def samples(first: int, counts: list[int], start: int, step: str = "0.001") -> Made:
    digits = b"".join(c.to_bytes(4, "little", signed=True) for c in counts).hex()
    says = {
        "counts": digits,
        "first": str(first),
        "unit": "newton",
        "channel": "",
        "step": step,
        "rate_hz": "1000",
    }
    return Made("samples", start, start + len(counts), 7, tuple(says.items()))


def test_the_same_facts_are_counted_and_nothing_differs() -> None:
    facts = [reading(0), reading(0, channel="60"), noise(10)]
    found = compared(facts, list(facts))
    assert found.is_same
    assert found.counts == {"reading": Count(2, 2, 2), "noise": Count(1, 1, 1)}


def test_a_value_a_channel_a_moment_and_a_reason_that_differ_are_told() -> None:
    then = [reading(0), reading(10), reading(20), noise(30)]
    now = [reading(0, "2.0"), reading(10, channel="60"), reading(20, at_utc_ns=6), noise(30, "x")]
    found = compared(then, now)
    assert [d.byte for d in found.differences] == [0, 10, 20, 30]
    assert "value '1.0'" in found.differences[0].then
    assert "value '2.0'" in found.differences[0].now
    assert "channel '20'" in found.differences[1].then
    assert "at 5 ns" in found.differences[2].then
    assert "reason 'x'" in found.differences[3].now
    assert found.counts["reading"] == Count(3, 3, 0)


def test_when_a_silence_was_noticed_is_of_no_account() -> None:
    assert compared([noise(0, at_utc_ns=5)], [noise(0, at_utc_ns=9)]).is_same


def test_what_is_on_one_side_alone_is_told_and_what_follows_is_compared_all_the_same() -> None:
    found = compared([reading(0), reading(20)], [reading(10), reading(20)])
    assert [(d.byte, bool(d.then), bool(d.now)) for d in found.differences] == [
        (0, True, False),
        (10, False, True),
    ]
    assert found.counts["reading"] == Count(2, 2, 1)


def test_what_touches_a_hole_is_put_aside_if_it_differs_and_counts_if_not() -> None:
    then = [reading(0), reading(30), reading(50)]
    now = [reading(0), reading(30, "9.9"), noise(15), reading(50, "9.9")]
    found = compared(then, now, [Stretch(20, 35)])
    assert [d.byte for d in found.differences] == [50]
    assert found.aside == 2


@settings(deadline=None, derandomize=True)
@given(
    st.lists(st.integers(-(2**31), 2**31 - 1), min_size=1, max_size=60),
    st.lists(st.integers(0, 60), max_size=6),
    st.lists(st.integers(0, 60), max_size=6),
)
def test_where_chunks_cut_a_stream_is_of_no_account(
    counts: list[int], cuts: list[int], others: list[int]
) -> None:
    def blocks(places: list[int]) -> list[Made]:
        edges = sorted({0, len(counts), *(p for p in places if p < len(counts))})
        return [samples(a, counts[a:b], a) for a, b in pairwise(edges)]

    found = compared(blocks(cuts), blocks(others))
    assert found.is_same
    assert found.counts["samples"] == Count(len(counts), len(counts), len(counts))


@settings(deadline=None, derandomize=True)
@given(st.integers(0, 99), st.integers(1, 20))
def test_the_first_sample_that_differs_is_found_with_its_block(place: int, size: int) -> None:
    counts = list(range(100))
    other = list(counts)
    other[place] += 5000
    then = [samples(i, counts[i : i + size], i) for i in range(0, 100, size)]
    found = compared(then, [samples(0, other, 0)])
    (difference,) = found.differences
    assert difference.byte == place // size * size
    assert difference.then.startswith(f"sample {place}: count {place} of 0.001")
    assert difference.now.startswith(f"sample {place}: count {place + 5000} of")
    assert found.counts["samples"] == Count(100, 100, place)


def test_samples_are_kept_in_a_few_bytes_each_however_the_day_cut_them() -> None:
    streams = Streams()
    streams.add(samples(0, [0] * 10, 0))
    tracemalloc.start()
    try:
        for first in range(10, 20_010, 10):
            streams.add(samples(first, [first] * 10, first))
        kept, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert streams.samples == 20_010
    assert kept < 10 * 20_000


def test_a_stream_that_is_shorter_or_of_another_step_differs() -> None:
    then = [samples(0, [1, 2, 3], 0)]
    (shorter,) = compared(then, [samples(0, [1, 2], 0)]).differences
    assert shorter.now == "no sample 2"
    (other,) = compared(then, [samples(0, [1, 2, 3], 0, step="0.01")]).differences
    assert "of 0.01" in other.now
    (missing,) = compared(then, []).differences
    assert missing.now == ""
    assert compared(then, [], [Stretch(0, 9)]).aside == 1


def test_samples_whose_facts_a_damaged_tape_lost_with_its_last_chunk_are_put_aside() -> None:
    now = [samples(0, [1, 2], 0), samples(2, [3, 4], 10)]
    # The tape is read up to byte 20, and the fact that was made of its last chunk is missing.
    found = compared(now[:1], now, [Stretch(10, END)])
    assert found.is_same
    assert found.aside == 1
    # One that is missing before that chunk differs, at the block that it was made of now.
    (one,) = compared(now[:1], now, [Stretch(30, END)]).differences
    assert (one.byte, one.then) == (10, "no sample 2")


def broken_off(then: list[Made], now: list[Made], tail: Tail) -> Comparison:
    comparing = Comparing(then)
    for one in now:
        comparing.add(one)
    return comparing.done((), tail)


def test_what_the_last_bytes_of_a_tape_without_an_end_are_and_no_row_has_is_told_apart() -> None:
    then = [reading(0), samples(0, [1, 2], 10)]
    now = [*then, samples(2, [3, 4, 5], 12), reading(20), noise(30)]
    found = broken_off(then, now, Tail(12, 12, 40))
    assert found.is_same
    assert [(d.what, d.byte) for d in found.unstored] == [
        ("samples", 12),
        ("reading", 20),
        ("noise", 30),
    ]
    assert found.unstored[0].now == "3 samples from 2 on"
    # Before its last bytes, and behind all of them, one side alone is a difference as ever.
    assert not broken_off(then, now, Tail(13, 13, 40)).is_same
    assert not broken_off([*then, reading(40)], then, Tail(12, 12, 40)).is_same
    assert broken_off(then, [], Tail(0, 0, 40)).aside == 1


def placed(at: int, what: str, value: str) -> Made:
    """A fact of a few bytes, far from its neighbours."""
    start = at * 40_000
    return reading(start, value) if what == "reading" else noise(start, value)


FACTS = st.lists(
    st.tuples(st.integers(0, 40), st.sampled_from(["reading", "noise"]),
              st.sampled_from(["1.0", "2.0"])),
    max_size=30,
)  # fmt: skip


@settings(deadline=None, derandomize=True, max_examples=200)
@given(FACTS, FACTS, FACTS, st.lists(st.integers(0, 1_600_000), max_size=4, unique=True))
def test_it_comes_to_the_same_whether_facts_are_settled_on_the_way_or_at_the_end(
    both: list[tuple[int, str, str]],
    before: list[tuple[int, str, str]],
    after: list[tuple[int, str, str]],
    edges: list[int],
) -> None:
    then = sorted((placed(*one) for one in both + before), key=lambda made: made.end)
    now = sorted((placed(*one) for one in both + after), key=lambda made: made.end)
    bounds = sorted(edges)
    holes = [Stretch(a, b) for a, b in zip(bounds[::2], bounds[1::2], strict=False)]
    comparing = Comparing(then)
    for one in now:
        comparing.add(one)
        comparing.settle(one.end, [hole for hole in holes if hole.start < one.end])
    assert comparing.done(holes) == compared(then, now, holes)


@settings(deadline=None, derandomize=True, max_examples=100)
@given(
    st.lists(st.integers(-5, 5), min_size=1, max_size=200),
    st.integers(0, 250),
    st.integers(0, 3),
    st.integers(1, 40),
)
def test_streams_that_are_let_go_on_the_way_come_to_the_same(
    counts: list[int], place: int, lacking: int, size: int
) -> None:
    def blocks(of: list[int], size: int) -> list[Made]:
        made = [samples(i, of[i : i + size], 100_000 * (i + 1)) for i in range(0, len(of), size)]
        return [one._replace(end=one.start + 50) for one in made]

    other = counts[: max(1, len(counts) - lacking)]
    if place < len(other):
        other = [*other[:place], 99, *other[place + 1 :]]
    comparing = Comparing(blocks(counts, size))
    for one in blocks(other, 7):
        comparing.add(one)
        comparing.settle(one.end, ())
    whole = Comparing(blocks(counts, size))
    for one in blocks(other, 7):
        whole.add(one)
    assert comparing.done(()) == whole.done(())


def test_of_a_thousand_differences_the_first_are_told_and_all_are_counted() -> None:
    then = [reading(100_000 * i) for i in range(MOST_TOLD + 50)]
    found = compared(then, [])
    assert (len(found.differences), found.places) == (MOST_TOLD, MOST_TOLD + 50)
