"""What a Modbus profile says of a register twice and differently, told when it is loaded.

Allowed is what devices do: the same number in two tables, codes of unit and channel in one
register, a bit of a value's own register that spoils it or says that it is out of range. Pure;
any thread.
"""

from __future__ import annotations

from collections.abc import Iterator

from acquire.driverkit.claims import Bits, Claim, clashes, shared
from acquire.errors import Fault
from drivers.modbus.entries import BitTable, Entries, PlaceTable
from drivers.modbus.request import Table

_WHOLE = 0xFFFF


def contradictions(tables: Entries) -> Iterator[Fault]:
    """All of them, each at the later of its two entries."""
    values = [Claim(f"value[{i}]", _registers(one)) for i, one in enumerate(tables.value)]
    counts = [
        Claim(name, _registers(place))
        for name, place in (("count", tables.count), ("adjusted", tables.adjusted))
        if place is not None
    ]
    numbers = [*values, *counts]
    yield from clashes(numbers)
    for claim in _codes_and_names(tables):
        yield from clashes([claim], numbers)
    yield from _bits(tables, values, counts)
    take = tables.take
    if take is not None:
        written = Claim("take", {(Table(take.table), take.address): _WHOLE})
        yield from clashes([written], numbers)


def _codes_and_names(tables: Entries) -> Iterator[Claim]:
    for name, place in (
        ("unit.at", tables.unit.at),
        ("geometry.at", tables.geometry.at),
        ("band.at", tables.band.at),
        ("part.at", tables.part.at),
    ):
        if place is not None:
            yield Claim(name, _registers(place))
    identity = tables.identity
    if identity is not None and identity.at is not None:
        yield Claim("identity.at", _registers(identity.at, identity.registers))


def _bits(tables: Entries, values: list[Claim], counts: list[Claim]) -> Iterator[Fault]:
    # While it is set, which it is whenever a result is read, a bit adds to the number of its
    # register. One that takes the result away adds nothing to any reading.
    ready = None if tables.ready is None else Claim("ready", _bit(tables.ready))
    if ready is not None:
        yield from clashes([ready], [*values, *counts])
    told = [Claim(f"trouble[{i}]", _bit(one)) for i, one in enumerate(tables.trouble)]
    yield from clashes(told, [*([ready] if ready else []), *counts])
    for claim, trouble in zip(told, tables.trouble, strict=True):
        if not trouble.spoils:
            yield from clashes([claim], values)
    spoiling = [c for c, one in zip(told, tables.trouble, strict=True) if one.spoils]
    for index, value in enumerate(tables.value):
        over, under = (
            None if bit is None else Claim(f"value[{index}].{name}", _bit(bit))
            for name, bit in (("over_bit", value.over_bit), ("under_bit", value.under_bit))
        )
        others = [*([ready] if ready else []), *counts, *spoiling]
        for one in filter(None, (over, under)):
            yield from clashes([one], others)
        if over is not None and under is not None and shared(over.bits, under.bits):
            yield Fault(under.path, "the bit of over_bit", "a bit of its own")


def _registers(place: PlaceTable, count: int | None = None) -> Bits:
    first, registers = place.address, count or place.type.registers
    table = Table(place.table)
    return {(table, address): _WHOLE for address in range(first, first + registers)}


def _bit(place: BitTable) -> Bits:
    mask = _WHOLE if place.table.has_bits else 1 << (place.bit or 0)
    return {(place.table, place.address): mask}
