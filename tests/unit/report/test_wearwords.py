"""What is said of a gain over the counts does not contradict what is said of each of them."""

from __future__ import annotations

import numpy as np
import pytest

from acquire.report.washing.wearwords import kept_sentences, over_counts
from tests.unit.wash_bench import COUNTS, STAGES, only, readings_of, washed


def said(*gains: float, source: np.random.Generator | None = None) -> str:
    levels = {"control": [80.0] * 5, "wax": [80.0, *(80 + g for g in gains)]}
    found = washed(readings_of(levels, source=source), resolution=0.1)
    assert found is not None
    wear = only(found).wear
    return " ".join((kept_sentences(found, wear), *over_counts(wear)))


def test_a_loss_that_its_size_shows_is_not_denied_by_the_order_of_the_counts() -> None:
    text = said(4.0, 0.03, 0.01, 0.02)
    assert "That some of it was lost by then is shown" in text
    assert "The order of the counts by itself does not show it (p = 0.50, one-sided)." in text
    assert "and 1 of the 4 gains is." in text
    assert "hardly" not in text
    assert "a fall with the washes is not shown" not in text


def test_a_fall_that_only_all_counts_show_is_joined_to_what_the_last_one_does_not() -> None:
    text = said(4.0, 3.98, 3.95, 3.93)
    assert "That any of it was lost by then is not shown by that count alone." in text
    assert "All counts together show that it falls with the washes (p = 0.042, one-sided)." in text


def test_a_fall_that_both_show_is_told_by_both_and_one_that_neither_does_by_neither() -> None:
    both, neither = said(4.0, 3.0, 2.0, 1.0), said(4.0, 4.02, 3.97, 4.01)
    assert "lost by then is shown. Over the counts: it falls with the washes (p = 0.042" in both
    assert "That any of it was lost by then is not shown." in neither
    assert "Over the counts: a fall with the washes is not shown by the order" in neither


def test_equal_gains_are_not_taken_for_too_few_counts() -> None:
    # By hand: of four gains 1 order in 24 falls throughout, of which two are equal 1 in 12.
    text = said(4.0, 3.0, 3.0, 1.0)
    assert "2 of the 4 gains are equal to another, so that their order cannot show a trend." in text
    assert "too few" not in text
    # Of three that differ it is 1 in 6.
    levels = {"control": [80.0] * 4, "wax": [80.0, 84.0, 83.0, 81.0]}
    found = washed(readings_of(levels), counts=COUNTS[:2], stages=STAGES[:4], resolution=0.1)
    assert found is not None
    assert "3 counts are too few for a trend" in " ".join(over_counts(only(found).wear))


@pytest.mark.parametrize(
    "gains", [(3.0, 2.9, 0.0, 0.0), (3.0, 2.9, 2.8, 1.7), (4.0, 3.99, 3.95, 3.93)]
)
def test_a_loss_that_is_shown_is_not_denied_by_a_fit(gains: tuple[float, ...]) -> None:
    """A sudden end was told to be no change, beside counts between which half of it went."""
    text = said(*gains)
    assert "lost by then is shown" in text or "show that it falls" in text
    assert "Half-life not resolved: the readings show no exponential course; " in text
    assert "no change with" not in text
    assert "no fall is shown" not in text


@pytest.mark.parametrize("gain", [0.3, 3.0])
def test_gains_that_stay_are_said_to_fall_no_more_often_than_5_of_100(gain: float) -> None:
    draw = np.random.default_rng(6)
    told = falls = 0
    for _ in range(150):
        text = said(*[gain] * 4, source=draw)
        if "Of its gain it kept" in text:
            told += 1
            falls += "it falls with the washes" in text
    assert told >= 50
    assert falls <= 0.05 * told + 2 * (0.05 * 0.95 * told) ** 0.5
