"""The tables of a Modbus profile and the rules between them, before anything is made of them.

Documented line by line in ``config/profiles/modbus-gloss.toml``. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from acquire.driverkit.fields import (
    CHANNEL_KEYS,
    CHANNEL_WORDS,
    STATES,
    UNITS,
    Angle,
    Part,
    Seconds,
    SecondsOrNone,
)
from acquire.driverkit.tables import LineTable, PressTable
from acquire.errors import Fault
from acquire.model import Quantity
from acquire.schema import Name, Number, Schema, either, rule, show, sound
from acquire.schema.band import Band
from drivers.modbus.contradictions import contradictions
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


class ModbusTables(Schema):
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

    @rule
    def the_unit_address_is_one_of_the_transport(self) -> Iterator[Fault]:
        # 0 is everybody on a serial line and 248 to 255 are reserved there; on TCP 0 and 255 mean
        # the device itself, without a gateway (Implementation Guide V1.0b, chapter 4.4.2.1).
        unit, is_rtu = self.unit_address, self.transport == "rtu"
        if not (1 <= unit <= 247 or (not is_rtu and unit in (0, 255))):
            wanted = "1 to 247" if is_rtu else "1 to 247, or 0 or 255 for a device without gateway"
            yield Fault("unit_address", show(unit), wanted)

    @rule
    def a_serial_line_has_settings(self) -> Iterator[Fault]:
        if self.transport == "tcp":
            if self.line is not None:
                yield Fault("line", "a table", 'none: transport = "tcp" has no serial line')
            return
        if self.line is None:
            wanted = "a table with baud_rate and parity as in the device's manual"
            yield Fault("line", "nothing", wanted)
        elif self.line.data_bits != 8:
            wanted = "8: Modbus RTU sends bytes of 8 bits"
            yield Fault("line.data_bits", show(self.line.data_bits), wanted)

    @rule
    def an_old_result_can_be_told_from_a_new_one(self) -> Iterator[Fault]:
        if self.count is not None and self.ready is not None:
            yield Fault("ready", "a table beside count", "one of both: the count says more")
        if self.is_state:
            for name in ("count", "ready", "take"):
                if getattr(self, name) is not None:
                    wanted = f"none: the registers of a {self.kind} say how it stands at any moment"
                    yield Fault(name, "a table", wanted)
        elif self.count is None and self.ready is None and self.take is None:
            wanted = (
                "a count of presses, or a ready bit, without which an old result looks like a new "
                "one; or a [take], and then only what was taken with it is read"
            )
            yield Fault("count", "nothing", wanted)

    @rule
    def counts_and_codes_are_whole_numbers(self) -> Iterator[Fault]:
        places = [("count", self.count), ("adjusted", self.adjusted)]
        places += [("unit.at", self.unit.at), ("geometry.at", self.geometry.at)]
        places += [("band.at", self.band.at), ("part.at", self.part.at)]
        for name, place in places:
            if place is not None and not place.type.is_whole:
                yield Fault(f"{name}.type", show(place.type), "uint16 and its like, or bcd16")

    @rule
    def every_value_has_a_unit_of_its_kind(self) -> Iterator[Fault]:
        known, unit = UNITS[self.kind], self.unit
        named = [("unit.default", unit.default)]
        named += [(f"unit.codes.{code}", name) for code, name in unit.codes.items()]
        named += [(f"value[{i}].unit", one.unit) for i, one in sound(self.value, "unit")]
        for path, name in named:
            if name is not None and name not in known:
                yield Fault(path, show(name), f"{either(known)} for {self.kind}")
        if (unit.at is None) != (not unit.codes):
            missing = "unit.at" if unit.at is None else "unit.codes"
            yield Fault(missing, "nothing", "at and codes together")
        if unit.at is not None and unit.default is not None:
            yield Fault("unit.default", show(unit.default), "none: unit.at says the unit")
        for i, one in sound(self.value, "unit"):
            if one.unit is None and unit.default is None and unit.at is None:
                yield Fault(f"value[{i}].unit", "nothing", f"{either(known)}, or unit.at")

    @rule
    def every_value_has_the_channel_of_its_kind(self) -> Iterator[Fault]:
        own = self.channel_key
        named = (("geometry", self.geometry), ("band", self.band), ("part", self.part))
        for key, table in named:
            if key != own:
                if table.at is not None or table.codes:
                    yield Fault(key, "a table", f"none: {self.kind} has no {key}")
                for i, one in sound(self.value, key):
                    if (found := getattr(one, key)) is not None:
                        wanted = f"none: {self.kind} has no {key}"
                        yield Fault(f"value[{i}].{key}", show(found), wanted)
            elif (table.at is None) != (not table.codes):
                missing = "at" if table.at is None else "codes"
                yield Fault(f"{key}.{missing}", "nothing", "at and codes together")
        if not own:
            if len(self.value) > 1:
                yield Fault("value", f"{len(self.value)} values", f"one for {self.kind}")
            return
        channels, example = self.channels, CHANNEL_WORDS[own]
        seen: dict[str | None, int] = {}
        for i, one in sound(self.value, own):
            path, channel = f"value[{i}].{own}", getattr(one, own)
            if channel is None and channels.at is None:
                yield Fault(path, "nothing", f"{example}, or {own}.at")
            elif channel is None and len(self.value) > 1:
                yield Fault(path, "nothing", f"{example}: one code cannot say it of several values")
            elif (earlier := seen.setdefault(channel, i)) != i:
                yield Fault(path, show(channel), f"another one than value[{earlier}] has")

    @rule
    def no_register_is_read_as_two_things(self) -> Iterator[Fault]:
        yield from contradictions(self)

    @property
    def channel_key(self) -> str:
        """What a channel is called here: geometry, band, or nothing."""
        return CHANNEL_KEYS.get(self.kind, "")

    @property
    def channels(self) -> GeometryTable | BandTable | PartTable:
        """The register that tells the channel, with its codes."""
        if self.channel_key == "part":
            return self.part
        return self.band if self.channel_key == "band" else self.geometry

    @property
    def is_state(self) -> bool:
        """Whether its registers say how it stands now, so that none holds an old result."""
        return self.kind in STATES

    @rule
    def windows_belong_to_meters_that_send_by_themselves(self) -> Iterator[Fault]:
        press = self.press
        for name in ("echo_window_s", "repeat_window_s"):
            if value := getattr(press, name):
                wanted = "0: a Modbus device speaks only when it is asked"
                yield Fault(f"press.{name}", show(value), wanted)
        if press.lowest_count != 1:
            wanted = "1: a count of 0 means that there was no press since power-on"
            yield Fault("press.lowest_count", show(press.lowest_count), wanted)
        if self.count is None:
            yield from press.unfit(is_counted=False, count="a [count]")
