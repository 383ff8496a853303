"""Where a history is cut, and where a new certificate goes on."""

from __future__ import annotations

import pytest

from acquire.history.point import Point
from acquire.history.segments import Cut, segments
from acquire.history.series import Series
from tests.unit.history.points import points


def renewed(value: float | None, u: float = 0.2, *, was_readjusted: bool = False) -> list[Point]:
    """Three points under the first certificate (93.2), two under the next."""
    given = points([0.1, 0.2, 0.1, 0.3, 0.2])
    after = {"certificate": "c2", "certified": value, "u_certified": u}
    given[3:] = [p._replace(**after) for p in given[3:]]
    given[3] = given[3]._replace(was_readjusted=was_readjusted)
    return given


def shape(given: list[Point]) -> list[tuple[int, int, Cut]]:
    return [(s.start, s.stop, s.cut) for s in segments(Series.of(given))]


WHOLE = [(0, 5, Cut.FIRST)]


def test_a_history_without_changes_is_one_segment() -> None:
    assert shape(points([0.1] * 5)) == WHOLE
    assert shape([]) == []


def test_a_readjustment_begins_a_segment() -> None:
    given = points([0.1] * 5)
    given[2] = given[2]._replace(was_readjusted=True)
    assert shape(given) == [(0, 2, Cut.FIRST), (2, 5, Cut.READJUSTED)]


def test_a_readjustment_before_the_first_point_cuts_nothing() -> None:
    given = points([0.1] * 5)
    given[0] = given[0]._replace(was_readjusted=True)
    assert shape(given) == WHOLE


def test_a_certificate_that_agrees_goes_on_and_moves_what_came_before() -> None:
    # 0.2 apart, U of the difference 2 sqrt(0.2^2 + 0.2^2) = 0.57: E_n = 0.35.
    (segment,) = segments(Series.of(renewed(93.4)))
    assert segment.renewed == (3,)
    # What was read, 93.3 93.4 93.3, against 93.4.
    assert segment.deviation.tolist() == pytest.approx([-0.1, 0.0, -0.1, 0.3, 0.2])


@pytest.mark.parametrize(("value", "agrees"), [(93.75, True), (93.78, False), (92.6, False)])
def test_certificates_agree_within_their_expanded_uncertainties(value: float, agrees: bool) -> None:
    # U of the difference: 2 sqrt(0.2^2 + 0.2^2) = 0.566.
    apart = [(0, 3, Cut.FIRST), (3, 5, Cut.CERTIFICATE)]
    assert shape(renewed(value)) == (WHOLE if agrees else apart)


def test_the_same_value_agrees_without_any_uncertainty() -> None:
    given = [p._replace(u_certified=0.0) for p in renewed(93.2)]
    assert shape(given) == WHOLE


def test_a_certificate_without_a_value_begins_a_segment() -> None:
    assert shape(renewed(None)) == [(0, 3, Cut.FIRST), (3, 5, Cut.CERTIFICATE)]


def test_a_value_that_is_missing_on_an_earlier_check_hinders_no_renewal() -> None:
    given = renewed(93.4)
    given[0] = given[0]._replace(certified=None)
    assert shape(given) == WHOLE


def test_a_certificate_never_goes_on_over_a_readjustment() -> None:
    given = renewed(93.2, was_readjusted=True)
    assert shape(given) == [(0, 3, Cut.FIRST), (3, 5, Cut.READJUSTED)]


def test_two_renewals_state_all_against_the_last() -> None:
    given = renewed(93.4)
    given[4] = given[4]._replace(certificate="c3", certified=93.3)
    (segment,) = segments(Series.of(given))
    assert segment.renewed == (3, 4)
    assert segment.deviation.tolist() == pytest.approx([0.0, 0.1, 0.0, 0.4, 0.2])


def test_stating_against_another_certificate_leaves_the_series_alone() -> None:
    series = Series.of(renewed(93.4))
    segments(series)
    assert series.deviation.tolist() == [0.1, 0.2, 0.1, 0.3, 0.2]
