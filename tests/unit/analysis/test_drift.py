"""Corrections between an opening and a closing check, beyond the reference cases."""

from __future__ import annotations

import pytest

from acquire.analysis.checks import drift
from acquire.analysis.checks.drift import Check

OPEN, CLOSE = Check(93.4, 0.05, 0.0), Check(94.0, 0.05, 60.0)


@pytest.mark.parametrize("at", [-1.0, 61.0])
def test_a_reading_outside_its_checks_is_not_corrected(at: float) -> None:
    with pytest.raises(ValueError, match="not extrapolated"):
        drift.offset_corrected(Check(88.7, 0.08, at), 93.2, 0.15, OPEN, CLOSE)


def test_the_closing_check_comes_after_the_opening() -> None:
    with pytest.raises(ValueError, match="later than the opening"):
        drift.offset_corrected(Check(88.7, 0.08, 0.0), 93.2, 0.15, OPEN, OPEN)


def test_checks_tell_least_half_way_and_all_at_the_ends() -> None:
    u = [
        drift.offset_corrected(Check(88.7, 0.0, t), 93.2, 0.0, OPEN, CLOSE).u_checks
        for t in (0.0, 30.0, 60.0)
    ]
    assert u[0] == u[2] == 0.05
    assert u[1] == pytest.approx(0.05 / 2**0.5)


@pytest.mark.parametrize(
    ("certified", "opening", "closing", "position"),
    [(0.0, 1.0, 1.0, 0.5), (93.2, 1.0, -1.0, 0.5), (93.2, 93.0, 93.0, 1.5)],
)
def test_a_gain_that_is_none_is_refused(
    certified: float, opening: float, closing: float, position: float
) -> None:
    with pytest.raises(ValueError, match=r"gain|between the checks"):
        drift.gain_corrected(50.0, certified, opening, closing, position)
