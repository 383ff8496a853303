"""What stands against a meter now: which chart says so, since which check.

A moving range above its limit is drawn and raises no signal: what moves one range moves a point
beyond its limit too, and ranges alone alarm in vain about every 100 checks. Pure; any thread.
"""

from __future__ import annotations

from typing import NamedTuple

from acquire.history.charting import Charting
from acquire.history.cusum import Cusum
from acquire.history.ewma import Ewma
from acquire.history.runs import Breach, said

CHECKS_TO_FALSE_ALARM = 130.0
"""Mean number of checks until any of these charts alarms in vain, with the settings to begin with
and limits known exactly: rules alone 159, CUSUM alone 471, EWMA alone 556 (simulated, repeated by
the tests). By limits set from 20 checks half of steady meters have alarmed after 44."""


class Signal(NamedTuple):
    """`by` names the chart and rule, `what` the pattern in words.

    `since` and `points` are places after the baseline; `since` is the first point of the pattern.
    """

    by: str
    what: str
    since: int
    points: tuple[int, ...]


def standing(
    count: int, found: tuple[Breach, ...], average: Ewma, sums: Cusum, charting: Charting
) -> tuple[Signal, ...]:
    """The signals that stand at the last of `count` points, in order of their beginning.

    A breach stands while its pattern was complete within the last `Charting.recent` points; EWMA
    and CUSUM stand while they are beyond their limits.
    """
    signals = [
        Signal(f"rule {b.rule.value}", said(b.rule, charting.rules.numbers), b.points[0], b.points)
        for b in found
        if b.last >= count - charting.recent
    ]
    since = average.since()
    if since is not None:
        signals.append(
            Signal(
                "EWMA",
                "the weighted average of the checks lies outside its limits",
                since,
                tuple(range(since, count)),
            )
        )
    alarm = sums.open_alarm
    if alarm is not None:
        way = "above" if alarm.upward else "below"
        signals.append(
            Signal(
                "CUSUM",
                f"the checks together lie {way} the centre by more than chance explains",
                alarm.began,
                tuple(range(alarm.began, count)),
            )
        )
    return tuple(sorted(signals, key=lambda s: (s.since, s.by)))
