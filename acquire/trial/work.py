"""What is known of one trial, by which it is told what is due and what comes out of order. Pure."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field

from acquire.model import Plan
from acquire.store.progress import LeftOpen, Taken
from acquire.store.work_rows import ApplicationRow, GivingUpRow, RatingRow, WashRow
from acquire.trial.gone import Place
from acquire.trial.uncounted import Found


@dataclass(frozen=True, slots=True)
class Work:
    """What is known of one trial. `meters` are the instruments by measure, METER where open.

    `looked_at` gives the places with a reading or rating, and `filled` how many places of a measure
    at a stage each zone has filled: both are asked for only where a stage has open places that may
    be gone. `failed` gives the instruments whose last check failed, asked where one is to measure.
    `last_read` gives by zone when a stage was read last, asked before a product is put on.
    `strokes` gives those that no wash was counted for, asked where there are washes to go.
    """

    plan: Plan
    taken: Sequence[Taken] = ()
    washes: Sequence[WashRow] = ()
    applications: Sequence[ApplicationRow] = ()
    ratings: Sequence[RatingRow] = ()
    left_open: Sequence[LeftOpen] = ()
    meters: Mapping[str, str] = field(default_factory=dict)
    is_unsealed: bool = True
    given_up: Sequence[GivingUpRow] = ()
    looked_at: Callable[[], Sequence[Place]] = tuple
    filled: Callable[[str, str], Mapping[str, int]] = lambda *_: {}
    failed: Callable[[], Collection[str]] = tuple
    last_read: Callable[[str], Mapping[str, int]] = lambda _: {}
    strokes: Found = lambda _: ()
