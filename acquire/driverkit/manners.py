"""How a device behaves besides its wire: what it is asked, and how its presses are told apart.

Pure data; made of the tables of a profile by `acquire.driverkit.tables`.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from acquire.model import Quantity


@dataclass(frozen=True, slots=True)
class PressRules:
    """How a fresh press is known. `has_count`: its results bear a count of presses.

    A result within `echo_window_s` of power-up or connecting is an echo of an old one, and so is
    the first one where `first_is_echo`. Without a count the same frame within `repeat_window_s`
    is the same press. `highest_count` is the count after which it starts again at `lowest_count`.
    A count that leaps over more than `may_miss` presses is taken for that of another device; None
    where no other can be put in its place unseen. So is one in which a bit above those of
    `proven_count` is set for the first time: that may be a flag. None where all are a count's.
    A count above `carried_above` is read only where it came there by counting: what stands there
    may be no part of it. None where any may be read.
    `may_be_packed`: the count may have a decimal digit in every four bits, or be binary; nobody has
    seen which, so that 0x10 may follow on 9 as well as 0x0A.
    `drops_same`: without a count, the same frame again is no news however late it comes.
    """

    has_count: bool
    echo_window_s: float = 0.0
    repeat_window_s: float = 0.0
    highest_count: int | None = None
    lowest_count: int = 1
    first_is_echo: bool = False
    may_miss: int | None = None
    proven_count: int | None = None
    carried_above: int | None = None
    may_be_packed: bool = False
    drops_same: bool = False


@dataclass(frozen=True, slots=True)
class Ask:
    """What is sent on its own, and how often."""

    command: bytes
    every_s: float


@dataclass(frozen=True, slots=True)
class PullRules:
    """When a pull begins and ends, in the unit of the samples."""

    begins_at: Decimal
    ends_below: Decimal
    ends_after_s: Decimal


@dataclass(frozen=True, slots=True)
class StreamRules:
    """Values at a steady rate: `step` is the smallest difference that the device sends.

    `takes_nearest`: some values are finer, and are taken as the nearest whole number of steps.
    """

    rate_hz: Decimal
    step: Decimal
    pull: PullRules | None = None
    takes_nearest: bool = False


@dataclass(frozen=True, slots=True)
class Manners:
    """What is sent to a device and when. Commands that it does not know are empty.

    `take` makes it take a reading, `identify` asks for its serial number, `start` is sent once
    when it has been connected. An answer is awaited for `answer_within_s`; a device that is asked
    and leaves `silent_after` commands in a row unanswered is told of as silent.
    """

    quantity: Quantity
    presses: PressRules
    ask: Ask | None = None
    take: bytes = b""
    identify: bytes = b""
    start: bytes = b""
    answer_within_s: float = 1.0
    silent_after: int = 3
    stream: StreamRules | None = None
