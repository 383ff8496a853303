"""What a scorecard made of a trial: points of every item and product, totals, places, chances.

Frozen facts with full precision, and their way into text and back for the store. Nothing is
infinite or NaN in them: what is open is None. Pure; any thread.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass

NOT_SHOWN = "not shown"
"""Why an item earns nothing that does so only for a change that is shown."""
EDITION = "8"
"""Of the reckoning: raised whenever the same readings would come to other points."""


@dataclass(frozen=True, slots=True)
class ItemScore:
    """One item of one product. `found` says in words what was found, with its doubt.

    `points` is None where there are none, and `why` says why. `low` to `high` is 95 %.
    `is_at_least` where a life had not ended; `slack` is how much more it may be, None without end.
    `is_late` where a reading behind it was taken when the surface of its stage was gone.
    """

    item: str
    found: str = ""
    points: float | None = None
    low: float | None = None
    high: float | None = None
    is_at_least: bool = False
    slack: float | None = 0.0
    why: str = ""
    is_late: bool = False

    @property
    def is_unshown(self) -> bool:
        """Whether it earns what it does only because nothing is shown."""
        return self.why == NOT_SHOWN


@dataclass(frozen=True, slots=True)
class ProductScore:
    """One product. `missing` are the items without points: such a total stands by itself.

    `total` is the sum of the items that have points, None where none has. `place` is where it
    stands among those that lack the same items, ``1`` or ``1 to 3, tied``, and `first` its chance
    to be first there; None where it is alone there.
    """

    treatment: str
    name: str
    items: tuple[ItemScore, ...]
    total: float | None
    low: float | None
    high: float | None
    is_at_least: bool
    slack: float | None
    missing: tuple[str, ...]
    place: str = ""
    first: float | None = None
    first_unshifted: float | None = None

    @property
    def is_late(self) -> bool:
        """Whether an item of it rests on a reading that was too late."""
        return any(item.is_late for item in self.items)

    @property
    def is_unshown(self) -> bool:
        """Whether all of its points are those of items of which nothing is shown."""
        return all(item.is_unshown for item in self.items if item.points is not None)


@dataclass(frozen=True, slots=True)
class Condition:
    """Something that must be alike where totals of two trials are compared."""

    what: str
    value: str


@dataclass(frozen=True, slots=True)
class TrialScore:
    """All products of a trial, those with all items first, the highest total first.

    `conditions` are what another trial must share to be compared with, `notes` sentences.
    """

    trial: str
    title: str
    scorecard: str
    version: int
    digest: str
    decimals: int
    items: tuple[tuple[str, str], ...]
    products: tuple[ProductScore, ...]
    conditions: tuple[Condition, ...]
    notes: tuple[str, ...]
    is_unchecked: bool
    edition: str = EDITION


def as_text(score: TrialScore) -> str:
    """The score as it is kept. Raises ValueError for a figure that is not finite."""
    return json.dumps(asdict(score), ensure_ascii=False, allow_nan=False, sort_keys=True)


def from_text(text: str) -> TrialScore:
    """The score as it was kept. Raises ValueError where the text is no score."""
    try:
        raw = json.loads(text)
        return TrialScore(
            **raw
            | {
                "items": tuple((str(a), str(b)) for a, b in raw["items"]),
                "conditions": tuple(Condition(**c) for c in raw["conditions"]),
                "notes": tuple(raw["notes"]),
                "products": tuple(
                    ProductScore(
                        **p
                        | {
                            "items": tuple(ItemScore(**i) for i in p["items"]),
                            "missing": tuple(p["missing"]),
                        }
                    )
                    for p in raw["products"]
                ),
            }
        )
    except (TypeError, KeyError, AttributeError, json.JSONDecodeError) as error:
        raise ValueError(f"no score: {error}") from None
