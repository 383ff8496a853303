"""Slides and films that no glass can be are pointed out, and others are said to be plausible."""

from __future__ import annotations

import pytest

from tests.unit.analysis.bench import Readings
from tests.unit.film_bench import films_of

VISIBLE = "380-780"


def through(n: float) -> float:
    """Percent of a clear sheet with two bare faces, T = 2n/(n^2 + 1) (any optics textbook)."""
    return 200 * n / (n * n + 1)


def box(blank: float, film: float, channel: str = VISIBLE) -> tuple[str, ...]:
    """What is advised of three blanks and a coated slide with three readings each."""
    readings: Readings = {
        (zone, "cured"): tuple(level + step for step in (-0.02, 0.0, 0.02))
        for zone, level in (
            ("control1", blank - 0.05), ("control2", blank), ("control3", blank + 0.05),
            ("wax", film), ("wax2", film + 0.05),
        )
    }  # fmt: skip
    return films_of(readings, resolution=0.01, channel=channel).advice


def test_clear_soda_lime_in_visible_light_is_plausible_by_its_two_faces_alone() -> None:
    """Of index 1.523 it lets 91.8 % through; "about 8 % are lost", as handbooks round it."""
    (said,) = box(91.8, 60.0)
    assert said.startswith("Bare slides let 91.7")
    assert "Plausible: clear soda-lime lets 91.8 % through and fused silica 93.3 %" in said
    assert through(1.523) == pytest.approx(91.8, abs=0.05)
    assert through(1.458) == pytest.approx(93.3, abs=0.05)


def test_slides_that_are_clearer_than_any_glass_are_pointed_out_in_any_band() -> None:
    """The least index of fused silica, 1.43 at 2500 nm, lets 93.9 % through."""
    assert through(1.43) == pytest.approx(93.9, abs=0.05)
    for channel in (VISIBLE, "315-400", "780-2500", "940"):
        (said,) = box(95.5, 60.0, channel)
        assert said.startswith("3 of 3 bare slides let more than 93.9 % of the open beam through")
        assert "control1 at cured with 95.4" in said
    assert box(93.9, 60.0, "780-2500") == ()


def test_slides_that_stop_visible_light_are_asked_about_and_others_are_not() -> None:
    (said,) = box(86.0, 60.0)
    assert "3 of 3 bare slides let more than 3 % of the open beam less through" in said
    assert "control1 at cured with 85.9" in said
    for channel in ("315-400", "280-315", "780-2500", "365"):
        assert box(86.0, 60.0, channel) == (), "glass absorbs there"


def test_slides_read_bare_are_looked_at_as_blanks_are() -> None:
    levels = {"bare": 96.0, "applied": 60.0}
    readings: Readings = {
        (zone, stage): tuple(level + step for step in (-0.02, 0.0, 0.02))
        for zone in ("control", "wax")
        for stage, level in levels.items()
    }
    (said,) = films_of(readings, resolution=0.01).advice
    assert said.startswith("2 of 2 bare slides let more than 93.9 %")
    assert "at bare" in said


def test_a_film_that_lets_more_through_than_a_face_without_reflection_is_pointed_out() -> None:
    """Of index 1.55 a face reflects 4.65 %: (1 - R) over 2n/(n^2 + 1) is 104.7 %."""
    r = (0.55 / 2.55) ** 2
    assert 100 * (1 - r) / (through(1.55) / 100) == pytest.approx(104.7, abs=0.05)
    plausible, said = box(91.0, 97.5)
    assert plausible.startswith("Bare slides let")
    assert said.startswith("Wax, cured: a film lets at least 10")
    assert "which makes 104.7 %, on both faces 109.8 %" in said
    assert len(box(91.0, 94.0)) == 1, "a film of low index may make a slide clearer"


def test_where_nothing_was_read_nothing_is_said() -> None:
    assert films_of({}, channel=VISIBLE).advice == ()
