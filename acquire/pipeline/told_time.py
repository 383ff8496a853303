"""The latest time that a clock told, and what a person says of one that ran ahead. Pure state.

Certificates go by the latest time that was ever told, whatever anybody says: so no clock that is
set back, and no word, makes an overdue one valid again. That no check begins before that time has
another reason, for its dates would be wrong. Where the clock is right and an earlier one ran ahead,
a person can say so, with a reason; it is kept, and checks begin again.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from acquire.model import Instant, iso_utc
from acquire.store.told import ToldIncident

_STEP_BACK = re.compile(r"the computer's clock jumped by -([0-9]+\.[0-9]) s")
"""As the incident says it (`Gatekeeper.watch_clock`)."""

_WORD = re.compile(r"what the store has up to (\S+) was recorded by a clock that ran ahead")
_A_MILLISECOND_NS = 1_000_000
"""A word names the time to a millisecond."""


@dataclass(slots=True)
class ToldTime:
    """`latest_ns` is the latest time that was told (UTC).

    What lies up to `ahead_ns` was told by a clock that ran ahead, as a person said; `since_ns` is
    the latest time that was told since.
    """

    latest_ns: int = 0
    ahead_ns: int = 0
    since_ns: int = 0

    @property
    def floor_ns(self) -> int:
        """The time before which no check begins."""
        return self.since_ns if self.latest_ns <= self.ahead_ns else self.latest_ns

    def tell(self, utc_ns: int) -> None:
        """A clock tells a time."""
        self.latest_ns = max(self.latest_ns, utc_ns)
        self.since_ns = max(self.since_ns, utc_ns)

    def trust(self, at: Instant) -> None:
        """The clock is right at this moment, and what was told later than that was ahead."""
        self.ahead_ns, self.since_ns = self.latest_ns, at.utc_ns

    def recall(self, latest_ns: int, told: Iterable[ToldIncident]) -> None:
        """As the store has it: the latest entry, and what was told of the clock, in order."""
        self.latest_ns = latest_ns
        for one in told:
            if (word := _WORD.match(one.message)) is not None:
                until = datetime.fromisoformat(word[1])
                self.ahead_ns = round(until.timestamp() * 1000 + 1) * _A_MILLISECOND_NS
                self.since_ns = one.at_utc_ns
            elif (step := _STEP_BACK.match(one.message)) is not None:
                self.tell(one.at_utc_ns + round(float(step[1]) * 1e9))


def trusted_words(told: ToldTime, at: Instant, reason: str) -> str:
    """A person's word as it is kept."""
    return (
        f"what the store has up to {iso_utc(told.latest_ns)} was recorded by a clock that ran "
        f"ahead, and the computer's clock is right at {iso_utc(at.utc_ns)}, as a person says "
        f"({reason}): checks begin again, and certificates go by the later time until it is over"
    )
