"""Values at a steady rate put together to stretches, and the pulls found in them.

A pull is what a gauge with a peak memory holds: it begins when the value reaches one level, it ends
when the value has stayed below another one for a while, and its reading is the largest value in
between. Where a trial asks more of a pull than its peak, the whole trace is in the store.

The facts follow from the samples alone: wherever the chunks are cut, the same pulls are found, and
the stretches put together are the same. When the samples came says only whether they have the rate
that is declared (`acquire.driverkit.arrivals`): while they have another one, that is told and the
pulls are flagged. Pure; one thread.
"""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from decimal import ROUND_HALF_EVEN, Decimal
from sys import byteorder

from acquire.driverkit.arrivals import Arrivals
from acquire.driverkit.heard import NO_FLAGS, Heard
from acquire.driverkit.manners import StreamRules
from acquire.model import Fact, Flag, Instant, Notice, NoticeKind, Quantity, Reading, Samples

LONGEST_STRETCH = 32_768
_HIGHEST_COUNT = 2**31 - 1
_OTHER_RATE = frozenset((Flag.OTHER_RATE,))


class Streaming:
    """The samples of one connection: `take` each frame in order, `flush` at the end of a chunk."""

    def __init__(self, rules: StreamRules, quantity: Quantity) -> None:
        self._rules = rules
        self._quantity = quantity
        self._unit = ""
        self._channel = ""
        self._counts = array("i")
        self._place = 0
        self._start = self._end = 0
        self._pull = _Pull(rules)
        self._begun = self._begun_at = 0
        self._arrivals = Arrivals(rules.rate_hz)

    def take(self, heard: Sequence[Heard], start: int, end: int, at: Instant) -> list[Fact] | str:
        """The facts that the samples of one frame complete; why not, where one of them is none."""
        counts: list[int] = []
        for said in heard:
            count = "no value" if said.value is None else self.count_of(said.value)
            if isinstance(count, str):
                return count
            counts.append(count)
        facts: list[Fact] = []
        for count, said in zip(counts, heard, strict=True):
            facts += self.add(count, said.unit, said.channel, start, end, at)
        return facts

    def count_of(self, value: Decimal) -> int | str:
        """How many steps a value is, or why it is no whole number of them."""
        if abs(value) > _HIGHEST_COUNT * self._rules.step:
            return f"{value} is beyond all measure"
        if self._rules.takes_nearest:
            return int((value / self._rules.step).to_integral_value(ROUND_HALF_EVEN))
        count, rest = divmod(value, self._rules.step)
        if rest:
            return f"{value} is no whole number of steps of {self._rules.step}"
        return int(count)

    def add(
        self, count: int, unit: str, channel: str, start: int, end: int, at: Instant
    ) -> list[Fact]:
        """Take the sample of the bytes from `start` to `end`; gives the facts it completes."""
        facts: list[Fact] = []
        if (unit, channel) != (self._unit, self._channel) or len(self._counts) == LONGEST_STRETCH:
            facts += self.flush(at)
            if (unit, channel) != (self._unit, self._channel):
                self._pull = _Pull(self._rules)
            self._unit, self._channel = unit, channel
        if not self._counts:
            self._start = start
        self._counts.append(count)
        self._end = end
        pull = self._pull
        peak = pull.goes_on(count)
        if pull.has_begun:
            pull.has_begun = False
            self._begun += 1
            self._begun_at = self._place + len(self._counts)
        if peak is not None:
            facts += self.flush(at)
            facts.append(self._reading(peak, at))
        return facts

    def flush(self, at: Instant) -> list[Fact]:
        """The samples since the last flush as one fact, if there are any.

        A notice stands before them where they show that the rate is another one, or no more.
        """
        counts = self._counts
        if not counts:
            return []
        first = self._place
        self._place += len(counts)
        facts: list[Fact] = []
        if (said := self._arrivals.came(self._place, at)) is not None:
            start = self._start
            facts.append(Notice(NoticeKind.OTHER_RATE, at, b"", start, start, said))
        self._counts = array("i")
        if byteorder == "big":
            counts.byteswap()
        facts.append(
            Samples(
                self._quantity,
                self._channel,
                self._unit,
                self._rules.step,
                self._rules.rate_hz,
                first,
                counts.tobytes(),
                at,
                self._start,
                self._end,
            )
        )
        return facts

    @property
    def is_pulling(self) -> bool:
        """Whether a pull is under way."""
        return self._pull.is_under_way

    @property
    def pulls_begun(self) -> int:
        """How many pulls have begun since the connection was opened."""
        return self._begun

    def share_of(self, ns: int) -> float:
        """How many samples are due in so long a time, of those that came so far."""
        return ns / 1e9 * float(self._rules.rate_hz) / max(1, self._place + len(self._counts))

    def interrupted(self) -> None:
        """Samples were lost: a pull that was under way is none."""
        self._pull = _Pull(self._rules)

    def _reading(self, peak: int, at: Instant) -> Reading:
        """The peak of a pull. It has a place in the stream; its bytes are those of the trace."""
        value = peak * self._rules.step
        flags = _OTHER_RATE if self._arrivals.is_off_since(self._begun_at) else NO_FLAGS
        return Reading(
            self._quantity, self._channel, value, self._unit, str(value), at, b"", self._end,
            self._end, None, flags,
        )  # fmt: skip


class _Pull:
    """Whether a pull is under way, sample by sample."""

    def __init__(self, rules: StreamRules) -> None:
        pull = rules.pull
        self._looks = pull is not None
        self.has_begun = False
        """That it did, until somebody has seen it."""
        self._peak: int | None = None
        # What goes on when it is first heard, or behind a gap, is the rest of a pull and none.
        self._is_rested = False
        if pull is None:
            return
        self._begins_at = pull.begins_at / rules.step
        self._ends_below = pull.ends_below / rules.step
        self._quiet_samples = max(1, int(pull.ends_after_s * rules.rate_hz))
        self._quiet = 0

    @property
    def is_under_way(self) -> bool:
        return self._peak is not None

    def goes_on(self, count: int) -> int | None:
        """The peak of the pull that this sample ends; None if it ends none."""
        if not self._looks:
            return None
        if self._peak is None:
            if count < self._ends_below:
                self._is_rested = True
            elif count >= self._begins_at and self._is_rested:
                self._peak, self._quiet = count, 0
                self.has_begun = True
            return None
        self._peak = max(self._peak, count)
        self._quiet = self._quiet + 1 if count < self._ends_below else 0
        if self._quiet < self._quiet_samples:
            return None
        peak, self._peak = self._peak, None
        return peak
