"""The parts of a report that are of interest, and what they show together.

Pure; one report plan a connection; never raises on content.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple, Protocol

from acquire.model import Flag
from drivers.hid.number import Number, Scaling
from drivers.hid.sight import Shown, Sight, State
from drivers.hid.tables import FlagMeans


class Value(Protocol):
    """A part that shows a value."""

    def shown(self, report: bytes, whole: int) -> Shown | str:
        """The value, or in plain words why the bytes are none."""
        ...


class ValuePart(NamedTuple):
    """A value by usage or place. `extents` are the logical ones, None by place."""

    number: Number
    unit: str
    channel: str
    scaling: Scaling
    over: frozenset[int]
    under: frozenset[int]
    extents: tuple[int, int] | None

    def shown(self, report: bytes, whole: int) -> Shown | str:
        number = self.number(report, whole)
        if number is None:
            # Outside the extents: the device has no value (HID 1.11, 6.2.2.5, null state).
            if self.extents is None:
                return "no number where a value belongs"
            return Shown(None, self.unit, self.channel, Decimal(0))
        for raws, flag in ((self.over, Flag.OVER_RANGE), (self.under, Flag.UNDER_RANGE)):
            if number in raws:
                return Shown(None, self.unit, self.channel, Decimal(0), flag)
        if self.extents is not None and not self.extents[0] <= number <= self.extents[1]:
            return Shown(None, self.unit, self.channel, Decimal(0))
        value = self.scaling(number)
        if abs(value.adjusted()) > 30:
            return f"a value of {value:.3e}, beyond all measure"
        return Shown(value, self.unit, self.channel, abs(value))


class FlagPart(NamedTuple):
    """A flag: it holds where the number is one of `values`. `is_state`: of a choice of states."""

    means: FlagMeans
    number: Number
    values: tuple[int, ...]
    text: str
    is_state: bool = False


_STATES = (
    (FlagMeans.OVER, State.OVER),
    (FlagMeans.UNDER, State.UNDER),
    (FlagMeans.MOVING, State.MOVING),
    (FlagMeans.ZERO, State.ZERO),
    (FlagMeans.STABLE, State.STABLE),
)
"""The first that holds is the state."""
_OF_STATE = frozenset(means for means, _ in _STATES)


@dataclass(slots=True)
class ReportPlan:
    """What is taken out of one report."""

    values: list[Value] = field(default_factory=list)
    flags: list[FlagPart] = field(default_factory=list)
    count: Number | None = None
    calibrations: Number | None = None

    def sight(self, report: bytes) -> Sight | str:
        """What a report shows, or in plain words why it shows nothing."""
        whole = int.from_bytes(report, "little")
        shown: list[Shown] = []
        for part in self.values:
            one = part.shown(report, whole)
            if isinstance(one, str):
                return one
            shown.append(one)
        count = None
        if self.count is not None:
            found = self.count(report, whole)
            if type(found) is not int or found < 0:
                return "no count of presses where one belongs"
            count = found
        calibrations = self.calibrations(report, whole) if self.calibrations else None
        held, said, troubles, is_fault = self._flags(report, whole)
        return Sight(
            tuple(shown),
            _state(held, said, is_fault),
            FlagMeans.BUTTON in held if FlagMeans.BUTTON in said else None,
            FlagMeans.ADJUSTED in held if FlagMeans.ADJUSTED in said else None,
            calibrations if type(calibrations) is int else None,
            troubles,
            count,
        )

    def _flags(
        self, report: bytes, whole: int
    ) -> tuple[set[FlagMeans], set[FlagMeans], tuple[str, ...], bool]:
        """What holds, what this report speaks of, troubles, and whether one of them is a state.

        Flags of one array share their number, which is read once.
        """
        held: set[FlagMeans] = set()
        said: set[FlagMeans] = set()
        troubles: list[str] = []
        is_fault = False
        last: Callable[..., object] | None = None
        number: object = None
        for flag in self.flags:
            if flag.number is not last:
                last, number = flag.number, flag.number(report, whole)
            said.add(flag.means)
            if number not in flag.values:
                continue
            if flag.means is FlagMeans.TROUBLE:
                troubles.append(flag.text)
                is_fault = is_fault or flag.is_state
            else:
                held.add(flag.means)
        return held, said, tuple(troubles), is_fault


def _state(held: set[FlagMeans], said: set[FlagMeans], is_fault: bool) -> State | None:
    if is_fault:
        return State.FAULT
    if said.isdisjoint(_OF_STATE):
        return None
    return next((state for means, state in _STATES if means in held), State.UNKNOWN)
