"""What the shelf finds in the store, as facts. Pure."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from acquire.model import Target


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
    """Where the open run stood when the daemon ended.

    `at` is the target that a hand went to or a reading went into last; None before the first.
    `skipped` was left for later by hand, `touched` has had a reading.
    """

    at: Target | None
    moved_last: bool
    skipped: frozenset[Target]
    touched: frozenset[Target]


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


class SuspectRun(NamedTuple):
    """How many readings of a run a check made suspect."""

    check_id: int
    instrument: str
    run_id: int
    trial: str
    stage: str
    readings: int
