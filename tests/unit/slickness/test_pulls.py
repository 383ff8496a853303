"""Every pull of a continuous trace is found, with its peak, and none is invented.

``python -m tests.pulls`` draws a thousand traces and more; their truth is that of `tests.pulls`,
which shares no line with the analysis.
"""

from __future__ import annotations

from tests.pulls.scoring import scored
from tests.pulls.traces import drawn


def test_pulls_among_pauses_knocks_and_broken_off_ones_are_found_with_their_peaks() -> None:
    score = scored(range(20))
    assert score.pulls >= 60
    assert score.found >= 0.99 * score.pulls, score.faults
    assert score.near_sampled >= 0.99 * score.pulls, score.faults
    # Where the samples are dense enough the true peak is found, and nowhere is it low on average.
    dense, near, mean = score.by_rise(0, 0.005)
    assert dense >= 30
    assert near >= 0.98 * dense
    assert abs(mean) < 0.001
    for low, high in ((0.005, 0.02), (0.02, 0.05), (0.05, 1)):
        _, _, mean = score.by_rise(low, high)
        assert mean > -0.002
    assert score.invented == 0
    assert score.cut_off_taken == 0
    # Of those that are not told most lie between two samples of a slow gauge.
    assert score.struck >= 10
    assert score.struck_told >= 0.7 * score.struck
    # What was no whole pull is told with its reason.
    assert {"a knock", "too small", "let go too soon", "not broken free"} <= set(score.reasons)


def test_the_traces_have_lines_that_are_held_and_slides_without_a_first_peak_among_the_pulls() -> (
    None
):
    kinds = {kind for seed in range(20) for kind, _, _ in drawn(seed).others}
    assert kinds == {"knock", "try", "held", "glide"}
