"""Where a reading belongs: its tags in the store, and why it has none. Pure."""

from __future__ import annotations

from typing import NamedTuple


class Place(NamedTuple):
    """A reading's tags, as `ReadingRow` has them."""

    role: str
    run_id: int | None = None
    zone: str | None = None
    stage: str | None = None
    replicate: int | None = None
    check_id: int | None = None
    unchecked: int = 0
    piece: str | None = None
    loose_reason: str | None = None


def loose(reason: str) -> Place:
    return Place("loose", loose_reason=reason)
