"""Which readings are fresh presses: echoes, repeats, old results and counters that start again.

What is known of a result is its frame, its count where the device counts, and when it came; facts
follow from these alone, never from what was asked or when somebody looked, so that a replayed
tape gives the same readings.

- A *press* may be several frames, one a channel, all of one count, or one frame with all of them.
- The same frame again: a repeat; from a meter that is asked it is no news at all.
- The same count and channel with another frame, or a count that goes back: the counter started
  again, so the device was switched off and on, whether or not it said so.
- A count that leaps: presses in between never came, which is told and not passed over. One that
  leaps over more than a few is that of a device which was used out of reach, or of another one that
  was put in its place: as after a restart nobody knows any more who is there. So it is where a bit
  of the count is set for the first time that is not proven to be one of a count.
- Within the echo window after connecting or after power-up a meter that sends on its own may send
  its last result again; a meter that is asked may give an old result as its first.

One thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from acquire.driverkit.heard import NO_FLAGS, Heard, Means
from acquire.driverkit.manners import PressRules
from acquire.model import Flag, Instant

_FRESH = NO_FLAGS
_ECHO = frozenset((Flag.ECHO,))
_REPEAT = frozenset((Flag.REPEAT,))
_BOTH = _ECHO | _REPEAT


FEW_PRESSES = 3
"""So many in a row may get lost on a line that holds: one that came as noise, and its neighbours
(common practice, no source). More are not lost but made elsewhere."""

_MOST_BITS = 64
"""No count that a frame bears is wider."""

PRESSES_A_SECOND = 1
"""As fast as anybody presses (common practice, no source): those between two asks are no leap."""


def may_miss(asked_every_s: float = 0.0) -> int:
    """How many presses a device on an adapter or gateway may be ahead and still be the same."""
    return FEW_PRESSES + math.ceil(asked_every_s * PRESSES_A_SECOND)


def _bits_above(count: int) -> tuple[int, ...]:
    """The counts with which a further bit is set for the first time."""
    return tuple(1 << bit for bit in range(count.bit_length(), _MOST_BITS))


NEW_BIT = (
    "its count set a bit that no press had when its profile was made, which may be a flag: it is "
    "taken as switched on anew. proven_count of the profile says up to where it is a count: raise "
    "it once the meter's display or manual shows that it counts on, or learn from a press with a "
    "higher count"
)


NOT_CARRIED = (
    "the count {0} is above {1}, and it did not come there by counting: what stands there may be "
    "no part of it. Learn from such a press, too; or leave carried_above out of the profile once "
    "the meter's display or manual shows that it counts so far"
)


def _packed(count: int) -> int | None:
    """What a count is where every four bits of it are a decimal digit; None where they are none."""
    digits = f"{count:x}"
    return int(digits) if digits.isdecimal() else None


def missed_words(missed: int) -> str:
    """That presses never came; why, the count does not say: they may have come as noise."""
    by = "one" if missed == 1 else f"{missed}"
    return f"the meter's count went on by {by} without a reading here"


class Press(NamedTuple):
    """What a result is. `flags` is None when it is the old result of a meter that was asked.

    `restarted`: the device was switched on again since the last result, or was out of reach, or is
    another one. `missed`: how many presses in between were never received. `is_unproven`: it counts
    as restarted for a bit of its count alone that was not set before, and may be a flag.
    """

    flags: frozenset[Flag] | None
    restarted: bool
    missed: int
    is_unproven: bool = False


_PLAIN = Press(_FRESH, False, 0)


class PressLog:
    """The presses of one connection. `is_asked`: results come only as answers."""

    def __init__(self, rules: PressRules, *, is_asked: bool) -> None:
        self._is_asked = is_asked
        self._highest = rules.highest_count
        self._lowest = rules.lowest_count
        self._may_miss = rules.may_miss
        self._may_be_packed = rules.may_be_packed
        self._carried_above = rules.carried_above
        self._has_carried = False
        proven = rules.proven_count
        self._unproven = () if proven is None else _bits_above(proven)
        self._echo_ns = round(rules.echo_window_s * 1e9)
        self._repeat_ns = round(rules.repeat_window_s * 1e9)
        self._first_is_echo = rules.first_is_echo
        self._drops_same = rules.drops_same
        self._waits_for_first = False
        self._echo_until_ns = 0
        self._count: int | None = None
        self._frames: dict[str, bytes] = {}
        self._times_ns: dict[str, int] = {}
        self._is_echo = False
        self._is_from_before = False

    def connected(self, at: Instant) -> None:
        """The link was opened."""
        self._has_carried = False
        self._waits_for_first = self._first_is_echo
        self._echo_until_ns = at.mono_ns + self._echo_ns

    def powered_up(self, at: Instant) -> None:
        """The device said that it was switched on."""
        self._forget()
        self._waits_for_first = False
        self._echo_until_ns = at.mono_ns + self._echo_ns
        self._is_from_before = True

    def nothing(self) -> bool:
        """The device has no result; True if that means it was switched on again."""
        # Whatever comes next was not there before.
        self._waits_for_first = False
        restarted = self._count is not None and not self._is_from_before
        self._forget()
        return restarted

    def woke(self) -> None:
        """The device answers again after a silence, as after connecting."""
        self._forget()
        self._waits_for_first = self._first_is_echo

    def counted(self, count: int, *, is_new: bool) -> Press:
        """A frame that bears the count without a result: a failed press, a re-adjustment.

        `is_new`: the frame itself took up the count, as a failed press does.
        """
        before = self._count
        if before is None or self._is_from_before:
            missed, restarted = 0, False
        elif count == before:
            return _PLAIN
        else:
            missed, restarted = self._step(before, count)
            if not is_new and not restarted:
                missed += 1
        self._forget()
        self._count = count
        return Press(_FRESH, restarted, missed, restarted and self._is_new_bit(before, count))

    def result(self, frame: bytes, heard: Heard, at: Instant, *, goes_on: bool = False) -> Press:
        """What a result is, by its frame and the moment it came.

        `goes_on`: it is not the first result of its frame.
        """
        in_echo_window = at.mono_ns < self._echo_until_ns
        count, before = heard.press, self._count
        if count is None:
            if goes_on:
                in_echo_window = self._is_echo
            return self._uncounted(frame, heard.channel, at, in_echo_window)
        in_doubt = in_echo_window or self._waits_for_first or self._is_from_before
        if (
            before is not None
            and count == before + 1
            and not in_doubt
            and count not in self._unproven
        ):
            # The next press, as nearly all are: the same as below, in fewer steps.
            self._count = count
            self._frames = {heard.channel: frame}
            self._is_echo = False
            return _PLAIN
        missed, restarted = 0, False
        if count == before:
            seen = self._frames.get(heard.channel)
            if seen is None:
                self._frames[heard.channel] = frame
                return Press(_ECHO, False, 0) if self._is_echo else _PLAIN
            if seen == frame:
                if self._is_asked:
                    return Press(None, False, 0)
                return Press(_BOTH if self._is_echo else _REPEAT, False, 0)
            restarted = True
        elif before is not None and not self._is_from_before:
            missed, restarted = self._step(before, count)
        is_echo = in_echo_window or self._waits_for_first
        self._waits_for_first = False
        self._count = count
        self._frames = {heard.channel: frame}
        self._is_echo = is_echo
        # An echo after power-up bears the count of before; the next press may bear a lower one.
        self._is_from_before = self._is_from_before and is_echo
        if not (is_echo or restarted or missed):
            return _PLAIN
        is_unproven = restarted and self._is_new_bit(before, count)
        return Press(_ECHO if is_echo else _FRESH, restarted, missed, is_unproven)

    def refused(self, heard: Sequence[Heard]) -> str:
        """Why a frame is none for its count alone; empty where it may be one."""
        above = self._carried_above
        counts = (one.press for one in heard if one.means is Means.READING)
        count = next((count for count in counts if count is not None), None)
        if above is None or count is None or count <= above or self._has_carried:
            return ""
        before = None if self._is_from_before else self._count
        # Where it has come by counting once, all of it is the count.
        self._has_carried = (
            before is not None
            and before < count
            and self._missed(before, count) <= (self._may_miss or 0)
        )
        return "" if self._has_carried else NOT_CARRIED.format(count, above)

    def _uncounted(self, frame: bytes, channel: str, at: Instant, in_echo_window: bool) -> Press:
        if self._drops_same and self._frames.get(channel) == frame:
            return Press(None, False, 0)
        is_repeat = (
            self._frames.get(channel) == frame
            and at.mono_ns - self._times_ns[channel] < self._repeat_ns
        )
        # From the last time and not the first: a meter that will not stop is one press.
        self._frames[channel] = frame
        self._times_ns[channel] = at.mono_ns
        is_echo = self._is_echo = in_echo_window or self._waits_for_first
        self._waits_for_first = False
        if is_echo:
            return Press(_BOTH if is_repeat else _ECHO, False, 0)
        return Press(_REPEAT, False, 0) if is_repeat else _PLAIN

    def _step(self, before: int, count: int) -> tuple[int, bool]:
        """(presses missed, whether the counter started again) from one count to another one."""
        if count > before:
            missed = self._missed(before, count)
            leaps = self._may_miss is not None and missed > self._may_miss
            return missed, leaps or self._is_new_bit(before, count)
        if before == self._highest and count == self._lowest:
            return 0, False
        return 0, True

    def _missed(self, before: int, count: int) -> int:
        """The presses between two counts, of which the second is higher."""
        if self._may_be_packed:
            digits, then = _packed(before), _packed(count)
            # Only the very next one: a binary count leaps so by seven presses.
            if digits is not None and then == digits + 1:
                return 0
        return count - before - 1

    def _is_new_bit(self, before: int | None, count: int) -> bool:
        """Whether the next press, or one soon after it, sets a bit that nobody has seen set."""
        if before is None or not before < count:
            return False
        leaps = self._may_miss is not None and self._missed(before, count) > self._may_miss
        return not leaps and any(before < bit <= count for bit in self._unproven)

    def _forget(self) -> None:
        self._count = None
        self._frames = {}
        self._times_ns = {}
        self._is_echo = False
        self._is_from_before = False
