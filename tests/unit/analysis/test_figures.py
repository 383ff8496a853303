"""Rounding for print: two digits of the uncertainty (JCGM 100:2008, 7.2.6)."""

from __future__ import annotations

import math
import random
from decimal import Decimal

import pytest

from acquire.analysis.figures import (
    beyond,
    limits,
    probability,
    probability_figure,
    reach_from,
    rounded,
    signed,
    suffix,
    with_reach,
)


@pytest.mark.parametrize(
    ("value", "u", "text"),
    [
        # JCGM 100:2008, 7.2.6: 10.057 62 ohm with u = 27 milliohm is given as 10.058 ohm.
        (10.05762, 0.027, "10.058"),
        (92.5612, 0.0996, "92.56"),
        (92.5612, 0.14, "92.56"),
        (92.5612, 3.2, "92.6"),
        (56789.0, 1234.0, "56800"),
        (0.0, 0.05, "0.000"),
        (-0.0004, 0.14, "0.00"),
        (-1.482, 0.14, "−1.48"),
        (1e-9, 2e-10, "0.00000000100"),
        (123456789.0, 1e-12, "123456789.00000000"),
        (88.04, None, "88.04"),
        (88.0, 0.0, "88.00"),
        (0.0, None, "0"),
        (-0.123456, None, "−0.1235"),
    ],
)
def test_a_value_keeps_the_digits_its_uncertainty_leaves(
    value: float, u: float | None, text: str
) -> None:
    assert rounded(value, u) == text


def test_a_half_goes_to_the_even_digit() -> None:
    assert rounded(0.125, 0.11) == "0.12"
    assert rounded(0.135, 0.11) == "0.14"


def test_a_sign_stands_before_every_figure_but_zero() -> None:
    assert signed(2.5, 0.34) == "+2.50"
    assert signed(-2.5, 0.34) == "−2.50"
    assert signed(0.001, 0.34) == "0.00"


@pytest.mark.parametrize(("value", "u"), [(math.nan, 1.0), (1.0, math.inf), (math.inf, None)])
def test_what_is_not_finite_is_not_printed(value: float, u: float | None) -> None:
    with pytest.raises(ValueError, match="finite"):
        rounded(value, u)


def test_a_unit_follows_with_a_space_and_a_pure_number_has_none() -> None:
    assert suffix("gloss_unit") == " GU"
    assert suffix("one") == ""


def test_a_probability_is_never_printed_as_nothing() -> None:
    assert [probability(p) for p in (1.0, 0.234, 0.00423, 1e-24, 0.0)] == [
        "= 1.00", "= 0.23", "= 0.0042", "< 0.0001", "< 0.0001",
    ]  # fmt: skip


def test_a_probability_beside_5_of_100_shows_on_which_side_it_lies() -> None:
    assert [probability(p) for p in (0.2, 0.034, 0.0499, 0.0504, 0.05, 0.0042)] == [
        "= 0.20", "= 0.034", "= 0.0499", "= 0.0504", "= 0.050", "= 0.0042",
    ]  # fmt: skip
    assert [probability_figure(p) for p in (0.034, 1e-9)] == ["0.034", "< 0.0001"]


def test_what_lies_beyond_its_limit_is_printed_as_beyond_it() -> None:
    assert beyond(1.744, 1.7424) == ("1.744", "1.742")
    assert beyond(2.3, 1.7) == ("2.30", "1.70")
    assert beyond(1.0, 1.0) == ("1.000000", "1.000000")


@pytest.mark.parametrize(
    ("low", "high", "u", "beside", "texts"),
    [
        (0.004, 1.18, 0.59, (0.0,), ("0.004", "1.180")),
        (-1.18, -0.00031, 0.59, (0.0,), ("−1.1800", "−0.0003")),
        (-0.004, 1.18, 0.59, (0.0,), ("−0.004", "1.180")),
        (0.3, 0.9996, 0.35, (-1.0, 1.0), ("0.3000", "0.9996")),
        (0.3, 1.0004, 0.35, (-1.0, 1.0), ("0.3000", "1.0004")),
        (79.0, 99.97, 10.0, (0.0, 100.0), ("79.00", "99.97")),
        # The mark of a ratio has digits of its own: 100/1.05 = 95.238.
        (95.24, 99.1, 2.0, (100 / 1.05,), ("95.24", "99.10")),
        (95.22, 99.1, 20.0, (100 / 1.05,), ("95", "99")),
    ],
)
def test_an_end_of_an_interval_is_printed_on_its_side_of_what_decides(
    low: float, high: float, u: float, beside: tuple[float, ...], texts: tuple[str, str]
) -> None:
    assert limits(low, high, u, beside) == texts


def test_an_end_that_meets_what_decides_gets_no_further_digits() -> None:
    assert limits(0.0, 1.18, 0.59) == ("0.00", "1.18")
    assert limits(0.3, 1.0, 0.35, (1.0,)) == ("0.30", "1.00")
    # What only the noise of binary figures tells apart is not printed either.
    assert limits(1e-17, 1.18, 0.59) == ("0.00", "1.18")


def test_any_end_of_an_interval_is_read_on_the_side_that_the_decision_took() -> None:
    drawn = random.Random(20)
    for _ in range(3000):
        u = 10 ** drawn.uniform(-3, 3)
        mark = drawn.choice((0.0, 1.0, drawn.uniform(-3, 3)))
        low = mark + u * drawn.choice((-1, 1)) * 10 ** drawn.uniform(-8, 1)
        ends = limits(low, low + 2 * u, u, (mark,))
        for text, end in zip(ends, (low, low + 2 * u), strict=True):
            assert (Decimal(text.replace("−", "-")) > Decimal(repr(mark))) == (end > mark)
        assert len({len(text.partition(".")[2]) for text in ends}) == 1


def test_a_figure_and_its_reach_show_which_is_larger() -> None:
    assert with_reach(0.5949, 0.5898) == ("+0.595", "0.590")
    assert with_reach(-0.5898, 0.5949) == ("−0.590", "0.595")
    assert with_reach(2.5, 0.34) == ("+2.50", "0.34")
    assert with_reach(-0.59, 0.59) == ("−0.59", "0.59")


def test_a_figure_and_its_reach_show_whether_it_reaches_a_mark() -> None:
    assert reach_from(100.0, 99.4571, 0.5449) == ("99.457", "0.545")
    assert reach_from(100.0, 99.4571, 0.5309) == ("99.46", "0.53")
    assert reach_from(100.0, 100.0, 0.54) == ("100.00", "0.54")


def test_what_has_no_uncertainty_is_printed_as_any_figure() -> None:
    assert limits(99.1, 99.3, 0.0, ()) == ("99.10", "99.30")
    assert with_reach(0.25, 0.0) == ("+0.2500", "0")


@pytest.mark.parametrize(("low", "u"), [(math.nan, 1.0), (0.0, math.inf)])
def test_an_interval_without_ends_or_width_is_not_printed(low: float, u: float) -> None:
    with pytest.raises(ValueError, match="finite figures"):
        limits(low, 1.0, u)
    with pytest.raises(ValueError, match="finite figures"):
        with_reach(low, u)
