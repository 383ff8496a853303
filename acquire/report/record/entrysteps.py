"""The step of the display that entries were held against: of a meter whose readings are typed.

Its profile says the step, and the daemon takes no entry between two steps. A profile can be changed
from one connection to the next, so it is that of then, as the store keeps it. Reads; the reader's
thread.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from decimal import Decimal, InvalidOperation
from typing import NamedTuple

from acquire.errors import CoatbenchError
from acquire.report.record.described import Descriptions
from acquire.schema import parse_toml
from acquire.store import StoreReader


class EntryStep(NamedTuple):
    """A step, in the unit that the meter shows, and the profile that says so."""

    size: Decimal
    unit: str
    profile: str


def entry_steps(reader: StoreReader, connections: Iterable[int]) -> dict[int, EntryStep]:
    """The step behind the entries of these connections, by connection.

    One whose profile of then is not kept, or says no step, has none here.
    """
    found: dict[int, EntryStep] = {}
    wanted = sorted(set(connections))
    if not wanted:
        return found
    known = Descriptions(reader)
    for number in wanted:
        for connection in reader.rows("SELECT * FROM connection WHERE id = ?", (number,)):
            described = known.of(connection)
            if described is None:
                continue
            # A damaged profile is told by whoever verifies the store.
            with suppress(CoatbenchError):
                name = described["profile"]
                entry = parse_toml(described["profile_text"], f"profile {name} as stored")
                step = _step(entry.get("entry"), name)
                if step is not None:
                    found[number] = step
    return found


def _step(entry: object, profile: str) -> EntryStep | None:
    if not isinstance(entry, dict):
        return None
    try:
        size = Decimal(str(entry.get("step")))
    except InvalidOperation:
        return None
    unit = entry.get("unit")
    if not (size.is_finite() and size > 0 and isinstance(unit, str)):
        return None
    return EntryStep(size, unit, profile)
