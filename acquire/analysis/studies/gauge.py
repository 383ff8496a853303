"""A table in which every person read every spot alike often: do people differ, and by the spot?

Two-way analysis of variance with both factors at random (ISO 5725-2 takes each spot by itself;
this adds what all spots say together). Source: the crossed gauge study of the measurement systems
manuals of the motor trade; held against its worked example in the reference cases. Pure; any
thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from acquire.analysis.laws.special import fdtrc
from acquire.analysis.samples.summary import checked

POOLED_ABOVE = 0.25
"""An interaction with a larger p is counted as scatter of the readings (common practice)."""


@dataclass(frozen=True, slots=True)
class Gauge:
    """Sums of squares with their degrees of freedom, and the variances that follow.

    `f_people` and `p_people` test whether people differ on the whole, against the interaction.
    `interaction_pooled` says that nothing showed people to differ from spot to spot. Variances
    below zero count as zero.
    """

    ss_spots: float
    ss_people: float
    ss_interaction: float
    ss_repeat: float
    f_interaction: float | None
    p_interaction: float | None
    f_people: float | None
    p_people: float | None
    f_spots: float | None
    interaction_pooled: bool
    ms_repeat: float
    nu_repeat: int
    var_repeatability: float
    var_people: float
    var_interaction: float
    var_spots: float

    @property
    def ss_total(self) -> float:
        return self.ss_spots + self.ss_people + self.ss_interaction + self.ss_repeat

    @property
    def var_reproducibility(self) -> float:
        """What people differ by: by themselves, and from spot to spot."""
        return self.var_people + self.var_interaction


def gauge_of(
    table: Sequence[Sequence[Sequence[float]]], pooled_above: float = POOLED_ABOVE
) -> Gauge | None:
    """Analyse ``table[spot][person][reading]``.

    None unless two or more people read two or more spots, each equally often and at least twice.
    """
    spots, people = len(table), len(table[0]) if table else 0
    n = len(table[0][0]) if people else 0
    if spots < 2 or people < 2 or n < 2:
        return None
    if any(len(row) != people or any(len(cell) != n for cell in row) for row in table):
        return None
    # From one value on, so that a large common level costs no digits.
    origin = checked(table[0][0][0])
    cells = [[math.fsum(checked(v) - origin for v in cell) / n for cell in row] for row in table]
    of_spot = [math.fsum(row) / people for row in cells]
    of_person = [math.fsum(row[j] for row in cells) / spots for j in range(people)]
    mean = math.fsum(of_spot) / spots
    ss_spots = people * n * math.fsum((m - mean) ** 2 for m in of_spot)
    ss_people = spots * n * math.fsum((m - mean) ** 2 for m in of_person)
    ss_interaction = n * math.fsum(
        (cells[i][j] - of_spot[i] - of_person[j] + mean) ** 2
        for i in range(spots)
        for j in range(people)
    )
    ss_repeat = math.fsum(
        (v - origin - cells[i][j]) ** 2
        for i, row in enumerate(table)
        for j, cell in enumerate(row)
        for v in cell
    )
    nu_interaction, nu_repeat = (spots - 1) * (people - 1), spots * people * (n - 1)
    f_interaction, p_interaction = _test(ss_interaction, nu_interaction, ss_repeat, nu_repeat)
    pooled = p_interaction is not None and p_interaction > pooled_above
    if pooled:
        nu_repeat += nu_interaction
        ms_repeat = (ss_repeat + ss_interaction) / nu_repeat
        ms_below = ms_repeat
    else:
        ms_repeat = ss_repeat / nu_repeat
        ms_below = ss_interaction / nu_interaction
    # People and spots are held against the interaction, whether or not it goes into the scatter: to
    # pool it by its own test first makes 6 to 10 false differences of 100 where it is moderate.
    f_people, p_people = _test(ss_people, people - 1, ss_interaction, nu_interaction)
    f_spots, _ = _test(ss_spots, spots - 1, ss_interaction, nu_interaction)
    return Gauge(
        ss_spots, ss_people, ss_interaction, ss_repeat,
        f_interaction, p_interaction, f_people, p_people, f_spots,
        pooled, ms_repeat, nu_repeat,
        ms_repeat,
        max(0.0, (ss_people / (people - 1) - ms_below) / (spots * n)),
        0.0 if pooled else max(0.0, (ss_interaction / nu_interaction - ms_repeat) / n),
        max(0.0, (ss_spots / (spots - 1) - ms_below) / (people * n)),
    )  # fmt: skip


def _test(
    above: float, nu_above: int, below: float, nu_below: int
) -> tuple[float, float] | tuple[None, None]:
    """F of two sums of squares and its tail; None where there is nothing to hold it against."""
    if not below > 0:
        return None, None
    f = (above / nu_above) / (below / nu_below)
    return f, float(fdtrc(nu_above, nu_below, f))


def p_by_means(table: Sequence[Sequence[Sequence[float]]]) -> float | None:
    """Whether people differ on the whole, of ``table[spot][person]`` read unequally often.

    A two-way analysis of the means alone, over the spots that everybody read, people against
    people by spot (one value a cell; NIST/SEMATECH e-Handbook, 7.4.3.8, from memory). With two
    people it is the paired t-test over the spots. None with fewer than two such spots or people,
    or where the means leave no scatter to hold people against.
    """
    means = [
        [math.fsum(cell) / len(cell) for cell in row] for row in table if row and all(map(len, row))
    ]
    spots, people = len(means), len(means[0]) if means else 0
    if spots < 2 or people < 2:
        return None
    whole = math.fsum(map(math.fsum, means)) / (spots * people)
    of_spots = [math.fsum(row) / people for row in means]
    of_people = [math.fsum(column) / spots for column in zip(*means, strict=True)]
    ms_people = spots * math.fsum((m - whole) ** 2 for m in of_people) / (people - 1)
    left = math.fsum(
        (value - spot - person + whole) ** 2
        for row, spot in zip(means, of_spots, strict=True)
        for value, person in zip(row, of_people, strict=True)
    )
    df = (people - 1) * (spots - 1)
    if left <= 1e-24 * max(1.0, whole**2):
        return None
    return float(fdtrc(people - 1, df, ms_people / (left / df)))
