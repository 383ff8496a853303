"""A Modbus profile as the codec and the driver use it: frozen, checked, its requests planned.

Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from acquire.driverapi import LinkNeeds
from acquire.driverkit import PressRules
from acquire.driverkit.presses import may_miss
from acquire.model import TOTAL, Quantity
from acquire.wire import ClosedTable
from drivers.modbus.entries import BitTable, IdentityTable, PlaceTable, ValueTable
from drivers.modbus.request import (
    MOST_BITS,
    MOST_REGISTERS,
    Block,
    Request,
    Table,
    read_object,
    report_server_id,
    write_coil,
    write_register,
)
from drivers.modbus.tables import ModbusTables
from drivers.modbus.words import Form, Kind

# MODBUS over Serial Line V1.02, chapter 2.5.1.1: 3.5 characters of 11 bits, and above 19200 baud
# always 1.750 ms.
_SILENT_CHARACTERS = Decimal("3.5")
_BITS_OF_A_CHARACTER = 11
_FIXED_FROM_BAUD = 19200
_FIXED_SILENCE_S = Decimal("0.00175")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a number is, and its form."""

    table: Table
    address: int
    form: Form

    @property
    def registers(self) -> int:
        return self.form.kind.registers


@dataclass(frozen=True, slots=True)
class BitPlace:
    """Where a bit is. `bit` is 0 for a coil or discrete input."""

    table: Table
    address: int
    bit: int


@dataclass(frozen=True, slots=True)
class Trouble:
    """A bit that says what is wrong; `spoils`: no reading counts while it is set."""

    place: BitPlace
    text: str
    spoils: bool


@dataclass(frozen=True, slots=True)
class Value:
    """One value of a press."""

    place: Place
    scale: Decimal
    unit: str | None
    channel: str | None
    over: frozenset[int]
    under: frozenset[int]
    absent: frozenset[int]
    over_bit: BitPlace | None
    under_bit: BitPlace | None


@dataclass(frozen=True, slots=True)
class Identity:
    """How the serial number is asked for. `form` is None for text."""

    request: Request
    source: str
    form: Form | None
    first_byte: int = 0
    size: int | None = None
    object: int = 0


@dataclass(frozen=True, slots=True)
class Plan:
    """What one poll reads, in order.

    `watch`: the first block holds the count or the ready bit; the others are read only if it has
    news, and where there are others it is read again at the end, for a press in between would put
    the value of one result under the count of another.
    """

    blocks: tuple[Block, ...]
    watch: bool


@dataclass(frozen=True, slots=True)
class ModbusProfile:
    """How one model talks."""

    needs: LinkNeeds
    quantity: Quantity
    is_rtu: bool
    unit_address: int
    plan: Plan
    poll_ns: int
    within_ns: int
    gap_s: float
    quiet_ns: int
    silent_after: int
    values: tuple[Value, ...]
    unit_at: Place | None
    units: ClosedTable[str]
    channel_key: str
    channel_at: Place | None
    channels: ClosedTable[str]
    count: Place | None
    ready: BitPlace | None
    adjusted: Place | None
    troubles: tuple[Trouble, ...]
    presses: PressRules
    is_state: bool
    drops_same: bool
    identity: Identity | None
    take: Request | None
    settle_ns: int


def from_tables(tables: ModbusTables) -> ModbusProfile:
    """The profile of tables that have no fault."""
    answer, press, line, take = tables.answer, tables.press, tables.line, tables.take
    has_watch = tables.count is not None or tables.ready is not None
    first_is_echo = press.first_after_connect_is_echo
    needs = LinkNeeds(has_line=False)
    if line is not None:
        needs = LinkNeeds(
            baud_rate=line.baud_rate,
            data_bits=line.data_bits,
            parity=line.parity,
            stop_bits=float(line.stop_bits),
            flow_control=line.flow_control,
        )
    return ModbusProfile(
        needs=needs,
        quantity=tables.kind,
        is_rtu=tables.transport == "rtu",
        unit_address=tables.unit_address,
        plan=plan_of(tables),
        poll_ns=_ns(tables.poll.every_s),
        within_ns=_ns(answer.within_s),
        gap_s=float(answer.gap_s),
        quiet_ns=1 if line is None else _ns(silence_s(line.baud_rate)),
        silent_after=answer.silent_after,
        values=tuple(
            _value(one, tables.unit.default, is_counter=tables.kind is Quantity.STROKES)
            for one in tables.value
        ),
        unit_at=_place(tables.unit.at),
        units=ClosedTable(tables.unit.codes),
        channel_key=tables.channel_key,
        channel_at=_place(tables.channels.at),
        channels=ClosedTable(tables.channels.codes),
        count=_place(tables.count),
        ready=_bit(tables.ready),
        adjusted=_place(tables.adjusted),
        troubles=tuple(Trouble(_sure(t), t.text, t.spoils) for t in tables.trouble),
        presses=PressRules(
            has_count=tables.count is not None,
            highest_count=press.highest_count,
            first_is_echo=has_watch and not tables.is_state
            if first_is_echo is None
            else first_is_echo,
            may_miss=may_miss(float(tables.poll.every_s)),
            proven_count=press.proven_count,
            may_be_packed=press.may_be_packed,
        ),
        is_state=tables.is_state,
        drops_same=tables.kind is Quantity.STROKES,
        identity=_identity(tables.identity),
        take=None
        if take is None
        else write_coil(take.address, take.value == 1)
        if take.table == "coil"
        else write_register(take.address, take.value),
        settle_ns=0 if take is None else _ns(take.settle_s),
    )


