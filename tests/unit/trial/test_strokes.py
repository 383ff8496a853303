"""What a counter tells, in strokes: each once, and nothing that nobody watched."""

from __future__ import annotations

from itertools import pairwise

import pytest

from acquire.trial.strokes import MOST_AT_ONCE, StrokeCount


@pytest.mark.parametrize(
    ("totals", "strokes"),
    [
        ([117], [0]),  # how it stands when it is first seen is no stroke
        ([117, 118, 118, 120], [0, 1, 0, 2]),
        ([0, MOST_AT_ONCE], [0, MOST_AT_ONCE]),
        ([5, 5 + MOST_AT_ONCE + 1, 17], [0, 0, 1]),  # a leap, and on from there
        ([65535, 0, 1], [0, 0, 1]),
        ([40, 39, 40], [0, 0, 1]),  # backwards
    ],
)
def test_a_running_count_counts_what_it_went_on_by(totals: list[int], strokes: list[int]) -> None:
    counter = StrokeCount()
    told = [counter.told_total(total) for total in totals]
    assert [one.strokes for one in told] == strokes
    steps = [after - before for before, after in pairwise(totals)]
    odd = [i for i, by in enumerate(steps, 1) if not 0 <= by <= MOST_AT_ONCE]
    assert [i for i, one in enumerate(told) if one.trouble] == odd


def test_what_a_running_count_went_on_by_while_it_was_away_is_told_and_not_counted() -> None:
    counter = StrokeCount()
    counter.told_total(10)
    counter.left()
    strokes, trouble = counter.told_total(13)
    assert (strokes, "went on by 3 while it was away" in trouble) == (0, True)
    assert counter.told_total(14) == (1, "")


@pytest.mark.parametrize(
    ("presses", "flags", "strokes", "words"),
    [
        ([1, 2], "", 1, ""),
        ([2, 2], "repeat", 0, "sent twice; it is counted once"),
        ([2, 2], "echo", 0, "old stroke"),
        ([2, 5], "", 1, "2 strokes in between never came; this one is counted, those are not"),
        ([5, 3], "", 0, "went back from 5 to 3; this stroke is not counted"),
        ([9999, 1], "", 1, "began anew; this stroke is counted"),
    ],
)
def test_a_numbered_stroke_counts_once(
    presses: list[int], flags: str, strokes: int, words: str
) -> None:
    counter = StrokeCount()
    *before, last = presses
    for press in before:
        assert counter.told_stroke(press, ()).strokes == 1
    found = counter.told_stroke(last, [flags] if flags else [])
    assert found.strokes == strokes
    assert words in found.trouble
    assert bool(found.trouble) is bool(words)


def test_a_stroke_without_a_number_counts_and_what_was_missed_is_told() -> None:
    counter = StrokeCount()
    assert counter.told_stroke(None, ()) == (1, "")
    counter.left()
    assert counter.told_stroke(None, ()).trouble.startswith("it was away")
    assert counter.told_stroke(None, ("repeat",)).strokes == 0


def test_a_counter_that_was_switched_off_counts_from_its_first_stroke() -> None:
    counter = StrokeCount()
    counter.told_stroke(7, ())
    counter.left()
    strokes, trouble = counter.told_stroke(1, ())
    assert (strokes, "began anew" in trouble) == (1, True)
