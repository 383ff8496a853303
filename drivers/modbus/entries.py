"""The entries of a Modbus profile, each by itself.

Documented line by line in ``config/profiles/modbus-gloss.toml``. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from acquire.driverkit.fields import (
    Angle,
    Part,
    Seconds,
    SecondsOrNone,
)
from acquire.driverkit.tables import LineTable, PressTable
from acquire.errors import Fault
from acquire.model import Quantity
from acquire.schema import Name, Number, Schema, rule, show
from acquire.schema.band import Band
from drivers.modbus.fields import HIGHEST_ADDRESS, Address, Bit, Bits, Code, Scale
from drivers.modbus.request import MOST_REGISTERS, Table
from drivers.modbus.words import Form, Kind

RegisterTable = Literal["holding", "input"]
Order = Literal["high-first", "low-first"]
SHORTEST_POLL_S = Decimal("0.02")


class PlaceTable(Schema):
    """A register with its type. The type of a count or a code is a whole number."""

    table: RegisterTable
    address: Address
    type: Annotated[Kind, Field(strict=False)] = Kind.UINT16
    word_order: Order = "high-first"
    byte_order: Order = "high-first"

    @rule
    def it_ends_within_the_table(self) -> Iterator[Fault]:
        if self.address + self.type.registers - 1 > HIGHEST_ADDRESS:
            wanted = f"room for the {self.type.registers} registers of {self.type}"
            yield Fault("address", show(self.address), wanted)

    def form(self) -> Form:
        """Type and orders; of a table that has no fault."""
        return Form(self.type, self.word_order == "high-first", self.byte_order == "high-first")


class BitTable(Schema):
    """One bit: a coil, a discrete input, or a bit of a register."""

    table: Annotated[Table, Field(strict=False)]
    address: Address
    bit: Bit | None = None

    @rule
    def a_bit_of_a_register_has_a_number(self) -> Iterator[Fault]:
        if self.table.has_bits and self.bit is not None:
            yield Fault("bit", show(self.bit), f"none: a {self.table} is a bit already")
        if not self.table.has_bits and self.bit is None:
            yield Fault("bit", "nothing", "0 (the lowest) to 15, the bit of the register")


class TroubleTable(BitTable):
    text: Name
    spoils: bool = True


class ValueTable(PlaceTable):
    type: Annotated[Kind, Field(strict=False)]
    scale: Scale = Decimal(1)
    unit: str | None = None
    geometry: Angle | None = None
    band: Band | None = None
    part: Part | None = None
    over: Bits = Field(default_factory=list)
    under: Bits = Field(default_factory=list)
    absent: Bits = Field(default_factory=list)
    over_bit: BitTable | None = None
    under_bit: BitTable | None = None

    @rule
    def a_pattern_of_bits_means_one_thing(self) -> Iterator[Fault]:
        width = 16 * self.type.registers
        seen: dict[int, str] = {}
        for name in ("over", "under", "absent"):
            for index, bits in enumerate(getattr(self, name)):
                if bits >> width:
                    yield Fault(f"{name}[{index}]", hex(bits), f"at most {width} bits")
                if bits in seen:
                    wanted = f"a number that is not in {seen[bits]} as well"
                    yield Fault(f"{name}[{index}]", hex(bits), wanted)
                seen[bits] = name


class UnitTable(Schema):
    default: str | None = None
    at: PlaceTable | None = None
    codes: dict[Code, str] = Field(default_factory=dict, max_length=64)


class GeometryTable(Schema):
    at: PlaceTable | None = None
    codes: dict[Code, Angle] = Field(default_factory=dict, max_length=64)


class BandTable(Schema):
    at: PlaceTable | None = None
    codes: dict[Code, Band] = Field(default_factory=dict, max_length=64)


class PartTable(Schema):
    at: PlaceTable | None = None
    codes: dict[Code, Part] = Field(default_factory=dict, max_length=8)


class PollTable(Schema):
    every_s: Annotated[Number, Field(ge=SHORTEST_POLL_S, le=3600)] = Decimal("0.25")
    bridge_registers: Annotated[int, Field(ge=0, le=MOST_REGISTERS - 2)] = 0


class IdentityTable(Schema):
    source: Literal["registers", "server-id", "device-object"]
    at: PlaceTable | None = None
    registers: Annotated[int, Field(ge=1, le=32)] | None = None
    object: Annotated[int, Field(ge=0, le=255)] | None = None
    first_byte: Annotated[int, Field(ge=0, le=64)] = 0
    bytes: Annotated[int, Field(ge=1, le=64)] | None = None

    @rule
    def each_source_has_what_it_needs(self) -> Iterator[Fault]:
        is_registers = self.source == "registers"
        if is_registers and self.at is None:
            yield Fault("at", "nothing", "where the serial number is: { table, address }")
        if not is_registers and self.at is not None:
            yield Fault("at", "a table", f"none with {show(self.source)}")
        if self.registers is not None and not is_registers:
            yield Fault("registers", show(self.registers), f"none with {show(self.source)}")
        if self.source == "device-object" and self.object is None:
            yield Fault("object", "nothing", "the number of the object, from 0 to 255")
        if self.source != "device-object" and self.object is not None:
            yield Fault("object", show(self.object), f"none with {show(self.source)}")
        if self.source != "server-id" and (self.first_byte or self.bytes is not None):
            yield Fault("first_byte", show(self.first_byte), "this and bytes with server-id alone")


class TakeTable(Schema):
    table: Literal["holding", "coil"]
    address: Address
    value: Annotated[int, Field(ge=0, le=HIGHEST_ADDRESS)] = 1
    settle_s: SecondsOrNone = Decimal(0)

    @rule
    def a_coil_is_on_or_off(self) -> Iterator[Fault]:
        if self.table == "coil" and self.value > 1:
            yield Fault("value", show(self.value), "1 (on) or 0 (off) for a coil")


class AnswerTable(Schema):
    within_s: Seconds = Decimal("0.5")
    gap_s: Seconds = Decimal("0.1")
    silent_after: Annotated[int, Field(ge=1, le=1000)] = 3

    @rule
    def a_gap_is_shorter_than_the_wait(self) -> Iterator[Fault]:
        if self.gap_s > self.within_s:
            yield Fault("gap_s", show(self.gap_s), f"at most within_s, {self.within_s}")


class Entries(Schema):
    """All entries of a profile, each sound by itself."""

    about: Name | None = None
    kind: Annotated[Quantity, Field(strict=False)]
    transport: Literal["rtu", "tcp"]
    unit_address: int
    line: LineTable | None = None
    poll: PollTable = PollTable()
    value: Annotated[list[ValueTable], Field(min_length=1, max_length=16)]
    unit: UnitTable = UnitTable()
    geometry: GeometryTable = GeometryTable()
    band: BandTable = BandTable()
    part: PartTable = PartTable()
    count: PlaceTable | None = None
    ready: BitTable | None = None
    adjusted: PlaceTable | None = None
    trouble: Annotated[list[TroubleTable], Field(max_length=32)] = Field(default_factory=list)
    press: PressTable = PressTable()
    identity: IdentityTable | None = None
    take: TakeTable | None = None
    answer: AnswerTable = AnswerTable()
