"""What a hid profile says of a report twice and differently, told when it is loaded.

Places by usage are told apart by the device's own descriptor; only the same usage twice is known
beforehand. Allowed is what devices do: a number of the value itself that means zero or out of
range, and several meanings that go together. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator

from acquire.driverkit.claims import Bits, Claim, clashes, shared
from acquire.errors import Fault
from acquire.schema import show
from drivers.hid.entries import Entries, FlagTable, Place

_EXCLUDE = (
    frozenset(("stable", "moving")),
    frozenset(("zero", "moving")),
    frozenset(("over", "under")),
    frozenset(("button", "adjusted")),
)
_BESIDE_A_VALUE = ("stable", "moving", "button", "adjusted")
"""These hold while a value is read, so that their bits would add to its number."""


def contradictions(tables: Entries) -> Iterator[Fault]:
    """All of them, each at the later of its two entries."""
    values = [Claim(f"value[{i}]", _bits(one)) for i, one in enumerate(tables.value)]
    count = [Claim("count", _bits(tables.count))] if tables.count is not None else []
    yield from clashes([*values, *count])
    flags = [(Claim(f"flag[{i}]", _bits(one)), one) for i, one in enumerate(tables.flag)]
    for claim, flag in flags:
        yield from clashes([claim], [*(values if flag.means in _BESIDE_A_VALUE else []), *count])
    for index, (claim, flag) in enumerate(flags):
        for other_claim, other in flags[:index]:
            if shared(claim.bits, other_claim.bits) and _exclude(flag, other):
                wanted = f"a place, or values, that are not {other.means} by {other_claim.path}"
                yield Fault(claim.path, f"{flag.means} at the same values", wanted)
                break
    yield from _never(tables)


def _exclude(flag: FlagTable, other: FlagTable) -> bool:
    is_same_place = (flag.bit, flag.type, flag.order) == (other.bit, other.type, other.order)
    both = is_same_place and not set(flag.values).isdisjoint(other.values)
    return both and frozenset((flag.means.value, other.means.value)) in _EXCLUDE


def _never(tables: Entries) -> Iterator[Fault]:
    """Numbers that the bytes named can never be."""
    entries: list[tuple[str, Place, list[int]]] = []
    for i, value in enumerate(tables.value):
        entries += [(f"value[{i}].over", value, value.over)]
        entries += [(f"value[{i}].under", value, value.under)]
    entries += [(f"flag[{i}].values", flag, flag.values) for i, flag in enumerate(tables.flag)]
    for path, place, numbers in entries:
        if place.byte is None or place.type.startswith("float"):
            continue
        width = 8 * place.type.width if place.bit is None else 1
        least = -(1 << (width - 1)) if place.type.startswith("int") else 0
        most = least + (1 << width) - 1
        for index, number in enumerate(numbers):
            if not least <= number <= most:
                wanted = f"{least} to {most}, which is all that these bits can be"
                yield Fault(f"{path}[{index}]", show(number), wanted)


def _bits(place: Place) -> Bits:
    if place.byte is None:
        return {(place.report, place.usage, place.nth): 1}
    mask = 0xFF if place.bit is None else 1 << place.bit
    return {(place.report, place.byte + i): mask for i in range(place.type.width)}
