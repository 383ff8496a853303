"""A line profile as the codec and the driver use it: frozen, checked, compiled.

Pure; any thread.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from acquire.driverapi import LinkNeeds
from acquire.driverkit import Manners, Means
from acquire.driverkit.fields import OWN_UNITS
from acquire.driverkit.limits import Limits
from acquire.driverkit.pattern import compiled
from acquire.model import TOTAL, Flag, Quantity
from acquire.wire import CHECKSUMS, Checksum, ClosedTable, Sent
from drivers.line.entries import VALUE, VALUE_AT, MessageTable
from drivers.line.fields import Letters
from drivers.line.tables import ProfileTables


@dataclass(frozen=True, slots=True)
class Message:
    """One kind of line. `line` is held against the whole text of a line.

    `values` names the groups of its values, each with its channel token; None where another group
    or the profile's default says the channel. `in_press`: which lines of a press it can be; none
    where it stands by itself. `length` is that of its text, `width` that of each of its values with
    the spaces about it; None where it may vary.
    """

    means: Means
    line: re.Pattern[str]
    values: tuple[tuple[str, str | None], ...]
    in_press: tuple[int, ...]
    has_checksum: bool
    length: int | None
    width: int | None


@dataclass(frozen=True, slots=True)
class Proof:
    """The checksum in hexadecimal digits at the end of a line: `after` stands before it.

    It covers the line from its character `first` on, the first one is 0, and `after` only if it is
    `with_after`. `sent` is what is sent of it, in capital letters, small ones or either.
    """

    checksum: Checksum
    after: bytes
    letters: Letters = "hex-upper"
    first: int = 0
    with_after: bool = False
    sent: Sent = Sent.PLAIN

    @property
    def size(self) -> int:
        """Digits that it has."""
        return self.checksum.width_bits // 4

    def written(self, checksum: int) -> bytes:
        """The digits of a checksum; capital letters where they may be either."""
        letter = "x" if self.letters == "hex-lower" else "X"
        told = self.sent.of(checksum, self.checksum.width_bits)
        return format(told, f"0{self.size}{letter}").encode()


@dataclass(frozen=True, slots=True)
class LineProfile:
    """How one model talks.

    `together_s`: the silence that ends a press of `lines_of_press` lines, which are taken together;
    0 where each line is taken by itself. `leading_zeros`: whether
    zeros may fill up a number. `exponent`: whether each number is written with a power of ten.
    `implied_decimals`: so many of its last digits stand behind a decimal point that is not sent.
    `signs`: whether a number with this one is below zero.
    """

    needs: LinkNeeds
    manners: Manners
    terminator: bytes
    encoding: str
    limit_bytes: int
    line_timeout_s: float
    refuses_empty: bool
    together_s: float
    lines_of_press: int
    proof: Proof | None
    messages: tuple[Message, ...]
    decimal_sign: str
    thousands: str
    leading_zeros: bool
    exponent: bool
    implied_decimals: int
    signs: ClosedTable[bool]
    limits: Limits
    out_of_range: ClosedTable[Flag]
    units: ClosedTable[str]
    default_unit: str | None
    channel_key: str
    channels: ClosedTable[str]
    default_channel: str | None
    own_units: Mapping[str, str]
    has_count: bool
    is_channel_beside: bool


def from_tables(tables: ProfileTables) -> LineProfile:
    """The profile of tables that have no fault."""
    text = tables.text
    readings = [m for m in tables.message if m.means in (Means.READING, Means.STROKE)]
    has_count = tables.is_counted_beside or any("count" in m.groups for m in readings)
    return LineProfile(
        needs=tables.needs(),
        manners=tables.manners(has_count=has_count),
        terminator=text.terminator.encode("ascii"),
        encoding=text.encoding,
        limit_bytes=text.max_line_bytes,
        line_timeout_s=float(text.line_timeout_s),
        refuses_empty=text.empty == "noise",
        together_s=float(text.together_s),
        lines_of_press=max((line for m in tables.message for line in m.in_press), default=0),
        proof=_proof(tables),
        messages=tuple(map(_message, tables.message)),
        decimal_sign=tables.value.decimal,
        thousands=tables.value.thousands,
        leading_zeros=tables.value.leading_zeros,
        exponent=tables.value.exponent,
        implied_decimals=tables.value.implied_decimals,
        signs=ClosedTable({token: means == "minus" for token, means in tables.sign.tokens.items()}),
        limits=tables.value.limits(),
        out_of_range=ClosedTable(
            [
                *((token, Flag.OVER_RANGE) for token in dict.fromkeys(tables.value.over)),
                *((token, Flag.UNDER_RANGE) for token in dict.fromkeys(tables.value.under)),
            ]
        ),
        units=ClosedTable(tables.unit.tokens),
        default_unit=tables.unit.default,
        channel_key=tables.channel_key,
        channels=ClosedTable(tables.channels.tokens),
        default_channel=_default_channel(tables),
        own_units=OWN_UNITS.get(tables.kind, {}),
        has_count=has_count,
        is_channel_beside=tables.is_channel_beside,
    )


BESIDE = ""
"""The channel of a value of which another line of its press says it, until that is known."""


def _default_channel(tables: ProfileTables) -> str | None:
    if tables.kind is Quantity.STROKES:
        return TOTAL
    if tables.is_channel_beside:
        return BESIDE
    return tables.channels.default if tables.channel_key else ""


def _message(table: MessageTable) -> Message:
    values = tuple((VALUE_AT + token, token) for token in table.tokens_of_values)
    return Message(
        table.means,
        compiled(table.pattern),
        values or ((VALUE, None),),
        tuple(table.in_press),
        table.checksum,
        table.length,
        table.width,
    )


def _proof(tables: ProfileTables) -> Proof | None:
    table = tables.checksum
    if table is None:
        return None
    return Proof(
        CHECKSUMS[table.kind],
        table.after.encode("ascii"),
        table.form,
        table.first,
        table.with_after,
        table.sent,
    )
