"""What a check found, what a pass covers, what ends it, and what the gate says of a reading."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from acquire.model.instant import Instant


class Outcome(StrEnum):
    """The result of a check under a guard band (JCGM 106:2012, 8.3)."""

    PASS = "pass"  # noqa: S105 - no password
    FAIL = "fail"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class PieceJudgement:
    """One piece at one channel: what was read against what is certified.

    `deviation` = mean - certified; `expanded_uncertainty` is that of the deviation at 95 %, and 0
    where there is none: without a certificate, or read too few times.
    `message` says the outcome in one sentence with figure and limit.
    """

    piece: str
    channel: str
    outcome: Outcome
    count: int
    mean: Decimal
    spread: Decimal
    certified: Decimal
    deviation: Decimal
    expanded_uncertainty: Decimal
    limit: Decimal
    spread_limit: Decimal
    unit: str
    message: str


@dataclass(frozen=True, slots=True)
class Judgement:
    """A whole check: the worst of its pieces, the reason, and what to do next."""

    outcome: Outcome
    pieces: tuple[PieceJudgement, ...]
    message: str
    next_step: str


ABANDONED = "the check was abandoned: "
"""How the message of a check begins that did not come to its end; the reason follows."""


class EndReason(StrEnum):
    """What can end a pass."""

    EXPIRED = "expired"
    UNPLUGGED = "unplugged"
    SWITCHED_OFF = "switched off"
    OTHER_SERIAL = "other serial number"
    CLOCK_JUMPED = "clock jumped"
    ADJUSTED = "re-adjusted"
    CERTIFICATE_DUE = "certificate ran out"
    NOT_WATCHED = "not watched"
    """The daemon was not running: what happened to the instrument meanwhile nobody knows."""
    SUPERSEDED = "superseded"
    """A later check of the same instrument has begun."""
    FAILED_CHECK = "failed check"
    GAP = "bytes went unrecorded"


@dataclass(frozen=True, slots=True)
class Pass:
    """An instrument's valid check: what it covers and until when."""

    check_id: int
    instrument: str
    serial: str
    channels: frozenset[str]
    opened: Instant
    expires: Instant


@dataclass(frozen=True, slots=True)
class Ending:
    """The moment and the reason a pass ended, in words a person can act on."""

    check_id: int
    reason: EndReason
    at: Instant
    message: str


@dataclass(frozen=True, slots=True)
class GateVerdict:
    """What the gate says: `check_id` is the pass that covers, or None with reason and next step."""

    check_id: int | None
    reason: str = ""
    message: str = ""
    next_step: str = ""

    @property
    def is_open(self) -> bool:
        return self.check_id is not None
