"""What is typed at `coatbench climate`, as the degrees Celsius that are kept."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.cli.climate import _celsius
from acquire.errors import Misuse


@pytest.mark.parametrize(
    ("typed", "celsius"),
    # 32 F and 212 F are the ice and the steam point; 70.5 F by (70.5 - 32) x 5/9.
    [("21.4", "21.4"), ("21,4", "21.4"), ("-5", "-5"), ("21.4C", "21.4"), ("32F", "0.00"),
     ("212f", "100.00"), ("70.5 F", "21.39"),
     ("70.5 °F", "21.39"), ("21.4 °C", "21.4"), ("+21", "21"), ("-40F", "-40.00")],
)  # fmt: skip
def test_degrees_are_kept_in_celsius(typed: str, celsius: str) -> None:
    assert _celsius(typed) == Decimal(celsius)


@pytest.mark.parametrize(
    "typed", ["", "warm", "nan", "1e9", "21.4K", "Infinity", "abc", "21CF", "cc"]
)
def test_what_is_no_temperature_is_told_with_the_next_step(typed: str) -> None:
    with pytest.raises(Misuse, match="temperature is not entered") as refused:
        _celsius(typed)
    assert refused.value.got == repr(typed)
    assert refused.value.next_step
