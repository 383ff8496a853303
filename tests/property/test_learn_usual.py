"""Drawn meters with usual dates, times, signs and sums about the number: learned, and never wrong.

``python -m tests.learning`` draws more.
"""

from __future__ import annotations

import pytest

from acquire.driverapi.registry import Registry
from tests.learning.family import RIGHT, UNREAD, UNSURE, WRONG, tried
from tests.learning.usual import KINDS, usual

TURNS = 3


@pytest.mark.parametrize("group", ["date", "field", "sign", "sum"])
def test_what_many_send_beside_the_number_is_learned_and_none_wrong(group: str) -> None:
    places = [at for at, how in enumerate(KINDS) if how.startswith(group)]
    first, registry = range(0, TURNS * len(KINDS), len(KINDS)), Registry()
    rows = [
        tried(range(at + turn, at + turn + 1), registry, drawn=usual)
        for turn in first
        for at in places
    ]
    assert not [line for _, lines, _ in rows for line in lines if WRONG in line]
    outcomes = [how for row, _, _ in rows for own in row.values() for how in own.elements()]
    assert len(outcomes) == TURNS * len(places)
    # A gauge that shows nothing below zero in its lesson has not said how it writes that.
    at_once = 0.55 if group == "sign" else 0.9
    assert outcomes.count(RIGHT) >= at_once * len(outcomes)
    assert outcomes.count(UNSURE) + outcomes.count(UNREAD) <= 0.15 * len(outcomes)
