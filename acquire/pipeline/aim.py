"""Where a press belongs is settled when it is made, also where its reading comes later.

A reading may come some time after its press: its meter is asked who it is first, or the line rests
before a press is known to be whole. What a person does meanwhile (go on to another zone, begin or
break off a check) is meant for the next press. So a reading of before goes nowhere and is said to.
An entry that is typed twice was meant for where it was typed first.

Runs on the desk's thread.
"""

from __future__ import annotations

from collections.abc import Mapping

from acquire.model import Instant
from acquire.pipeline.standing import Standing
from acquire.pipeline.under_way import RunUnderWay

Aim = tuple[object, ...]

PRESSED_BEFORE = (
    "it was pressed before a check or a run was begun, ended or moved on by hand; press again"
)

TYPED_BEFORE = (
    "it was typed for the first time before a check or a run was begun, ended or moved on by hand; "
    "look at the display and type it twice"
)


def aims(standings: Mapping[str, Standing], run: RunUnderWay | None) -> dict[str, Aim]:
    """Where the next reading of each instrument belongs, to be compared."""
    return {name: _aim(standing, run) for name, standing in standings.items()}


def aimed_anew(
    before: Mapping[str, Aim],
    standings: Mapping[str, Standing],
    run: RunUnderWay | None,
    at: Instant,
) -> None:
    """Note the moment at which a person's act made it another place."""
    for name, aim in aims(standings, run).items():
        if aim != before.get(name):
            standings[name].aimed_ns = at.mono_ns


def _aim(standing: Standing, run: RunUnderWay | None) -> Aim:
    checking = standing.checking
    if checking is not None:
        return checking.check_id, checking.rule and checking.rule.piece
    if run is not None and run.instrument == standing.spec.id:
        return run.id, run.course.next
    return ()
