"""A frame profile as the codec and the driver use it: frozen, checked, ready to be applied.

Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

from acquire.driverapi import LinkNeeds
from acquire.driverkit import Manners, Means
from acquire.driverkit.limits import Limits
from acquire.wire import ClosedTable, Shape
from drivers.frame.message import MessageTable
from drivers.frame.number import Number, Type, Written, number, swapped
from drivers.frame.parts import (
    BitsTable,
    CodeTable,
    ConditionTable,
    CopyTable,
    NumberTable,
    OneOfTable,
    Status,
    StatusTable,
    ValueTable,
)
from drivers.frame.tables import ProfileTables

Holds = Callable[[bytes], bool]
"""Whether something is so, by the bytes of a frame."""

Code = Callable[[bytes], str]
"""A code of a frame, as the closed tables know it."""

Figure = Callable[[bytes], "Decimal | str"]
"""A number of a frame, or in plain words why there is none."""


class Field(NamedTuple):
    """Some bytes of a frame, what kind they are, and how they are read."""

    start: int
    end: int
    type: Type
    read: Number


class Said(NamedTuple):
    """What a device says of a value when the condition holds; `code` is the word of an error."""

    holds: Holds
    means: Status
    code: str


@dataclass(frozen=True, slots=True)
class Value:
    """One value of a frame. `power` is the power of ten that the frame tells, if any.

    `signs` are bytes with what each is beside a number above and below zero. `unit` and `channel`
    are codes of the frame; None where the profile says them once for all. `channel_again` is the
    same channel once more, at each further place where the frame says it.
    """

    field: Field
    scale: Decimal
    power: Figure | None
    minus: Holds | None
    signs: tuple[tuple[int, int, int], ...]
    unit: Code | None
    channel: Code | None
    channel_again: tuple[Code, ...]
    own_channel: str | None
    status: tuple[Said, ...]
    limits: Limits


@dataclass(frozen=True, slots=True)
class Message:
    """One kind of frame."""

    means: Means
    length: int
    where: tuple[Holds, ...]
    count: Figure | None
    text: Field | None
    status: tuple[Said, ...]
    values: tuple[Value, ...]


@dataclass(frozen=True, slots=True)
class FrameProfile:
    """How one model talks.

    `is_together`: frames between two silences are taken together, all or none.
    """

    needs: LinkNeeds
    manners: Manners
    shape: Shape
    silence_s: float
    is_together: bool
    messages: tuple[Message, ...]
    units: ClosedTable[str]
    default_unit: str | None
    channel_key: str
    channels: ClosedTable[str]
    default_channel: str | None


def from_tables(tables: ProfileTables) -> FrameProfile:
    """The profile of tables that have no fault."""
    shape = tables.shape()
    has_count = any(m.count for m in tables.message if m.means is Means.READING)
    return FrameProfile(
        needs=tables.needs(),
        manners=tables.manners(has_count=has_count),
        shape=shape,
        silence_s=float(tables.frame.silence_s),
        is_together=tables.frame.together,
        messages=tuple(_message(m, m.bytes_ or shape.longest) for m in tables.message),
        units=ClosedTable([(_key(t), unit) for t, unit in tables.unit.tokens.items()]),
        default_unit=tables.unit.default,
        channel_key=tables.channel_key,
        channels=ClosedTable([(_key(t), c) for t, c in tables.channels.tokens.items()]),
        default_channel=tables.channels.default if tables.channel_key else "",
    )


def _message(table: MessageTable, length: int) -> Message:
    text = table.serial or table.code
    return Message(
        means=table.means,
        length=length,
        where=(
            *map(_holds, table.where),
            *map(_is_one_of, table.one_of),
            *map(_repeats, table.copies),
        ),
        count=_figure(table.count) if table.count else None,
        text=_field(text) if text else None,
        status=_said(table.status),
        values=tuple(map(_value, table.value)),
    )


def _said(tables: list[StatusTable]) -> tuple[Said, ...]:
    return tuple(Said(_holds(table), table.means, table.code or "") for table in tables)


def _value(table: ValueTable) -> Value:
    power: Figure | None = None
    if table.decimals_at is not None:
        power = _decimals(table.decimals_at)
    elif table.exponent_at is not None:
        power = _figure(table.exponent_at)
    return Value(
        field=_field(table),
        scale=table.scale,
        power=power,
        minus=_holds(table.minus) if table.minus else None,
        signs=tuple((one.offset, one.plus[0], one.minus[0]) for one in table.signs),
        unit=_code(table.unit_at) if table.unit_at else None,
        channel=_code(table.channel_at) if table.channel_at else None,
        channel_again=tuple(_code(code) for _, code in table.channel_again),
        own_channel=table.channel[1],
        status=_said(table.status),
        limits=table.limits(),
    )


def _field(table: NumberTable) -> Field:
    # A count in digits has no decimals.
    written = table.written if isinstance(table, ValueTable) else Written(decimals=0)
    read = number(table.type, table.order or "big", table.sign, written)
    read = swapped(read) if table.is_swapped else read
    return Field(table.offset, table.offset + table.width, table.type, read)


def _figure(table: NumberTable) -> Figure:
    start, end, _, read = _field(table)
    return lambda frame: read(frame[start:end])


def _holds(table: ConditionTable) -> Holds:
    start, end = table.offset, table.offset + len(table.is_)
    if table.mask is None:
        wanted = table.is_
        return lambda frame: frame.startswith(wanted, start)
    if end == start + 1:
        one_mask, one = table.mask[0], table.is_[0]
        return lambda frame: frame[start] & one_mask == one
    mask, bits = int.from_bytes(table.mask, "big"), int.from_bytes(table.is_, "big")
    return lambda frame: int.from_bytes(frame[start:end], "big") & mask == bits


def _is_one_of(table: OneOfTable) -> Holds:
    start, values = table.offset, frozenset(table.values)
    end = start + len(table.values[0])
    return lambda frame: frame[start:end] in values


def _repeats(table: CopyTable) -> Holds:
    start, of, size = table.offset, table.of, table.bytes_
    return lambda frame: frame[start : start + size] == frame[of : of + size]


def _code(table: CodeTable) -> Code:
    start, end = table.offset, table.offset + table.size
    if table.mask is None:
        return lambda frame: frame[start:end].hex()
    mask, size = int.from_bytes(table.mask, "big"), table.size
    return lambda frame: (
        (int.from_bytes(frame[start:end], "big") & mask).to_bytes(size, "big").hex()
    )


def _decimals(table: BitsTable) -> Figure:
    place, mask = table.offset, table.mask[0]
    low = (mask & -mask).bit_length() - 1
    return lambda frame: Decimal(-((frame[place] & mask) >> low))


def _key(token: str) -> str:
    return bytes.fromhex(token).hex()
