"""The angle of a drop, its uncertainty, and the word for it."""

from __future__ import annotations

import math

import pytest
from uncertainties import ufloat, umath

from acquire.analysis.wetting import cap, wetting_word


def test_half_a_sphere_stands_at_a_right_angle_with_half_a_sphere_of_water() -> None:
    found = cap(1.5, 3.0)
    assert found.angle_deg == pytest.approx(90)
    assert found.volume_ul == pytest.approx(2 / 3 * math.pi * 1.5**3)
    assert found.u_angle_deg == 0


@pytest.mark.parametrize(("h", "d"), [(0.3, 4.0), (1.0, 3.0), (2.0, 3.0)])
def test_the_uncertainty_is_that_of_numbers_that_carry_it(h: float, d: float) -> None:
    angle = umath.degrees(2 * umath.atan(2 * ufloat(h, 0.02) / ufloat(d, 0.05)))
    assert cap(h, d, 0.02, 0.05)[:2] == pytest.approx((angle.n, angle.s))


@pytest.mark.parametrize(
    ("angle", "word"),
    [(0, "hydrophilic"), (44.9, "hydrophilic"), (45, "intermediate"), (60, "intermediate"),
     (90, "intermediate"), (90.1, "hydrophobic"), (180, "hydrophobic")],
)  # fmt: skip
def test_the_word_is_that_of_astm_d7334(angle: float, word: str) -> None:  # 5.5, as seen
    assert wetting_word(angle) == word


def test_no_drop_is_refused() -> None:
    for h, d, u in ((0, 3, 0), (1, 0, 0), (math.nan, 3, 0), (1, 3, -1)):
        with pytest.raises(ValueError, match="wanted"):
            cap(h, d, u)
    with pytest.raises(ValueError, match="0 to 180"):
        wetting_word(181)
