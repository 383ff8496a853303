"""How results become points: a scorecard and its items. Facts only.

A scorecard is named by its id and version; `text` is the file as written. What its items mean is
said, line by line, in ``config/scorecards/yard.toml``.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from acquire.model.fact import Quantity


class Base(StrEnum):
    """What a change is taken against."""

    BARE = "bare"
    """The same zones when bare: what panel and meter did meanwhile is in it."""
    CONTROL = "control"
    """The untreated zones at the same stage: how the zones differed when bare is in it."""
    BOTH = "both"
    """The change since bare less that of the control: the net change of the results."""


class Way(StrEnum):
    """Which way a change has to go to earn points."""

    UP = "up"
    DOWN = "down"


@dataclass(frozen=True, slots=True)
class When:
    """The stage that an item looks at.

    The first of `stages` that the trial has; or the one that comes after so many `washes`; or, with
    neither, the last stage before the first wash.
    """

    stages: tuple[str, ...] = ()
    washes: int | None = None

    def __str__(self) -> str:
        if self.washes is not None:
            return f"after {self.washes} wash{'' if self.washes == 1 else 'es'}"
        return " or ".join(self.stages) or "the last stage before washing"


@dataclass(frozen=True, slots=True)
class Measured:
    """Which measure of a trial an item is about; `channel` is a geometry or a band, or empty.

    `coefficient` is ``static`` or ``kinetic`` where forces are held against the weight of a sled.
    `measure` is the id that the measure must have, empty where any will do.
    """

    quantity: Quantity
    channel: str = ""
    coefficient: str = ""
    measure: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    """Points for a change, `points` for each `unit` of it that goes the right way."""

    measured: Measured
    when: When
    base: Base
    way: Way
    points: Decimal
    unit: str
    only_if_shown: bool


@dataclass(frozen=True, slots=True)
class Lasting:
    """Points for each wash survived, by the end of life of a measure or of a scale."""

    measured: Measured | None
    scale: str
    points: Decimal


@dataclass(frozen=True, slots=True)
class Judged:
    """Points for each step of a scale, from the worst step to the best."""

    scale: str
    when: When
    points: tuple[Decimal, ...]


@dataclass(frozen=True, slots=True)
class Item:
    """One line of a scorecard: `earns` says for what; `floor` and `ceiling` bound its points.

    The bounds come first, then the points are multiplied by `weight`.
    """

    id: str
    title: str
    earns: Change | Lasting | Judged
    floor: Decimal | None
    ceiling: Decimal | None
    weight: Decimal


@dataclass(frozen=True, slots=True)
class Scorecard:
    """All items, in the order of the file. Totals are rounded to `decimals`, once at the end."""

    id: str
    version: int
    title: str
    decimals: int
    items: tuple[Item, ...]
    text: str
    digest: str

    @property
    def name(self) -> str:
        """``yard, version 2``."""
        return f"{self.id}, version {self.version}"
