"""Gloss by Fresnel retention and scale, beyond the reference cases."""

from __future__ import annotations

import itertools
import math

import pytest

from acquire.analysis import gloss
from acquire.fresnel import fresnel, index_from_gloss, reflectance


@pytest.mark.parametrize("angle", [20.0, 60.0, 85.0])
def test_the_reference_glass_reads_100_at_every_angle(angle: float) -> None:
    # ISO 2813:2014, 3.3.
    assert fresnel(1.567, angle) == pytest.approx(100)


def test_straight_on_a_surface_reflects_the_textbook_part() -> None:
    # ((n - 1)/(n + 1))^2, any optics textbook.
    assert reflectance(1.5, 0) == pytest.approx((0.5 / 2.5) ** 2)


def test_at_brewsters_angle_only_one_polarisation_is_left() -> None:
    # tan(angle) = n: the reflected half is ((n^2 - 1)/(n^2 + 1))^2 / 2, any optics textbook.
    n = 1.5
    angle = math.degrees(math.atan(n))
    assert reflectance(n, angle) == pytest.approx(((n**2 - 1) / (n**2 + 1)) ** 2 / 2)


@pytest.mark.parametrize(("angle", "percent"), [(45.0, 5.97), (60.0, 10.0), (20.0, 4.9)])
def test_the_reference_glass_reflects_what_is_published(angle: float, percent: float) -> None:
    # 5.97 % at 45 degrees: a published article on stone gloss; about 10 % at 60 and 5 % at 20
    # degrees: JIS Z 8741.
    assert 100 * reflectance(1.567, angle) == pytest.approx(percent, abs=0.05)


@pytest.mark.parametrize("angle", [20.0, 45.0, 60.0, 75.0, 85.0])
def test_gloss_rises_with_the_index_over_the_whole_range_of_the_inverse(angle: float) -> None:
    steps = [1 + 0.9 * k / 500 for k in range(501)]
    read = [fresnel(n, angle) for n in steps]
    assert all(a < b for a, b in itertools.pairwise(read))


@pytest.mark.parametrize("angle", [20.0, 60.0, 85.0])
@pytest.mark.parametrize("n", [1.33, 1.43, 1.5, 1.567, 1.8])
def test_the_inverse_finds_the_index_again(n: float, angle: float) -> None:
    assert index_from_gloss(fresnel(n, angle), angle) == pytest.approx(n, abs=1e-9)


def test_a_gloss_that_no_clear_surface_has_is_refused_with_the_range() -> None:
    with pytest.raises(ValueError, match=r"reads 400 GU at 60°; the range is 0 to 148"):
        index_from_gloss(400, 60)
    with pytest.raises(ValueError, match="-1 GU"):
        index_from_gloss(-1, 60)
    with pytest.raises(ValueError, match="up to 85"):
        index_from_gloss(90, 88)


@pytest.mark.parametrize(("n", "angle"), [(0.9, 60.0), (math.inf, 60.0), (1.5, 90.0), (1.5, -1.0)])
def test_what_is_no_surface_or_angle_is_refused(n: float, angle: float) -> None:
    with pytest.raises(ValueError, match="wanted"):
        reflectance(n, angle)


def test_nothing_can_be_kept_of_no_gloss() -> None:
    assert gloss.retention(0.0, 5.0) is None
    assert gloss.retention(-0.1, 5.0) is None


def test_a_tile_that_reads_like_the_trap_makes_no_scale() -> None:
    with pytest.raises(ValueError, match="no scale"):
        gloss.two_point_scale(92.4, 0.3, 0.3, 50.0)
