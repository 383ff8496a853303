"""One zone that stands alone beside several of others: nothing tells how it spreads itself.

How zones differ is then taken from the others (`acquire.analysis.zones`), and a treatment that
spreads more is called better or worse too often: nothing of its own can be held against the pool.
The readings alone would err more often still, and to refuse would leave a trial that lost its zones
without a word; so it is said where a trial is planned and where its results are. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Collection

from acquire.analysis.zones import ENOUGH_FOR_ONE
from acquire.model import Plan, Quantity

TWICE, THRICE, SEVERAL_TWICE, SEVERAL_THRICE, THRICE_OF_TWO = 31, 50, 63, 94, 22
"""False differences in 100 trials at the most, by drawing (40,000 trials a figure, one to twelve
products, two to ten zones of each other treatment, against the control and among all pairs): of one
lone zone that spreads two and three times as much as the others, of several that all do (most where
three to ten zones of the control stand beside products of one zone), and of two zones in the place
of one."""


def is_told_by_others(counts: Collection[int]) -> bool:
    """Whether a treatment has one zone, and others tell how zones differ for it in results."""
    return 1 in counts and sum(n - 1 for n in counts if n) >= ENOUGH_FOR_ONE


def lone_zone_rule(counts: Collection[int]) -> str:
    """What the page adds where a treatment has one zone; empty where others do not tell for it."""
    if not is_told_by_others(counts):
        return ""
    return (
        " Of one zone nothing tells whether its treatment spreads more than those that tell for "
        f"it. Where it spreads twice as much, up to {TWICE} in 100 drawn trials of treatments that "
        "did nothing had a false “better” or “worse”, where three times as much up to "
        f"{THRICE}, against the control or among all pairs (beside four zones of each of the "
        "others 34 and 38 with one of three products, 43 with the control), and up to "
        f"{SEVERAL_TWICE} and {SEVERAL_THRICE} where several have one zone and all of these do."
    )


def lone_zone_hints(plan: Plan) -> list[str]:
    """A line where treatments of the plan have one zone, for which zones of others will tell."""
    on = [zone.treatment for zone in plan.zones]
    lone = [t.name for t in plan.treatments if on.count(t.id) == 1]
    of_blanks = [
        m.quantity is Quantity.TRANSMITTANCE and plan.stages[0] not in m.stages
        for m in plan.measures
    ]
    if all(of_blanks) or not is_told_by_others([on.count(t.id) for t in plan.treatments]):
        return []
    is_one = len(lone) == 1
    who = lone[0] if is_one else f"each of {len(lone)} treatments, such as {lone[0]},"
    several = "" if is_one else f" ({SEVERAL_TWICE} and {SEVERAL_THRICE} where several do so)"
    return [
        f"HINT: one zone stands for {who} and nothing will tell whether it spreads more than those "
        "with several, whose spread is taken for it. Of trials in which nothing differs up to "
        f"{TWICE} in 100 then have a false “better” or “worse” where it spreads twice as much, up "
        f"to {THRICE} where three times{several}; of two zones up to {THRICE_OF_TWO}. Two zones at "
        "least are wanted, better as many as the others have"
    ]
