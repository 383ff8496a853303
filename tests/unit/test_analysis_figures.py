"""Rounding for print: two digits of the uncertainty (JCGM 100:2008, 7.2.6)."""

from __future__ import annotations

import math

import pytest

from acquire.analysis.figures import (
    beyond,
    probability,
    probability_figure,
    rounded,
    signed,
    suffix,
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
