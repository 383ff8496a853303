"""What the family of drawn meters has to reach, for a part of it."""

from __future__ import annotations

from acquire.driverapi.registry import Registry
from tests.learning.family import AGAIN, RIGHT, WRONG, tried

AT_ONCE = 0.98
_CHANCE = 0.01
"""By so much the share of a few hundred drawn meters moves by chance alone."""


def is_met(numbers: range) -> None:
    """Nearly all are read right at once, the rest as noise, and none as what it does not say."""
    outcomes, lines, needed = tried(numbers, Registry())
    wrong = [line for line in lines if WRONG in line]
    assert not wrong
    learnable = [row for name, row in outcomes.items() if not name.startswith("hopeless")]
    total = sum(row.total() for row in learnable)
    right = sum(row[RIGHT] for row in learnable)
    again = sum(row[AGAIN] for row in learnable)
    assert right / total >= AT_ONCE - _CHANCE, "\n".join(lines)
    # What no press could show, such as where the count of a used meter goes on, is noise until it
    # was taught.
    assert (right + again) / total >= 0.99, "\n".join(lines)
    # Three presses are enough of lines; of frames, where nothing is read that no press has shown,
    # one more often is needed.
    assert needed[3] + needed[4] > 0.7 * sum(needed.values())
    assert sum(n for presses, n in needed.items() if presses > 6) < 0.15 * sum(needed.values())
