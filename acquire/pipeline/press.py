"""The latest press of an instrument, and the place that all its channels belong to.

A meter of several angles sends a reading for each at one press. It stood at one place meanwhile,
so what the first of them filled is the place of the others. Pure; in the path of every reading.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from acquire.model import Instant
from acquire.pipeline.checking import Checking
from acquire.pipeline.place import Place, loose
from acquire.store.found import Taken
from acquire.store.shelf import PRESS_LASTS_NS


@dataclass(slots=True)
class LatestPress:
    """What the instrument sent last. `place` is where the first reading of it that counts went.

    `first_id` is the number of its first reading.
    """

    place: Place | None = None
    first_id: int = 0
    _connection_id: int = 0
    _count: int | None = None
    _at: Instant | None = None
    _channels: set[str] = field(default_factory=set)

    def take(
        self, connection_id: int, count: int | None, at: Instant, channel: str, reading_id: int
    ) -> Place | None:
        """The place that a reading shares with earlier ones of its press; None for a new press.

        Of one press are readings with the device's same count that come soon after its first, or
        without a count those that came at one moment; each channel once.
        """
        if (
            count == self._count
            and connection_id == self._connection_id
            and self._at is not None
            and (
                at == self._at if count is None else at.mono_ns - self._at.mono_ns <= PRESS_LASTS_NS
            )
            and channel not in self._channels
        ):
            self._channels.add(channel)
            return self.place
        self.place = None
        self._connection_id, self._count, self._at = connection_id, count, at
        self.first_id = reading_id
        self._channels = {channel}
        return None

    def forget(self) -> None:
        """The device was switched off and on: it sends no more of its press, and counts anew."""
        self.place, self._at = None, None
        self._channels = set()

    def void(self, reading_id: int) -> None:
        """A reading was voided: if it is of this press, what is still to come of it is, too."""
        if reading_id >= self.first_id:
            self.place = loose(f"its press is void (reading {reading_id})")


def other_presses(taken: Iterable[Taken], reading_id: int) -> int:
    """How many presses these readings are of, in order, that of a reading not counted."""
    press, presses = LatestPress(), list[set[int]]()
    for one in taken:
        at = Instant(one.at_utc_ns, one.at_mono_ns)
        mate = press.take(one.connection_id, one.press, at, one.channel, one.id)
        if mate is None:
            press.place = loose("")
            presses.append(set())
        presses[-1].add(one.id)
    return sum(reading_id not in ids for ids in presses)


def why_apart(mate: Place, checking: Checking | None, run_id: int | None) -> str:
    """Why a reading may not go where its press went; nothing where it may."""
    if mate.role == "loose":
        return mate.loose_reason or "its press is loose"
    if mate.role == "check":
        rule = checking.rule if checking is not None else None
        if checking is None or (rule and rule.piece, checking.check_id) != (
            mate.piece,
            mate.check_id,
        ):
            return f"its press was of {mate.piece}, which has its readings already"
        return ""
    if checking is not None or run_id != mate.run_id:
        return f"its press was of {mate.target}, before a check or a run began or ended"
    return ""
