"""Corrections between an opening and a closing check, beyond the reference cases."""

from __future__ import annotations

import pytest

from acquire.analysis import drift
from acquire.analysis.drift import Check
from acquire.analysis.summary import summarise

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


def test_checks_without_uncertainty_make_any_change_a_drift() -> None:
    assert drift.drift_test(50.0, 0.0, 50.1, 0.0).is_significant
    unmoved = drift.drift_test(50.0, 0.0, 50.0, 0.0)
    assert (unmoved.is_significant, unmoved.ratio, unmoved.p) == (False, None, None)


def test_a_fall_leaves_the_lower_limit() -> None:
    judged = drift.against_limit(0.1, -0.7, 0.5)
    assert judged.crossed_at == pytest.approx(0.75)


def test_a_check_is_made_of_its_readings() -> None:
    check = drift.check_of(summarise([93.4, 93.5, 93.4, 93.3, 93.4]), 12.0)
    assert (check.value, check.u) == pytest.approx((93.4, 0.0316228), rel=1e-5)
    with pytest.raises(ValueError, match="at least 2"):
        drift.check_of(summarise([93.4]), 12.0)
