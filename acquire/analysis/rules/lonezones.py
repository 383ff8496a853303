"""One zone that stands alone beside several of others: nothing tells how it spreads itself.

How zones differ is then taken from the others (`acquire.analysis.specimens.zones`), and a treatment
that spreads more is called better or worse too often: nothing of its own can be held against the
pool. The readings alone would err more often still, and to refuse would leave a trial that lost its
zones without a word; so it is said where a trial is planned and where its results are. Pure; any
thread.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable

from acquire.analysis.rules.lonedraws import Unlike, unlike_rates
from acquire.analysis.specimens.zones import ENOUGH_FOR_ONE
from acquire.model import Plan, Quantity

TWICE, THRICE, SEVERAL_TWICE, SEVERAL_THRICE = 31, 50, 63, 94
"""False differences in 100 trials at the most, by drawing (40,000 trials a figure, one to twelve
products, two to ten zones of each other treatment, against the control and among all pairs): of one
lone zone that spreads two and three times as much as the others, of several that all do (most where
three to ten zones of the control stand beside products of one zone)."""
EQUAL_TWICE, EQUAL_THRICE = 20, 28
"""Of a lone zone that differs by just the margin (``python -m tests.unit.analysis.equalities``)."""

_RUNS = 10_000


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
        f"{SEVERAL_TWICE} and {SEVERAL_THRICE} where several have one zone and all of these do. Of "
        f"such treatments that differed by just the margin up to {EQUAL_TWICE} and {EQUAL_THRICE} "
        "were called equal."
    )


def lone_zone_hints(plan: Plan) -> list[str]:
    """A line where treatments of the plan have one zone, for which zones of others will tell.

    With figures of this very plan, drawn anew: 10,000 trials a figure leave 1 in 100 open.
    """
    of_blanks = [
        m.quantity is Quantity.TRANSMITTANCE and plan.stages[0] not in m.stages
        for m in plan.measures
    ]
    on = Counter(zone.treatment for zone in plan.zones)
    # The control first, and none without a zone.
    treatments = sorted((t for t in plan.treatments if on[t.id]), key=lambda t: not t.is_control)
    zones = tuple(on[t.id] for t in treatments)
    if all(of_blanks) or len(zones) < 2 or not is_told_by_others(zones):
        return []
    lone = [k for k, n in enumerate(zones) if n == 1]
    is_one = len(lone) == 1
    name = treatments[lone[-1]].name
    who = name if is_one else f"each of {len(lone)} treatments, such as {name},"
    # Products with as many zones are alike, the control is not.
    kinds = [(k,) for k in {lone[0], lone[-1]}]
    twice, thrice = (
        f"{_false(zones, kinds, spread)}"
        + ("" if is_one else f" ({_false(zones, [tuple(lone)], spread)} where all of these do)")
        for spread in (2.0, 3.0)
    )
    of_two = max(
        _false(tuple(2 if k == few else n for k, n in enumerate(zones)), [(few,)], 3.0)
        for (few,) in kinds
    )
    return [
        f"HINT: one zone stands for {who} and nothing will tell whether it spreads more than those "
        "with several, whose spread is taken for it. Of 100 trials with these zones in which "
        f"nothing differs about {twice} then have a false “better” or “worse” where it spreads "
        f"twice as much, {thrice} where three times; with two zones in its place {of_two}. Two "
        "zones at least are wanted, better as many as the others have"
    ]


def _false(zones: tuple[int, ...], kinds: Iterable[tuple[int, ...]], spread: float) -> int:
    """False differences in 100 trials, the most over which treatments spread by so much more."""
    every = range(len(zones))
    cases = [Unlike(zones, tuple(spread if k in who else 1.0 for k in every)) for who in kinds]
    return round(100 * max(max(unlike_rates(case, _RUNS)) for case in cases))
