"""The course of a run over its targets: what is next, what is filled, what was skipped.

Pure and single-threaded. A target is done when every channel of the run has a reading there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from acquire.model import Slot, Target
from acquire.store.found import Stand


class Filling(NamedTuple):
    """A reading in a slot, for running means."""

    reading_id: int
    value: float


SPELLED_ZONES = 8
"""So many zones are told of with their places; of more it is said how many there are."""


class Course:
    """The targets of one run in plan order, and a cursor that points at the next open one.

    `filled` holds what earlier runs of the same measure and stage have already filled.
    """

    def __init__(
        self, targets: Sequence[Target], channels: Sequence[str], filled: Mapping[Slot, Filling]
    ) -> None:
        self._targets = list(targets)
        self._place = {target: i for i, target in enumerate(self._targets)}
        self.channels = tuple(channels)
        self._filled: dict[Slot, Filling] = {}
        self._open_at = [len(self.channels)] * len(self._targets)
        self._sums: dict[tuple[str, str], list[float]] = {}
        self.slots_left = len(self._targets) * len(self.channels)
        self._at = 0
        # Places of voided readings, to be filled first, and where to go on after them.
        self._reopened: set[int] = set()
        self._resume_at = 0
        # The reading that each of these lost, as far as it was lost since this course was made.
        self._lost: dict[int, int] = {}
        self._skipped: set[int] = set()
        for slot, filling in filled.items():
            if slot.target in self._place and slot.channel in self.channels:
                self._put(slot, filling, self._place[slot.target])
        self._to_open(0)

    @property
    def slots_total(self) -> int:
        return len(self._targets) * len(self.channels)

    @property
    def next(self) -> Target | None:
        """The target the next reading belongs to; None when all are filled."""
        return self._targets[self._at] if self.slots_left else None

    @property
    def targets(self) -> tuple[Target, ...]:
        """All targets in plan order."""
        return tuple(self._targets)

    @property
    def skipped(self) -> list[Target]:
        """Targets that were left for later and are still open, in plan order."""
        return [self._targets[i] for i in sorted(self._skipped) if self._open_at[i]]

    def open_targets(self, channel: str) -> list[Target]:
        """Targets that are still open for a channel, in plan order."""
        return [t for t in self._targets if self.is_open(Slot(t, channel))]

    def filling(self, slot: Slot) -> Filling | None:
        """The reading that holds a slot."""
        return self._filled.get(slot)

    def wanted(self, target: Target) -> tuple[str, ...]:
        """The channels still open at a target."""
        return tuple(g for g in self.channels if Slot(target, g) not in self._filled)

    def wants(self, channel: str) -> bool:
        """Whether the next target is still open for a channel; in the path of every reading."""
        return (
            self.slots_left > 0
            and channel in self.channels
            and (self._targets[self._at], channel) not in self._filled
        )

    def fill(self, channel: str, filling: Filling) -> None:
        """Put a reading at the next target and move on when the target is done.

        Raises ValueError if the next target does not want this channel.
        """
        at = self._at
        if not self.slots_left or channel not in self.channels:
            raise ValueError(f"{self.next} does not want {channel}")
        self._put(Slot(self._targets[at], channel), filling, at)
        if not self._open_at[at]:
            self._move_on()

    def fill_at(self, slot: Slot, filling: Filling) -> None:
        """Put a reading at any open slot (an assigned loose reading).

        Raises ValueError where the course has no such open slot.
        """
        if not self.is_open(slot):
            raise ValueError(f"{slot} is no open place of this course")
        self._put(slot, filling, self._place[slot.target])
        if self.slots_left and self._open_at[self._at] == 0:
            self._move_on()

    def is_open(self, slot: Slot) -> bool:
        return (
            slot.target in self._place
            and slot.channel in self.channels
            and slot not in self._filled
        )

    def skip(self) -> bool:
        """Leave the next target open and point at the open one after it; it comes back later.

        False if no other target is open.
        """
        left, reopened = self._at, self._reopened
        if self.slots_left:
            self._move_on()
        if self._at == left:
            self._reopened = reopened
            return False
        self._skipped.add(left)
        return True

    def back(self) -> bool:
        """Point at the open target before the present one; False if there is none before it."""
        for i in range(self._at - 1, -1, -1):
            if self._open_at[i]:
                self._go(i)
                return True
        return False

    def go_to(self, zone: str, replicate: int | None) -> Target | None:
        """Point at the first open target of a zone (and replicate); None if there is none."""
        for i, target in enumerate(self._targets):
            if target.zone == zone and replicate in (None, target.replicate) and self._open_at[i]:
                self._go(i)
                return target
        return None

    def _go(self, place: int) -> None:
        """A hand goes elsewhere: what was to be filled first is no more than open."""
        if place != self._at:
            self._at = place
            self._reopened = set()

    @property
    def stand(self) -> Stand:
        """Where the cursor stands, so that another course of the same run can stand there."""
        reopened = frozenset(self._targets[i] for i in self._reopened if self._open_at[i])
        return Stand(
            self.next,
            self._targets[self._resume_at] if reopened else None,
            reopened,
            frozenset(self.skipped),
        )

    def stand_at(self, stand: Stand) -> None:
        """Stand where an earlier course of the same run stood.

        The next target is the same, or the first open one after it; after a reopened one that was
        filled meanwhile the next reopened one, then where to resume. Targets of another plan are
        left out.
        """
        self._skipped = {self._place[t] for t in stand.skipped if t in self._place}
        self._reopened = {
            self._place[t]
            for t in stand.reopened
            if t in self._place and self._open_at[self._place[t]]
        }
        self._resume_at = self._place.get(stand.resume, 0) if stand.resume else 0
        at = self._place.get(stand.at, 0) if stand.at else 0
        if stand.at in stand.reopened and at not in self._reopened:
            at = min(self._reopened, default=self._resume_at)
        self._to_open(at)

    def reopen(self, slot: Slot, reading_id: int, *, first: bool = False) -> bool:
        """A reading was lost: if it held the slot, the slot is open again; False if it did not.

        Reopened places come next, in plan order, or before the others where `first` says so; then
        the course goes on where it was. Where everything was lost that was taken since the first
        reading that was, a stretch is read anew and no single place: that goes in plan order.
        """
        filling = self._filled.get(slot)
        if filling is None or filling.reading_id != reading_id:
            return False
        del self._filled[slot]
        place = self._place[slot.target]
        self._open_at[place] += 1
        self.slots_left += 1
        total = self._sums[slot.target.zone, slot.channel]
        total[0] -= 1
        total[1] -= filling.value
        self._reopened = {i for i in self._reopened if self._open_at[i]}
        if not self._reopened:
            self._resume_at = self._at
        self._reopened.add(place)
        self._lost = {i: n for i, n in self._lost.items() if i in self._reopened}
        self._lost[place] = reading_id
        is_single = first and self._is_any_held_since(min(self._lost.values()))
        self._at = place if is_single else min(self._reopened)
        return True

    def _is_any_held_since(self, reading_id: int) -> bool:
        return any(f.reading_id > reading_id for f in self._filled.values())

    def mean(self, zone: str, channel: str) -> tuple[int, float | None]:
        """Number and running mean of the readings of a zone at this stage."""
        count, total = self._sums.get((zone, channel), (0, 0.0))
        return int(count), (total / count if count else None)

    def _put(self, slot: Slot, filling: Filling, place: int) -> None:
        if self._filled.setdefault(slot, filling) is not filling:
            raise ValueError(f"{slot} is filled already")
        self._open_at[place] -= 1
        if self._skipped and not self._open_at[place]:
            self._skipped.discard(place)
        self.slots_left -= 1
        target, channel = slot
        total = self._sums.get((target.zone, channel))
        if total is None:
            total = self._sums[target.zone, channel] = [0, 0.0]
        total[0] += 1
        total[1] += filling.value

    def _move_on(self) -> None:
        """Leave the present target: to the next reopened one, or on in the plan."""
        if self._at in self._reopened:
            self._reopened = {i for i in self._reopened if self._open_at[i] and i != self._at}
            if self._reopened:
                self._at = min(self._reopened)
            else:
                self._to_open(self._resume_at)
        else:
            self._to_open(self._at + 1)

    def _to_open(self, start: int) -> None:
        """Move the cursor to the first open target from `start` on, around the end if need be."""
        if not self.slots_left:
            return
        count = len(self._targets)
        for step in range(count):
            i = (start + step) % count
            if self._open_at[i]:
                self._at = i
                return


def spelled(targets: Iterable[Target]) -> str:
    """Places in short, zone by zone with their replicates: ``A1 1 to 3, 5; A2 2``."""
    zones: dict[str, list[int]] = {}
    for target in targets:
        zones.setdefault(target.zone, []).append(target.replicate)
    told = [f"{zone} {_stretches(sorted(numbers))}" for zone, numbers in zones.items()]
    more = len(told) - SPELLED_ZONES
    if more > 0:
        told[SPELLED_ZONES:] = [f"and {more} zones more"]
    return "; ".join(told) or "none"


def _stretches(numbers: Sequence[int]) -> str:
    """Ascending numbers, three or more in a row as first to last."""
    rows: list[list[int]] = []
    for number in numbers:
        if rows and number == rows[-1][-1] + 1:
            rows[-1].append(number)
        else:
            rows.append([number])
    parts: list[str] = []
    for row in rows:
        parts += [f"{row[0]} to {row[-1]}"] if len(row) > 2 else [str(n) for n in row]
    return ", ".join(parts)
