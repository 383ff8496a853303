"""Runs rules: patterns of points that chance rarely makes, each with the points that break it.

The eight of ISO 7870-2:2013 (there in annex form; the same as L. S. Nelson, J. Qual. Technol. 16
(1984) 237; both from memory), with their numbers as settings, because standards and editions
differ: Western Electric (1956) takes eight on one side, Nelson nine, others seven. A break is
counted at the point that completes the pattern. Beyond is strictly beyond, and a point on the
centre line is on no side. Windows never reach back into the baseline. Pure; any thread.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from operator import attrgetter
from typing import NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from acquire.history.series import Floats, Marks, stretches

# Figures of a display lie exactly on a limit now and then; the last bit must not decide.
_EDGE = 1e-9


class Rule(IntEnum):
    """Numbers as in ISO 7870-2."""

    BEYOND = 1
    ONE_SIDE = 2
    STEADY = 3
    ALTERNATING = 4
    FAR = 5
    OFF = 6
    HUGGING = 7
    AVOIDING = 8


@dataclass(frozen=True, slots=True)
class Numbers:
    """The counts of the rules: points in a row, or so many out of so many."""

    one_side: int = 9
    steady: int = 6
    alternating: int = 14
    far: tuple[int, int] = (2, 3)
    off: tuple[int, int] = (4, 5)
    hugging: int = 15
    avoiding: int = 8


class RuleSet(NamedTuple):
    """Rules used together, and how often they cry in vain.

    `checks_to_false_alarm` is the mean number of checks until a first break by chance, for known
    limits and normal, independent figures. Limits from 20 or 30 checks alarm more often.
    """

    name: str
    rules: tuple[Rule, ...]
    numbers: Numbers
    checks_to_false_alarm: float


# Mean run lengths by a Markov chain over the zones of the last points, which tests repeat; for
# ZONES it gives the 91.75 of C. W. Champ and W. H. Woodall, Technometrics 29 (1987) 393.
LIMITS_ONLY = RuleSet("limits only", (Rule.BEYOND,), Numbers(), 370.398)
ZONES = RuleSet(
    "zones", (Rule.BEYOND, Rule.ONE_SIDE, Rule.FAR, Rule.OFF), Numbers(one_side=8), 91.75
)
IN_USE = RuleSet("shifts", (Rule.BEYOND, Rule.ONE_SIDE, Rule.FAR), Numbers(), 158.74)
"""What `outlook` uses: limits, a run on one side, two of three far out. EWMA and CUSUM stand
beside them and see what rules 3 and 6 would, with fewer false alarms; 4, 7 and 8 tell of mixed or
rounded figures, which a display of few digits makes by itself."""


def said(rule: Rule, numbers: Numbers) -> str:
    """The pattern in words."""
    return {
        Rule.BEYOND: "a check lies more than 3 sigma from the centre",
        Rule.ONE_SIDE: f"{numbers.one_side} checks in a row lie on one side of the centre",
        Rule.STEADY: f"{numbers.steady} checks in a row go steadily up or down",
        Rule.ALTERNATING: f"{numbers.alternating} checks in a row go up and down in turn",
        Rule.FAR: f"{numbers.far[0]} of {numbers.far[1]} checks lie more than 2 sigma out on one "
        "side",
        Rule.OFF: f"{numbers.off[0]} of {numbers.off[1]} checks lie more than 1 sigma out on one "
        "side",
        Rule.HUGGING: f"{numbers.hugging} checks in a row lie within 1 sigma",
        Rule.AVOIDING: f"{numbers.avoiding} checks in a row lie more than 1 sigma out, on either "
        "side",
    }[rule]


class Breach(NamedTuple):
    """One stretch of points each of which completes the pattern of `rule`.

    `points` are the places of all that belong to the pattern, in order; `completed` is where it
    was complete first, `last` where it was so last.
    """

    rule: Rule
    completed: int
    last: int
    points: tuple[int, ...]


def breaches(z: Floats, used: RuleSet) -> tuple[Breach, ...]:
    """All breaches in standardised points `z`, in order of their completion.

    Places count from the first of `z`.
    """
    found = [b for rule in used.rules for b in _of_rule(rule, z, used.numbers)]
    return tuple(sorted(found, key=attrgetter("completed", "rule")))


def completing(rule: Rule, z: Floats, numbers: Numbers) -> Marks:
    """Which points complete the pattern of `rule`."""
    done = np.zeros(len(z), bool)
    for _, complete in _patterns(rule, z, numbers):
        done |= complete
    return done


def _of_rule(rule: Rule, z: Floats, numbers: Numbers) -> list[Breach]:
    found = []
    span = _span(rule, numbers)
    for members, complete in _patterns(rule, z, numbers):
        if not complete.any():
            continue
        firsts, lasts = stretches(complete)
        belonging = np.flatnonzero(members)
        begins = np.searchsorted(belonging, firsts - span + 1).tolist()
        ends = np.searchsorted(belonging, lasts, side="right").tolist()
        every = belonging.tolist()
        found += [
            Breach(rule, first, last, tuple(every[begin:end]))
            for first, last, begin, end in zip(
                firsts.tolist(), lasts.tolist(), begins, ends, strict=True
            )
        ]
    return found


def _span(rule: Rule, n: Numbers) -> int:
    return {
        Rule.BEYOND: 1,
        Rule.ONE_SIDE: n.one_side,
        Rule.STEADY: n.steady,
        Rule.ALTERNATING: n.alternating,
        Rule.FAR: n.far[1],
        Rule.OFF: n.off[1],
        Rule.HUGGING: n.hugging,
        Rule.AVOIDING: n.avoiding,
    }[rule]


def _patterns(rule: Rule, z: Floats, n: Numbers) -> list[tuple[Marks, Marks]]:
    """For each way to break the rule: which points belong to it, and which complete it."""
    everyone = np.ones(len(z), bool)
    match rule:
        case Rule.BEYOND:
            return [(side, side) for side in (z > 3 + _EDGE, z < -3 - _EDGE)]
        case Rule.ONE_SIDE:
            sides = (z > _EDGE, z < -_EDGE)
            return [(side, _in_a_row(side, n.one_side)) for side in sides]
        case Rule.STEADY:
            step = np.diff(z)
            ways = (step > _EDGE, step < -_EDGE)
            return [(everyone, _after_steps(way, n.steady, len(z))) for way in ways]
        case Rule.ALTERNATING:
            step = np.diff(z)
            way = np.where(np.abs(step) > _EDGE, np.sign(step), 0)
            turns = way[1:] * way[:-1] < 0
            done = np.zeros(len(z), bool)
            done[2:] = _in_a_row(turns, n.alternating - 2)[: max(0, len(z) - 2)]
            return [(everyone, done)]
        case Rule.FAR:
            return [(side, _out_of(side, *n.far)) for side in (z > 2 + _EDGE, z < -2 - _EDGE)]
        case Rule.OFF:
            return [(side, _out_of(side, *n.off)) for side in (z > 1 + _EDGE, z < -1 - _EDGE)]
        case Rule.HUGGING:
            return [(everyone, _in_a_row(np.abs(z) < 1 - _EDGE, n.hugging))]
        case Rule.AVOIDING:
            return [(everyone, _in_a_row(np.abs(z) > 1 + _EDGE, n.avoiding))]


def _in_a_row(marks: Marks, count: int) -> Marks:
    """Where `count` marks in a row end."""
    done = np.zeros(len(marks), bool)
    if len(marks) >= count:
        done[count - 1 :] = sliding_window_view(marks, count).all(axis=1)
    return done


def _after_steps(steps: Marks, points: int, count: int) -> Marks:
    """Where `points` points, thus one step fewer, go the same way."""
    done = np.zeros(count, bool)
    done[1:] = _in_a_row(steps, points - 1)
    return done


def _out_of(marks: Marks, wanted: int, span: int) -> Marks:
    """Where a marked point is at least the `wanted`-th of the last `span` points."""
    total = np.concatenate((np.zeros(span, int), np.cumsum(marks)))
    enough: Marks = total[span:] - total[: len(marks)] >= wanted
    return marks & enough
