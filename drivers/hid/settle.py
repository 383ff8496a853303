"""What a press is with a device that reports all the time: the first stable value after motion.

The load is put on, the device says that it is in motion, then that it is stable: that value is the
press, and all that follow it are none until there was motion again (or, by the profile, nothing on
it). So a value that creeps while the load rests is one press, and what lies there when the cable
is plugged in is none. Follows from reports alone. Pure; one thread.
"""

from __future__ import annotations

from collections.abc import Sequence

from drivers.hid.profile import Settling
from drivers.hid.sight import Shown, State


class Settle:
    """The loads of one connection."""

    def __init__(self, rules: Settling) -> None:
        self._rules = rules
        self._is_awaited = False
        self._steady = 0

    def is_press(self, state: State, values: Sequence[Shown]) -> bool:
        """Whether these values are a press; ask for each report in order."""
        rules = self._rules
        if state in (State.MOVING, State.UNKNOWN, State.FAULT):
            self._steady = 0
            if state is State.MOVING and not rules.needs_zero:
                self._is_awaited = True
            return False
        is_small = (
            state is State.STABLE
            and bool(values)
            and all(one.flag is None and one.size < rules.at_least for one in values)
        )
        if is_small or (
            (state is State.ZERO or state is State.UNDER) and not rules.zero_is_a_press
        ):
            self._steady = 0
            self._is_awaited = True
            return False
        if not values:
            return False
        self._steady += 1
        if not self._is_awaited or self._steady < rules.steady_reports:
            return False
        self._is_awaited = False
        return True

    def taken(self) -> None:
        """The value that rests there was taken by command: it is no press once more."""
        self._is_awaited = False

    def interrupted(self) -> None:
        """Reports were lost: what was steady must be so anew."""
        self._steady = 0
