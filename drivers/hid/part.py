"""The parts of a report that are of interest, and what they show together.

Pure; one report plan a connection; never raises on content.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple, Protocol

from acquire.model import Flag
from drivers.hid.entries import FlagMeans
from drivers.hid.number import Number, Scaling
from drivers.hid.sight import Shown, Sight, State

_NO_SIZE = Decimal(0)
_MOST_KNOWN_VALUES = 2048


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
    known: dict[int, Shown | str]
    """What whole numbers have shown: a display has few, and they come again."""

    def shown(self, report: bytes, whole: int) -> Shown | str:
        number = self.number(report, whole)
        if number is None:
            # Outside the extents: the device has no value (HID 1.11, 6.2.2.5, null state).
            if self.extents is None:
                return "no number where a value belongs"
            return Shown(None, self.unit, self.channel, _NO_SIZE)
        if type(number) is not int:
            # Zeros of either sign are equal, and are not shown alike.
            return self._work_out(number)
        known = self.known
        shown = known.get(number)
        if shown is None:
            shown = self._work_out(number)
            if len(known) < _MOST_KNOWN_VALUES:
                known[number] = shown
        return shown

    def _work_out(self, number: int | Decimal) -> Shown | str:
        _, unit, channel, scaling, over, under, extents, _ = self
        if number in over:
            return Shown(None, unit, channel, _NO_SIZE, Flag.OVER_RANGE)
        if number in under:
            return Shown(None, unit, channel, _NO_SIZE, Flag.UNDER_RANGE)
        if extents is not None and not extents[0] <= number <= extents[1]:
            return Shown(None, unit, channel, _NO_SIZE)
        value = scaling(number)
        if not -30 <= value.adjusted() <= 30:
            return f"a value of {value:.3e}, beyond all measure"
        return Shown(value, unit, channel, abs(value))


class FlagPart(NamedTuple):
    """A flag: it holds where the number is one of `values`. `is_state`: of a choice of states."""

    means: FlagMeans
    number: Number
    values: tuple[int, ...]
    text: str
    is_state: bool = False


class Said(NamedTuple):
    """What the flags of a report say together; None where it has none of a kind."""

    state: State | None = None
    button: bool | None = None
    adjusted: bool | None = None
    troubles: tuple[str, ...] = ()


_STATES = (
    (FlagMeans.OVER, State.OVER),
    (FlagMeans.UNDER, State.UNDER),
    (FlagMeans.MOVING, State.MOVING),
    (FlagMeans.ZERO, State.ZERO),
    (FlagMeans.STABLE, State.STABLE),
)
"""The first that holds is the state."""
_OF_STATE = frozenset(means for means, _ in _STATES)
_MOST_KNOWN = 256


class Flags:
    """The flags of one report. What their numbers say is worked out once: they are few."""

    def __init__(self) -> None:
        self._numbers: list[Number] = []
        self._flags: list[tuple[int, FlagPart]] = []
        self._known: dict[tuple[object, ...], Said] = {}

    def add(self, flag: FlagPart) -> None:
        """One more; flags of one array share their number."""
        if flag.number not in self._numbers:
            self._numbers.append(flag.number)
        self._flags.append((self._numbers.index(flag.number), flag))

    def said(self, report: bytes, whole: int) -> Said:
        """What they say in a report."""
        numbers = tuple([number(report, whole) for number in self._numbers])
        said = self._known.get(numbers)
        if said is None:
            said = self._work_out(numbers)
            if len(self._known) < _MOST_KNOWN:
                self._known[numbers] = said
        return said

    def _work_out(self, numbers: tuple[object, ...]) -> Said:
        holding = [flag for place, flag in self._flags if numbers[place] in flag.values]
        held = {flag.means for flag in holding}
        known = {flag.means for _, flag in self._flags}
        state = None
        if any(flag.is_state and flag.means is FlagMeans.TROUBLE for flag in holding):
            state = State.FAULT
        elif not known.isdisjoint(_OF_STATE):
            state = next((state for means, state in _STATES if means in held), State.UNKNOWN)
        return Said(
            state,
            FlagMeans.BUTTON in held if FlagMeans.BUTTON in known else None,
            FlagMeans.ADJUSTED in held if FlagMeans.ADJUSTED in known else None,
            tuple(flag.text for flag in holding if flag.means is FlagMeans.TROUBLE),
        )


@dataclass(slots=True)
class ReportPlan:
    """What is taken out of one report."""

    values: list[Value] = field(default_factory=list)
    flags: Flags = field(default_factory=Flags)
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
        state, button, adjusted, troubles = self.flags.said(report, whole)
        return Sight(
            tuple(shown),
            state,
            button,
            adjusted,
            calibrations if type(calibrations) is int else None,
            troubles,
            count,
        )
