"""The history of one piece as one meter read it at one channel. Pure; any thread."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from acquire.history.charting import Charting
from acquire.history.outlook import Outlook, outlook
from acquire.history.series import Series
from acquire.history.warnings import Warned, warnings
from acquire.model import at_channel


class Key(NamedTuple):
    """What makes figures belong to one history."""

    serial: str
    quantity: str
    piece: str
    channel: str
    unit: str


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """Figures of checks in order of time, and the rules of the last of these checks.

    `instrument` is what the meter was called at its last check. `limit`, `guard` (the expanded
    uncertainty of a check) and `resolution` are of the last check, in the unit of the key.
    `is_present` says that no other serial number was checked under that name since.
    """

    instrument: str
    key: Key
    series: Series
    limit: float
    guard: float
    resolution: float
    is_present: bool

    @property
    def place(self) -> str:
        """Piece and channel, as people say it: ``T1 at 20°``."""
        return f"{self.key.piece}{at_channel(self.key.channel)}"

    def seen(self, now_ns: int) -> Seen:
        """What the history says at a moment."""
        charting = Charting(resolution=self.resolution)
        found = outlook(
            self.series, limit=self.limit, guard=self.guard, now_ns=now_ns, charting=charting
        )
        return Seen(self, found, warnings(found, charting))


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """A history, its outlook and what to tell of it."""

    history: History
    outlook: Outlook
    warnings: tuple[Warned, ...]
