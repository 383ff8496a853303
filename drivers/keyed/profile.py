"""A keyed profile as the codec and the driver use it: frozen and checked. Pure; any thread."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from acquire.model import Flag, Quantity
from acquire.wire import ClosedTable
from drivers.keyed.tables import ProfileTables


@dataclass(frozen=True, slots=True)
class KeyedProfile:
    """What may be typed for one model.

    `order` are the channels of an entry that names none, one value each; empty where every value
    stands behind a token of `tokens`. `twice_within_s` is None where one entry is enough. `low`,
    `high` and `step` are in `unit`.
    """

    quantity: Quantity
    unit: str
    low: Decimal
    high: Decimal
    step: Decimal
    decimal_sign: str
    twice_within_s: float | None
    out_of_range: ClosedTable[Flag]
    channel_key: str
    order: tuple[str, ...]
    tokens: ClosedTable[str]


def from_tables(tables: ProfileTables) -> KeyedProfile:
    """The profile of tables that have no fault."""
    entry, channels = tables.entry, tables.channels
    order = tuple(channels.order) or (channels.default or "",)
    return KeyedProfile(
        quantity=tables.kind,
        unit=entry.unit,
        low=entry.low,
        high=entry.high,
        step=entry.step,
        decimal_sign=entry.decimal,
        twice_within_s=float(entry.within_s) if entry.twice else None,
        out_of_range=ClosedTable(
            [
                *((token, Flag.OVER_RANGE) for token in dict.fromkeys(entry.over)),
                *((token, Flag.UNDER_RANGE) for token in dict.fromkeys(entry.under)),
            ]
        ),
        channel_key=tables.channel_key,
        order=() if channels.tokens else order,
        tokens=ClosedTable(channels.tokens),
    )
