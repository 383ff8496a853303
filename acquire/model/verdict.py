"""What a check found, what a pass covers, what ends it, and what the gate says of a reading."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from acquire.model.instant import Instant
from acquire.model.policy import Span


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
class LinearityJudgement:
    """How far a piece lies off the straight line through two others at one channel.

    The line goes through `zero` (the piece that is certified nearest to 0; empty for the origin
    itself) and `high`, the piece with the highest certified value. `departure` is the mean read on
    `piece` less what the line gives for its certified value; the rest as in `PieceJudgement`.
    """

    piece: str
    channel: str
    zero: str
    high: str
    outcome: Outcome
    departure: Decimal
    expanded_uncertainty: Decimal
    limit: Decimal
    unit: str
    message: str


@dataclass(frozen=True, slots=True)
class Judgement:
    """A whole check: the worst of its pieces, the reason, and what to do next."""

    outcome: Outcome
    pieces: tuple[PieceJudgement, ...]
    message: str
    next_step: str
    linearity: tuple[LinearityJudgement, ...] = ()


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
    USED_UP = "used up"
    """As many presses were taken under it as its policy allows."""
    IDLE = "idle"
    """No press came for as long as its policy allows."""
    SITTING_CLOSED = "sitting closed"
    TEMPERATURE = "temperature"
    HUMIDITY = "humidity"
    CLIMATE_UNKNOWN = "climate not known"
    """Nobody has entered the room's climate for as long as its policy allows."""
    CERTIFICATE_DUE = "certificate ran out"
    NOT_WATCHED = "not watched"
    """The daemon was not running: what happened to the instrument meanwhile nobody knows."""
    SUPERSEDED = "superseded"
    """A later check of the same instrument has passed."""
    FAILED_CHECK = "failed check"
    GAP = "bytes went unrecorded"


@dataclass(frozen=True, slots=True)
class Pass:
    """An instrument's valid check: what it covers and until when.

    `span` are the values it covers (all where None), `presses` how many presses it lasts.
    """

    check_id: int
    instrument: str
    serial: str
    channels: frozenset[str]
    opened: Instant
    expires: Instant
    span: Span | None = None
    presses: int | None = None


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
