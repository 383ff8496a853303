"""The life by water classes: the first count at which the class is below the criterion.

Classes are steps of a written scale, with an order and no distances: they are never averaged. Of
several ratings at one count the middle one counts, of an even number the lower of the two in the
middle. Pure; any thread.
"""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Iterable, Sequence

from acquire.analysis.durability.life import Observed, life_of


def middle_class(ratings: Iterable[str], scale: Sequence[str]) -> str:
    """The middle rating; `scale` goes from worst to best.

    Raises ValueError without ratings, for a class that the scale has not, or a scale that is none.
    """
    given = list(ratings)
    if len(set(scale)) != len(scale) or len(scale) < 2:
        raise ValueError(f"a scale of 2 or more different classes is wanted, got {list(scale)}")
    strange = [r for r in given if r not in scale]
    if strange or not given:
        raise ValueError(
            f"{strange[0] if strange else 'no rating'!r}: wanted one of {list(scale)}, worst first"
        )
    return scale[statistics.median_low(scale.index(r) for r in given)]


def life_by_class(
    ratings: Iterable[tuple[float, str]], scale: Sequence[str], least: str
) -> Observed:
    """The life from pairs of wash count and class; classes from `least` upwards pass.

    `scale` goes from worst to best. Raises ValueError for classes it has not, or bad counts.
    """
    at: dict[float, list[str]] = defaultdict(list)
    for count, rating in ratings:
        at[count].append(rating)
    limit = scale.index(middle_class([least], scale))
    return life_of((n, scale.index(middle_class(r, scale)) >= limit) for n, r in at.items())
