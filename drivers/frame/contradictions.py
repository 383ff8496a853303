"""What the parts of a frame say twice and differently, told when the profile is loaded.

Allowed is what devices do: a status that is a number of the value's own bytes (7F FF), a code of
the unit in the same byte as one of the geometry, a `where` that holds any byte. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from acquire.driverkit.claims import Bits, Claim, Demand, clashes, excludes, implies
from acquire.errors import Fault
from acquire.schema import show
from drivers.frame.fields import shown
from drivers.frame.message import MessageTable
from drivers.frame.parts import (
    CHANNELS_AGAIN,
    BitsTable,
    CodeTable,
    ConditionTable,
    StatusTable,
    ValueTable,
)


def contradictions(message: MessageTable) -> Iterator[Fault]:
    """Those of one kind of frame, with their paths below it."""
    yield from _numbers(message)
    yield from _conditions(message)
    for index, value in enumerate(message.value):
        path = f"value[{index}].status"
        entries = [(f"status[{i}]", one) for i, one in enumerate(message.status)]
        entries += [(f"{path}[{i}]", one) for i, one in enumerate(value.status)]
        yield from _statuses(entries, len(message.status) if index else 0)
    if not message.value:
        yield from _statuses([(f"status[{i}]", one) for i, one in enumerate(message.status)], 0)


def known_by(message: MessageTable) -> Demand | None:
    """The bytes that tell a kind of frame from others; None where they contradict each other."""
    demand: dict[object, tuple[int, int]] = {}
    for condition in message.where:
        one = demand_of(condition)
        if excludes(one, demand):
            return None
        for place, (looked_at, bits) in one.items():
            mine, mine_are = demand.get(place, (0, 0))
            demand[place] = mine | looked_at, mine_are | bits
    return demand


def demand_of(condition: ConditionTable) -> Demand:
    """The bits that a condition looks at, and what they have to be."""
    masks = condition.mask or b"\xff" * len(condition.is_)
    return {
        condition.offset + place: (mask, byte)
        for place, (byte, mask) in enumerate(zip(condition.is_, masks, strict=False))
    }


def _numbers(message: MessageTable) -> Iterator[Fault]:
    """A number has its bits for itself; those that say something of a value may be shared."""
    wholes = [
        Claim(name, _whole(part.span))
        for name in ("count", "serial", "code")
        if (part := getattr(message, name)) is not None
    ]
    wholes += [Claim(f"value[{i}]", _whole(one.span)) for i, one in enumerate(message.value)]
    yield from clashes(wholes)
    for index, value in enumerate(message.value):
        path = f"value[{index}]"
        yield from clashes(list(_of_value(path, value)), wholes)
        for code in _codes(path, value):
            yield from clashes([code], wholes)


def _of_value(path: str, value: ValueTable) -> Iterator[Claim]:
    if value.decimals_at is not None:
        yield Claim(f"{path}.decimals_at", _masked(value.decimals_at))
    if value.exponent_at is not None:
        yield Claim(f"{path}.exponent_at", _whole(value.exponent_at.span))
    if value.minus is not None:
        demand = demand_of(value.minus)
        yield Claim(f"{path}.minus", {place: mask for place, (mask, _) in demand.items()})


def _codes(path: str, value: ValueTable) -> Iterator[Claim]:
    for name in ("unit_at", *CHANNELS_AGAIN):
        code = getattr(value, name)
        if code is not None:
            yield Claim(f"{path}.{name}", _masked(code))
    for name, code in value.channel_again:
        yield Claim(f"{path}.{name}", _masked(code))


def _whole(span: tuple[str, int, int]) -> Bits:
    _, first, size = span
    return dict.fromkeys(range(first, first + size), 0xFF)


def _masked(part: BitsTable | CodeTable) -> Bits:
    _, first, size = part.span
    masks = part.mask or b"\xff" * size
    return {first + place: mask for place, mask in enumerate(masks)}


def _conditions(message: MessageTable) -> Iterator[Fault]:
    demands = [demand_of(condition) for condition in message.where]
    for index, demand in enumerate(demands):
        for earlier in range(index):
            if excludes(demand, demands[earlier]):
                wanted = f"bits that can be beside those of where[{earlier}]"
                yield Fault(f"where[{index}].is", shown(message.where[index].is_), wanted)
                break


def _statuses(entries: Sequence[tuple[str, StatusTable]], told: int) -> Iterator[Fault]:
    """The first that holds decides, so one that an earlier one covers would never be told."""
    demands = [demand_of(status) for _, status in entries]
    for index, (path, status) in enumerate(entries):
        for earlier, (other_path, other) in enumerate(entries[: index if index >= told else 0]):
            same = (status.means, status.code) == (other.means, other.code)
            if not same and implies(demands[index], demands[earlier]):
                meant = show(other.code or other.means)
                wanted = f"bits that are not {meant} by {other_path} already"
                yield Fault(f"{path}.is", shown(status.is_), wanted)
                break
