"""A scorecard file: what earns points and how many, from TOML to a `Scorecard`.

The file is documented, line by line, in ``config/scorecards/yard.toml``. Any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Annotated

from pydantic import Field

from acquire.errors import CoatbenchError, Fault
from acquire.model import Quantity
from acquire.model.scorecard import (
    Base,
    Change,
    Item,
    Judged,
    Lasting,
    Measured,
    Scorecard,
    Way,
    When,
)
from acquire.schema import Id, Name, Number, Schema, either, load_text, parse_toml, read, rule, show
from acquire.settings.digest import text_digest
from acquire.settings.fields import Angle, Bands, Kind, channel_faults
from acquire.settings.scales import MOST_STEPS
from acquire.settings.washes import MOST_WASHES
from acquire.units import canonical, convert

MOST_ITEMS = 100
MOST_DECIMALS = 6
MOST_VERSIONS = 1_000_000
COEFFICIENTS = ("static", "kinetic")

_Points = Annotated[Number, Field(ge=-1_000_000, le=1_000_000)]
_Earned = Annotated[Number, Field(gt=0, le=1_000_000)]
_Stages = Annotated[list[Id], Field(min_length=1, max_length=20)]
_Washes = Annotated[int, Field(ge=1, le=MOST_WASHES)]


class CardTable(Schema):
    id: Id
    version: Annotated[int, Field(ge=1, le=MOST_VERSIONS)]
    title: Name
    decimals: Annotated[int, Field(ge=0, le=MOST_DECIMALS)] = 1


class _ItemTable(Schema):
    """What all items have."""

    id: Id
    title: Name
    floor: _Points | None = None
    ceiling: _Points | None = None
    weight: Annotated[Number, Field(gt=0, le=1000)] = Decimal(1)

    @rule
    def the_floor_lies_below(self) -> Iterator[Fault]:
        if self.floor is not None and self.ceiling is not None and not self.floor < self.ceiling:
            yield Fault("floor", show(self.floor), f"less than the ceiling, {self.ceiling}")

    def item(self, earns: Change | Lasting | Judged) -> Item:
        return Item(self.id, self.title, earns, self.floor, self.ceiling, self.weight)


class _MeasuredTable(_ItemTable):
    """An item about a measure."""

    quantity: Kind | None = None
    geometry: Angle | None = None
    band: Bands | None = None
    coefficient: Annotated[str, Field(description='"static" or "kinetic"')] | None = None
    measure: Id | None = None

    @rule
    def channels_fit(self) -> Iterator[Fault]:
        if self.quantity is not None:
            yield from channel_faults(self.quantity, self.geometry, self.band)
        if self.band is not None and len(self.band) > 1:
            yield Fault("band", ", ".join(self.band), "one band")

    @rule
    def coefficients_are_of_forces(self) -> Iterator[Fault]:
        if self.coefficient is None:
            return
        if self.coefficient not in COEFFICIENTS:
            yield Fault("coefficient", show(self.coefficient), either(COEFFICIENTS))
        elif self.quantity is not Quantity.FORCE:
            got = f"with quantity {self.quantity.value if self.quantity else 'nothing'}"
            yield Fault("coefficient", got, 'quantity = "force"')

    def measured(self, quantity: Quantity) -> Measured:
        channel = self.geometry or (self.band[0] if self.band else "")
        return Measured(quantity, channel, self.coefficient or "", self.measure or "")


class ChangeTable(_MeasuredTable):
    quantity: Kind
    stage: _Stages | Id | None = None
    washes: _Washes | None = None
    base: Annotated[Base, Field(strict=False)] = Base.BOTH
    direction: Annotated[Way, Field(strict=False)]
    points: _Earned
    unit: Annotated[str, Field(description="the name of a unit in quotes")] | None = None
    only_if_shown: bool = False

    @rule
    def one_stage(self) -> Iterator[Fault]:
        if self.stage is not None and self.washes is not None:
            yield Fault("washes", show(self.washes), "either stage or washes")

    @rule
    def a_film_is_held_against_its_blank(self) -> Iterator[Fault]:
        if self.quantity is Quantity.TRANSMITTANCE and self.base is not Base.BOTH:
            wanted = '"both": a film is its slide over the blank, and nothing else'
            yield Fault("base", show(self.base.value), wanted)

    @rule
    def the_unit_fits(self) -> Iterator[Fault]:
        if self.unit is None:
            return
        own = self.own_unit()
        if self.quantity is Quantity.TRANSMITTANCE and self.unit != own:
            yield Fault(
                "unit", show(self.unit), '"percent", of the light that the blank lets through'
            )
            return
        try:
            convert(Decimal(1), self.unit, own)
        except CoatbenchError as error:
            yield Fault("unit", show(self.unit), error.wanted or f'a unit such as "{own}"')

    def own_unit(self) -> str:
        """The unit of the results."""
        if self.coefficient is not None:
            return "one"
        return canonical(self.quantity)

    def when(self) -> When:
        stages = [self.stage] if isinstance(self.stage, str) else self.stage or []
        return When(tuple(stages), self.washes)

    def change(self) -> Item:
        unit = self.unit or self.own_unit()
        return self.item(
            Change(
                self.measured(self.quantity), self.when(), self.base, self.direction, self.points,
                unit, self.only_if_shown,
            )
        )  # fmt: skip


class LifeTable(_MeasuredTable):
    scale: Id | None = None
    points_per_wash: _Earned

    @rule
    def one_criterion(self) -> Iterator[Fault]:
        if (self.scale is None) == (self.quantity is None):
            got = "both" if self.scale is not None else "nothing"
            wanted = "quantity, whose measure says when a treatment is gone, or the id of a scale"
            yield Fault("scale", got, wanted)
        if self.scale is not None:
            for key in ("geometry", "band", "coefficient", "measure"):
                if getattr(self, key) is not None:
                    yield Fault(key, "beside a scale", "no such key: a scale has none")

    def life(self) -> Item:
        measured = self.measured(self.quantity) if self.quantity is not None else None
        return self.item(Lasting(measured, self.scale or "", self.points_per_wash))


class RatingTable(_ItemTable):
    scale: Id
    stage: _Stages | Id | None = None
    washes: _Washes | None = None
    points: Annotated[list[_Points], Field(min_length=2, max_length=MOST_STEPS)]

    @rule
    def one_stage(self) -> Iterator[Fault]:
        if self.stage is not None and self.washes is not None:
            yield Fault("washes", show(self.washes), "either stage or washes")

    @rule
    def better_steps_earn_no_less(self) -> Iterator[Fault]:
        for place, (before, after) in enumerate(zip(self.points, self.points[1:], strict=False), 1):
            if after < before:
                wanted = f"{before} or more: steps go from the worst to the best"
                yield Fault(f"points[{place}]", show(after), wanted)

    def rating(self) -> Item:
        stages = [self.stage] if isinstance(self.stage, str) else self.stage or []
        return self.item(Judged(self.scale, When(tuple(stages), self.washes), tuple(self.points)))


class ScorecardFile(Schema):
    scorecard: CardTable
    change: Annotated[list[ChangeTable], Field(max_length=MOST_ITEMS)] = Field(default_factory=list)
    life: Annotated[list[LifeTable], Field(max_length=MOST_ITEMS)] = Field(default_factory=list)
    rating: Annotated[list[RatingTable], Field(max_length=MOST_ITEMS)] = Field(default_factory=list)

    @rule
    def something_earns_points(self) -> Iterator[Fault]:
        number = len(self.change) + len(self.life) + len(self.rating)
        if not number:
            yield Fault("change", "no item", "at least one [[change]], [[life]] or [[rating]]")
        elif number > MOST_ITEMS:
            yield Fault("change", f"{number} items", f"at most {MOST_ITEMS}")

    @rule
    def item_ids_are_unique(self) -> Iterator[Fault]:
        first: dict[str, str] = {}
        for key in ("change", "life", "rating"):
            for index, entry in enumerate(getattr(self, key)):
                own = entry.__dict__.get("id")
                if own is None:
                    continue
                if own in first:
                    wanted = f"an id of its own: {first[own]} has this one"
                    yield Fault(f"{key}[{index}].id", show(own), wanted)
                first.setdefault(own, f"{key}[{index}]")


def load_scorecard(path: Path) -> Scorecard:
    """The scorecard of a file. Raises `SettingsError` with every fault of it."""
    return parse_scorecard(load_text(path), str(path))


def parse_scorecard(text: str, source: str) -> Scorecard:
    """The scorecard of a file's text; `source` names it in messages.

    Raises `SettingsError` with every fault. The digest is the SHA-256 of the text in UTF-8.
    """
    digest = text_digest(text, source)
    file = read(ScorecardFile, parse_toml(text, source), source)
    items = (
        *(table.change() for table in file.change),
        *(table.life() for table in file.life),
        *(table.rating() for table in file.rating),
    )
    card = file.scorecard
    return Scorecard(card.id, card.version, card.title, card.decimals, items, text, digest)
