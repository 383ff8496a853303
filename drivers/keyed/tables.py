"""The tables of a keyed profile and the rules between them, before anything is made of them.

Documented line by line in ``config/profiles/keyed-gloss.toml``. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from acquire.driverkit.fields import CHANNEL_KEYS, UNITS, Angle, MeterKind, Seconds
from acquire.errors import Fault
from acquire.model import Quantity
from acquire.schema import Name, Number, Schema, either, rule, show
from acquire.schema.band import Band

ADJUSTED, OFF = "adjusted", "off"
"""What a person types for what the instrument cannot tell: it was re-adjusted, or switched off."""


def _token(value: str) -> str:
    if not 1 <= len(value) <= 16 or not value.isascii() or not value.isprintable() or " " in value:
        raise ValueError("1 to 16 ASCII characters without a space")
    return value


def _range_token(value: str) -> str:
    _token(value)
    if any(c.isdecimal() for c in value) or value.casefold() in (ADJUSTED, OFF):
        raise ValueError(f"a text without digits that is neither {ADJUSTED} nor {OFF}")
    return value


Token = Annotated[str, AfterValidator(_token)]
RangeTokens = Annotated[list[Annotated[str, AfterValidator(_range_token)]], Field(max_length=16)]


MOST_STEPS = 1_000_000_000


class GeometryTable(Schema):
    default: Angle | None = None
    order: Annotated[list[Angle], Field(max_length=8)] = Field(default_factory=list)
    tokens: dict[Token, Angle] = Field(default_factory=dict, max_length=64)


class BandTable(Schema):
    default: Band | None = None
    order: Annotated[list[Band], Field(max_length=8)] = Field(default_factory=list)
    tokens: dict[Token, Band] = Field(default_factory=dict, max_length=64)


class EntryTable(Schema):
    unit: str
    low: Number
    high: Number
    step: Annotated[Number, Field(gt=0)]
    decimal: Literal[".", ","] = "."
    twice: bool = False
    within_s: Seconds = Decimal(60)
    over: RangeTokens = Field(default_factory=list)
    under: RangeTokens = Field(default_factory=list)

    @rule
    def low_is_below_high(self) -> Iterator[Fault]:
        if self.low >= self.high:
            yield Fault("high", show(self.high), f"more than low, {self.low}")

    @rule
    def step_fits_between_them(self) -> Iterator[Fault]:
        if self.step > self.high - self.low > 0:
            yield Fault("step", show(self.step), f"at most {self.high - self.low}, the whole range")
        # Finer than any display; the remainder of a longer division would not be exact.
        elif self.step * MOST_STEPS < max(abs(self.low), abs(self.high)):
            yield Fault("step", show(self.step), f"a range of at most {MOST_STEPS} steps")

    @rule
    def no_token_is_above_and_below(self) -> Iterator[Fault]:
        for token in sorted(set(self.over) & set(self.under)):
            yield Fault("under", show(token), "a token that is not in over as well")


class ProfileTables(Schema):
    about: Name | None = None
    kind: MeterKind
    entry: EntryTable
    geometry: GeometryTable = GeometryTable()
    band: BandTable = BandTable()

    @property
    def channel_key(self) -> str:
        """What a channel is called here: geometry, band, or nothing."""
        return CHANNEL_KEYS.get(self.kind, "")

    @property
    def channels(self) -> GeometryTable | BandTable:
        """How the channels of this kind are told."""
        return self.band if self.kind is Quantity.TRANSMITTANCE else self.geometry

    @rule
    def the_unit_is_one_of_the_kind(self) -> Iterator[Fault]:
        if self.entry.unit not in UNITS[self.kind]:
            wanted = f"{either(UNITS[self.kind])} for {self.kind}"
            yield Fault("entry.unit", show(self.entry.unit), wanted)

    @rule
    def channels_are_those_of_the_kind(self) -> Iterator[Fault]:
        for key, table in (("geometry", self.geometry), ("band", self.band)):
            if _ways(table) and key != self.channel_key:
                yield Fault(key, "a table", f"none: {self.kind} has no {key}")

    @rule
    def channels_are_told_in_one_way(self) -> Iterator[Fault]:
        # "60 91.4" would mean two things: 91.4 at 60, or 60 at the first and 91.4 at the next.
        key = self.channel_key
        ways = _ways(self.channels)
        if key and len(ways) != 1:
            wanted = (
                "one of default (one value, always of this one), order (all of them, always in "
                "this order) or tokens (each behind its token)"
            )
            yield Fault(key, either(ways, "and") if ways else "nothing", wanted)
        for place, channel in enumerate(self.channels.order):
            if channel in self.channels.order[:place]:
                yield Fault(f"{key}.order[{place}]", show(channel), "each of them once")

    @rule
    def tokens_are_no_range(self) -> Iterator[Fault]:
        for token in self.channels.tokens:
            if token in (*self.entry.over, *self.entry.under) or token.casefold() in (
                ADJUSTED,
                OFF,
            ):
                wanted = f"a token that is not in over or under, and neither {ADJUSTED} nor {OFF}"
                yield Fault(f"{self.channel_key}.tokens", show(token), wanted)


def _ways(table: GeometryTable | BandTable) -> list[str]:
    return [
        *(["default"] if table.default is not None else []),
        *(["order"] if table.order else []),
        *(["tokens"] if table.tokens else []),
    ]
