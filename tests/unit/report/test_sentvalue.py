"""Readings and limits on the page: digits that were sent, none that a conversion made."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.report.words.sentvalue import plain, printed


@pytest.mark.parametrize(
    ("value", "step", "wanted"),
    [
        # What a meter sent stays as it was sent, its zeros included.
        ("80.10", None, "80.10"),
        ("-0.3", "0.1", "−0.3"),
        ("1046", None, "1046"),
        # 4.0 gf and 0.1 gf by the standard acceleration 9.80665 m/s2 (exact).
        ("0.03922660", "0.000980665", "0.03923"),
        ("0.00000000", "0.000980665", "0.00000"),
        # The number of a computer: by the step where it is known, else six digits.
        ("84.59057799050974", "0.01", "84.591"),
        ("84.59057799050974", None, "84.5906"),
        ("84.59057799050974", "0.00000000000001", "84.5906"),
        ("-0.002756090085482398", "0.01", "−0.003"),
    ],
)
def test_a_value_is_printed_to_the_digits_that_mean_something(
    value: str, step: str | None, wanted: str
) -> None:
    assert printed(Decimal(value), Decimal(step) if step else None) == wanted


@pytest.mark.parametrize(
    ("value", "wanted"),
    [("0.5", "0.5"), ("1.0", "1.0"), ("0.03922660", "0.03923"), ("-0.01961330", "−0.01961")],
)
def test_a_limit_stands_as_it_was_entered_unless_a_conversion_made_its_digits(
    value: str, wanted: str
) -> None:
    assert plain(Decimal(value)) == wanted


def test_what_is_no_figure_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        printed(Decimal("NaN"))
