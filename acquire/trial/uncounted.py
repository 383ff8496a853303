"""Strokes of a counter for which no wash was counted, so that a person says what they were. Pure.

Nobody had said for which zones they count. They count for nothing by themselves; whoever looks at
what is due is told of them until the next wash is counted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import tzinfo
from typing import NamedTuple

from acquire.model import STROKE, Plan
from acquire.store.work_rows import ApplicationRow, WashRow
from acquire.store.worked import ToldStroke
from acquire.trial.readiness import when
from acquire.trial.urgency import Due, Urgency
from acquire.trial.washes import counts_of, next_checkpoint, strokes_per_wash


class Uncounted(NamedTuple):
    """So many strokes of a counter, and when it told the first and the last of them."""

    counter: str
    strokes: int
    first_utc_ns: int
    last_utc_ns: int


Found = Callable[[int], Sequence[Uncounted]]
"""What the counters of the bench told after a moment, and after the last wash of any trial."""


def uncounted(counter: str, told: Iterable[ToldStroke], since_utc_ns: int) -> Uncounted | None:
    """The strokes told after a moment; those before it say where the counter stood then.

    Others than at counting, a leap is no trouble here: it is what a person is asked about.
    """
    strokes, moments = 0, [0, 0]
    before: dict[str, int] = {}
    for one in told:
        if one.flags:
            continue
        number = one.press if one.channel == STROKE else one.total
        last = before.get(one.channel)
        if number is not None:
            before[one.channel] = number
        if one.at_utc_ns <= since_utc_ns:
            continue
        by = 0 if number is None or last is None else max(0, number - last)
        by = max(1, by) if one.channel == STROKE else by
        if by:
            strokes += by
            moments = [moments[0] or one.at_utc_ns, one.at_utc_ns]
    return Uncounted(counter, strokes, *moments) if strokes else None


def uncounted_words(one: Uncounted, now_utc_ns: int, zone: tzinfo | None = None) -> str:
    """``hub was stroked 7 times from 14:02 to 14:10, and no wash was counted for it``."""
    first, last = (when(ns, now_utc_ns, zone) for ns in (one.first_utc_ns, one.last_utc_ns))
    many = "once" if one.strokes == 1 else f"{one.strokes} times"
    at = f"at {last}" if first == last else f"from {first} to {last}"
    return f"{one.counter} was stroked {many} {at}, and no wash was counted for it"


def strokes_due(
    plan: Plan,
    washes: Sequence[WashRow],
    applications: Sequence[ApplicationRow],
    found: Found,
    now_utc_ns: int,
    zone: tzinfo | None = None,
) -> Iterator[Due]:
    """Strokes that may have been washes of a trial that has washes to go, a line a counter.

    Of a trial on which no product is and that was never washed none are told.
    """
    counts = counts_of(plan, washes)
    if not (washes or applications) or not any(
        next_checkpoint(plan, count) for count in counts.values()
    ):
        return
    each = strokes_per_wash(plan)
    for one in found(min((row.applied_utc_ns for row in applications), default=0)):
        if one.strokes >= each:
            yield Due(
                Urgency.WASH, plan.id,
                f"{uncounted_words(one, now_utc_ns, zone)} (if it was none, it is not asked about "
                "again after the next wash)",
                f"coatbench wash {plan.id} --count {one.strokes // each}",
            )  # fmt: skip
