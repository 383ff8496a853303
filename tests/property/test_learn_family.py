"""Meters drawn at random are learned right, or nobody is sure of them; never sure and wrong.

``python -m tests.learning`` draws many more.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import Outcome
from tests.learning.family import RIGHT, WRONG, draw, taught, verdict
from tests.learning.goal import is_met

METERS = range(20_000, 20_500)


def test_of_many_meters_nearly_all_are_learned_right_and_none_wrong() -> None:
    is_met(METERS)


def test_of_meters_that_cannot_be_learned_none_is_sure() -> None:
    registry = Registry()
    hopeless = [m for m in map(draw, METERS) if not m.layout.learnable]
    assert len(hopeless) >= 10
    assert not [m for m in hopeless if taught(m, registry)[0].outcome is Outcome.SURE]


def test_a_wrong_profile_is_found_out_by_the_judge_of_this_family() -> None:
    registry = Registry()
    meter = next(m for m in map(draw, METERS) if m.layout.name == "binary float")
    found, _ = taught(meter, registry)
    assert verdict(meter, found, registry)[0] == RIGHT
    # The limits of the display would find it out even before.
    boundless = re.sub("\n(least|most|most_decimals) = [^\n]*", "", found.profile)
    assert boundless.count("\n") == found.profile.count("\n") - 3
    spoiled = boundless.replace("\ntype =", "\nscale = 10\ntype =")
    assert spoiled != boundless
    assert verdict(meter, replace(found, profile=spoiled), registry)[0] == WRONG


@pytest.mark.parametrize("number", [20_003, 20_017, 20_123])
def test_the_same_meter_is_learned_the_same_way_again(number: int) -> None:
    one, other = (taught(draw(number), Registry())[0] for _ in range(2))
    assert one == other
