"""A line profile as the codec and the driver use it: frozen, checked, compiled.

Pure; any thread.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from acquire.driverapi import LinkNeeds
from acquire.model import Flag, Quantity
from acquire.wire import CHECKSUMS, Checksum, ClosedTable
from drivers.line.fields import Means
from drivers.line.pattern import compiled
from drivers.line.tables import MessageTable, ProfileTables


@dataclass(frozen=True, slots=True)
class Message:
    """One kind of line. `line` is held against the whole text of a line."""

    means: Means
    line: re.Pattern[str]
    groups: frozenset[str]


@dataclass(frozen=True, slots=True)
class Proof:
    """The checksum at the end of a line: `after` stands before it, `digits` is its text."""

    checksum: Checksum
    after: bytes
    digits: str


@dataclass(frozen=True, slots=True)
class Ask:
    """What is sent on its own, and how often."""

    command: bytes
    every_s: float


@dataclass(frozen=True, slots=True)
class LineProfile:
    """How one model talks."""

    quantity: Quantity
    needs: LinkNeeds
    terminator: bytes
    encoding: str
    limit_bytes: int
    line_timeout_s: float
    proof: Proof | None
    messages: tuple[Message, ...]
    decimal_sign: str
    out_of_range: ClosedTable[Flag]
    units: ClosedTable[str]
    default_unit: str | None
    geometries: ClosedTable[str]
    default_geometry: str | None
    echo_window_s: float
    repeat_window_s: float
    highest_count: int | None
    first_is_echo: bool
    has_count: bool
    ask: Ask | None
    take: bytes
    identify: bytes
    answer_within_s: float
    silent_after: int


def from_tables(tables: ProfileTables) -> LineProfile:
    """The profile of tables that have no fault."""
    line, text, press = tables.line, tables.text, tables.press
    is_gloss = tables.kind is Quantity.GLOSS
    readings = [m for m in tables.message if m.means is Means.READING]
    is_asked = tables.ask is not None
    first_is_echo = press.first_after_connect_is_echo
    return LineProfile(
        quantity=tables.kind,
        needs=LinkNeeds(
            baud_rate=line.baud_rate,
            data_bits=line.data_bits,
            parity=line.parity,
            stop_bits=float(line.stop_bits),
            flow_control=line.flow_control,
        ),
        terminator=text.terminator.encode("ascii"),
        encoding=text.encoding,
        limit_bytes=text.max_line_bytes,
        line_timeout_s=float(text.line_timeout_s),
        proof=_proof(tables),
        messages=tuple(map(_message, tables.message)),
        decimal_sign=tables.value.decimal,
        out_of_range=ClosedTable(
            [
                *((token, Flag.OVER_RANGE) for token in dict.fromkeys(tables.value.over)),
                *((token, Flag.UNDER_RANGE) for token in dict.fromkeys(tables.value.under)),
            ]
        ),
        units=ClosedTable(tables.unit.tokens),
        default_unit=tables.unit.default,
        geometries=ClosedTable(tables.geometry.tokens),
        default_geometry=tables.geometry.default if is_gloss else "",
        echo_window_s=float(press.echo_window_s),
        repeat_window_s=float(press.repeat_window_s),
        highest_count=press.highest_count,
        first_is_echo=is_asked if first_is_echo is None else first_is_echo,
        has_count=any("count" in message.groups for message in readings),
        ask=Ask(_bytes(tables.ask.command), float(tables.ask.every_s)) if tables.ask else None,
        take=_bytes(tables.take.command) if tables.take else b"",
        identify=_bytes(tables.identify.command) if tables.identify else b"",
        answer_within_s=float(tables.answer.within_s),
        silent_after=tables.answer.silent_after,
    )


def _message(table: MessageTable) -> Message:
    return Message(table.means, compiled(table.pattern), table.groups)


def _proof(tables: ProfileTables) -> Proof | None:
    table = tables.checksum
    if table is None:
        return None
    checksum = CHECKSUMS[table.kind]
    letter = "X" if table.form == "hex-upper" else "x"
    return Proof(checksum, table.after.encode("ascii"), f"0{checksum.width_bits // 4}{letter}")


def _bytes(command: str) -> bytes:
    return command.encode("latin-1")
