"""What one report shows, in our own words. Pure data."""

from __future__ import annotations

from decimal import Decimal
from enum import Enum, auto
from typing import NamedTuple

from acquire.driverkit import NO_FLAGS, Heard, Means
from acquire.model import Flag


class State(Enum):
    """How the value stands that a report holds."""

    UNKNOWN = auto()
    """The device does not say."""
    MOVING = auto()
    STABLE = auto()
    ZERO = auto()
    OVER = auto()
    UNDER = auto()
    FAULT = auto()
    """Whatever the value is, it is none."""


OUT_OF_RANGE = {State.OVER: Flag.OVER_RANGE, State.UNDER: Flag.UNDER_RANGE}


class Shown(NamedTuple):
    """One value: in its unit, and its size in the unit of the profile's limits.

    `value` None: it is out of range by `flag`, or there is none.
    """

    value: Decimal | None
    unit: str
    channel: str
    size: Decimal
    flag: Flag | None = None

    @property
    def is_there(self) -> bool:
        """Whether it is a value, or one that is told to be out of range."""
        return self.value is not None or self.flag is not None

    def heard(self, state: State, count: int | None) -> Heard:
        """As a reading: without a number where the device says that it is out of range."""
        value, unit, channel, _, flag = self
        if state is State.OVER or state is State.UNDER:
            flag = OUT_OF_RANGE[state]
        if flag is not None or value is None:
            flags = NO_FLAGS if flag is None else frozenset((flag,))
            return Heard(
                Means.READING,
                flag.value if flag else "",
                None,
                unit,
                channel,
                count,
                flags,
            )
        return Heard(Means.READING, format(value, "f"), value, unit, channel, count, NO_FLAGS)


class Sight(NamedTuple):
    """What a report shows. `state`, `button`, `adjusted` None: this report does not say."""

    values: tuple[Shown, ...] = ()
    state: State | None = None
    button: bool | None = None
    adjusted: bool | None = None
    calibrations: int | None = None
    troubles: tuple[str, ...] = ()
    presses: int | None = None
