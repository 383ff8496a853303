"""That gloss fell in treated zones is said of what holds for all of them together."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.analysis.bench import BARE, result_of

TREATMENTS = ("wax", "seal", "oil", "spray", "polish")
STAGES = ("applied", "wash-5", "wash-10", "wash-20")


def said(readings: dict[tuple[str, str], list[float]]) -> str:
    result = result_of(readings, resolution=0.0001)
    return next((text for text in result.advice if text.startswith("Gloss fell")), "")


def drawn(draw: np.random.Generator, readings: int = 10) -> dict[tuple[str, str], list[float]]:
    """Two zones of each treatment; nothing changes them."""
    zones = ["control", *(f"{t}{n}" for t in TREATMENTS for n in ("1", "2"))]
    return {
        (zone, stage): draw.normal(80.0, 0.2, readings).tolist()
        for zone in zones
        for stage in ("bare", *STAGES)
    }


def test_of_zones_that_did_not_change_one_is_said_to_have_fallen_in_five_of_a_hundred() -> None:
    """Forty changes of zones a trial, 100 trials: two standard errors are 4.4 %."""
    draw = np.random.default_rng(40)
    assert sum(bool(said(drawn(draw))) for _ in range(100)) <= 9


def test_a_zone_that_truly_fell_is_named_alone_and_the_rule_with_it() -> None:
    readings = drawn(np.random.default_rng(4))
    for stage in STAGES:
        readings["oil2", stage] = [v - 3.0 for v in readings["oil2", stage]]
    text = said(readings)
    assert "Gloss fell in treated zones (oil2)" in text
    assert "of 40 changes, adjusted by Holm" in text


@pytest.mark.parametrize("zones", [("control", "wax"), ("control",)])
def test_of_the_control_alone_nothing_is_said(zones: tuple[str, ...]) -> None:
    readings = {(z, s): list(BARE) for z in zones for s in ("bare", "applied")}
    readings["control", "applied"] = [v - 5 for v in BARE]
    assert said(readings) == ""


def test_a_fall_that_the_control_shares_is_said_to_be_shared() -> None:
    alone = {("control", "applied"): (90.0, 90.1, 90.2), ("oil", "applied"): (80.0, 80.1, 80.2)}
    both = alone | {("control", "applied"): (85.0, 85.1, 85.2)}
    for applied, is_shared in ((alone, False), (both, True)):
        bare = {(zone, "bare"): (90.0, 90.1, 90.2) for zone in ("control", "oil")}
        (text,) = [t for t in result_of(bare | applied).advice if "Gloss fell" in t]
        assert ("Zones of the control fell, too" in text) is is_shared
