"""Classes of meters that once were read wrong, drawn anew: what is sure of them is never wrong.

``python -m tests.learning`` draws more.
"""

from __future__ import annotations

import pytest

from acquire.driverapi.registry import Registry
from tests.learning.attacks import CLASSES, attacked
from tests.learning.family import UNSURE, WRONG, tried

TURNS = 10


@pytest.mark.parametrize("how", CLASSES)
def test_of_a_class_found_by_attack_none_is_sure_and_wrong(how: str) -> None:
    first = list(CLASSES).index(how)
    numbers = range(first, TURNS * len(CLASSES), len(CLASSES))
    outcomes, lines, _ = tried(numbers, Registry(), drawn=attacked)
    (row,) = outcomes.values()
    assert row.total() == TURNS
    assert not [line for line in lines if WRONG in line]
    # Or else there would be nothing that could have been wrong.
    assert row[UNSURE] < TURNS
