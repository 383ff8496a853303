"""Profiles that somebody is sure of read the presses to come, or said what they had not seen.

``python -m tests.learning --fresh`` draws many more.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn.told.told import ALWAYS_UNSEEN
from tests.learning.attacks import attacked
from tests.learning.family import draw, taught
from tests.learning.fresh import PRESSES, fresh, freshly, shares
from tests.learning.meter import Meter
from tests.learning.usual import usual


@pytest.mark.parametrize("narrow", [False, True], ids=["any", "much alike"])
@pytest.mark.parametrize(
    ("drawn", "meters", "least_read"),
    [(draw, range(30_000, 30_050), 0.98), (usual, range(30_000, 30_045), 0.98),
     (attacked, range(30_000, 30_030), 0.5)],
    ids=["family", "usual", "attack"],
)  # fmt: skip
def test_fresh_presses_are_read_or_it_was_said_that_they_are_noise(
    drawn: Callable[[int], Meter], meters: range, least_read: float, narrow: bool
) -> None:
    rows = freshly(meters, Registry(), drawn, narrow=narrow)
    figures = shares(rows)
    assert not [line for row in rows.values() for line in row.examples]
    assert figures["sure"] > 0.75 * len(meters)
    assert figures["read"] >= least_read * figures["presses"]


def test_a_profile_that_nobody_said_anything_of_and_that_reads_little_is_found_out() -> None:
    registry = Registry()
    meter = next(m for m in map(usual, range(40)) if m.layout.name == "usual: date")
    found, _ = taught(meter, registry)
    found = replace(found, unseen=(ALWAYS_UNSEEN,))
    assert fresh(meter, found, registry).read == PRESSES
    narrow = re.sub("\nexample = [^\n]*", "", found.profile)
    narrow = re.sub("\nmost = [^\n]*", "\nmost = 15", narrow)
    told = fresh(meter, replace(found, profile=narrow), registry)
    assert (told.noisy, told.silent, told.wrong) == (1, 1, 0)
    assert fresh(meter, replace(found, profile=narrow, unseen=("more",)), registry).silent == 0


def test_a_fresh_press_that_is_read_as_another_number_is_found_out() -> None:
    registry = Registry()
    meter = next(m for m in map(draw, range(90)) if m.layout.name == "binary float")
    found, _ = taught(meter, registry)
    boundless = re.sub("\n(least|most|most_decimals) = [^\n]*", "", found.profile)
    bent = boundless.replace("\ntype =", "\nscale = 10\ntype =")
    assert fresh(meter, replace(found, profile=bent), registry).wrong > PRESSES / 2
