"""What the shelf finds in the store, as facts. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from acquire.model import Slot, Target


class StoredTrial(NamedTuple):
    """A version of a trial's plan."""

    id: int
    trial: str
    unchecked: bool
    text: str
    digest: str


class CheckReading(NamedTuple):
    """A reading of a check."""

    id: int
    piece: str
    channel: str
    value: Decimal
    is_void: bool


class UnjudgedCheck(NamedTuple):
    """A check that was begun and never judged. `policy_json` is the policy it followed."""

    id: int
    instrument: str
    serial: str
    begun_utc_ns: int
    policy_json: str
    readings: tuple[CheckReading, ...]


class OpenRun(NamedTuple):
    """A run that was begun and not finished."""

    id: int
    at_utc_ns: int
    trial: StoredTrial
    measure: str
    stage: str
    instrument: str


class Stand(NamedTuple):
    """Where the cursor of a run stands: at a target, or nowhere when all are filled.

    Places of readings that were lost are `reopened` and come first; then the run goes on at
    `resume`. `skipped` was left for later by hand.
    """

    at: Target | None
    resume: Target | None
    reopened: frozenset[Target]
    skipped: frozenset[Target]


class Filled(NamedTuple):
    """A slot and the reading that holds or held it."""

    slot: Slot
    reading_id: int
    value: float


class Past(NamedTuple):
    """How an open run came to stand where it stands.

    `before` was filled when it stood at `stand` (None: at its beginning), `since` was filled after
    that, and what is `lost` was void or suspect later still, when the run was under way no more;
    in the order in which it was lost. `first` is the one of these that was taken last, if a void
    is what it was lost by. `last_filled` is the reading that was taken last, if it is not void.
    """

    stand: Stand | None
    before: list[Filled]
    since: list[Filled]
    lost: list[Filled]
    first: int | None
    last_filled: int | None


class StoredReading(NamedTuple):
    """A reading as the ``readings`` view shows it."""

    id: int
    instrument: str
    serial: str
    at_utc_ns: int
    quantity: str
    channel: str
    value: str | None
    flags: str
    role: str
    trial: str | None
    measure: str | None
    zone: str | None
    stage: str | None
    replicate: int | None
    run_id: int | None
    void_reason: str | None


class Tags(NamedTuple):
    """Value and place of a reading, as its row has them."""

    value: str | None
    unit: str
    channel: str
    zone: str | None
    replicate: int | None
    piece: str | None


class Taken(NamedTuple):
    """A reading that went into a run, with what tells which press it was of."""

    id: int
    connection_id: int
    press: int | None
    at_utc_ns: int
    at_mono_ns: int
    channel: str


class MadeSuspect(NamedTuple):
    """By what readings became suspect: numbers of checks, and of notices of re-adjustments.

    `anew` are checks that do not pass without a certificate that was withdrawn.
    """

    checks: Sequence[int] = ()
    notices: Sequence[int] = ()
    anew: Sequence[int] = ()


class SuspectRun(NamedTuple):
    """How many readings of a run a check made suspect; a re-adjustment where there is no check."""

    check_id: int | None
    instrument: str
    run_id: int
    trial: str
    stage: str
    readings: int
    limits_of: int | None = None
    """The check whose limits it was found outside of, where by its own it did not fail."""