def silence_s(baud_rate: int) -> Decimal:
    """The silence that stands between two frames on a serial line."""
    if baud_rate > _FIXED_FROM_BAUD:
        return _FIXED_SILENCE_S
    return _SILENT_CHARACTERS * _BITS_OF_A_CHARACTER / baud_rate


def plan_of(tables: ModbusTables) -> Plan:
    """As few requests as the standard and the holes of the address map allow."""
    watched = _watched(tables)
    bridge = tables.poll.bridge_registers
    blocks: list[Block] = []
    for table, first, length in sorted(set(_fields(tables))):
        if blocks:
            last = blocks[-1]
            end = max(last.first + last.length, first + length)
            most = MOST_BITS if table.has_bits else MOST_REGISTERS
            hole = first - last.first - last.length
            if table is last.table and hole <= bridge and end - last.first <= most:
                blocks[-1] = Block(table, last.first, end - last.first)
                continue
        blocks.append(Block(table, first, length))
    if watched is None:
        return Plan(tuple(blocks), False)
    watch = next(block for block in blocks if block.holds(*watched))
    others = [block for block in blocks if block is not watch]
    return Plan((watch, *others, watch) if others else (watch,), True)


def _watched(tables: ModbusTables) -> tuple[Table, int, int] | None:
    if tables.count is not None:
        return _span(tables.count)
    if tables.is_state:
        return _span(tables.value[0])
    return None if tables.ready is None else _span(tables.ready)


def _fields(tables: ModbusTables) -> Iterator[tuple[Table, int, int]]:
    places: Iterable[PlaceTable | BitTable | None] = (
        tables.count,
        tables.ready,
        tables.adjusted,
        tables.unit.at,
        tables.channels.at,
        *tables.trouble,
        *tables.value,
        *(bit for value in tables.value for bit in (value.over_bit, value.under_bit)),
    )
    for place in places:
        if place is not None:
            yield _span(place)


def _span(place: PlaceTable | BitTable) -> tuple[Table, int, int]:
    registers = place.type.registers if isinstance(place, PlaceTable) else 1
    return Table(place.table), place.address, registers


def _place(table: PlaceTable | None) -> Place | None:
    return None if table is None else Place(Table(table.table), table.address, table.form())


def _sure(table: BitTable) -> BitPlace:
    return BitPlace(table.table, table.address, table.bit or 0)


def _bit(table: BitTable | None) -> BitPlace | None:
    return None if table is None else _sure(table)


def _value(table: ValueTable, default_unit: str | None, *, is_counter: bool) -> Value:
    return Value(
        Place(Table(table.table), table.address, table.form()),
        table.scale,
        table.unit or default_unit,
        TOTAL if is_counter else table.geometry or table.band or table.part,
        frozenset(table.over),
        frozenset(table.under),
        frozenset(table.absent),
        _bit(table.over_bit),
        _bit(table.under_bit),
    )


def _identity(table: IdentityTable | None) -> Identity | None:
    if table is None:
        return None
    if table.source == "server-id":
        return Identity(report_server_id(), table.source, None, table.first_byte, table.bytes)
    if table.source == "device-object":
        number = table.object or 0
        return Identity(read_object(number), table.source, None, object=number)
    at = table.at
    assert at is not None
    is_text = table.registers is not None
    form = Form(Kind.UINT16, at.form().high_word_first, at.form().high_byte_first)
    block = Block(Table(at.table), at.address, table.registers or at.type.registers)
    if is_text:
        return Identity(block.request(), "text", form)
    return Identity(block.request(), "number", at.form())


def _ns(seconds: Decimal) -> int:
    return max(1, round(seconds * 1_000_000_000))
