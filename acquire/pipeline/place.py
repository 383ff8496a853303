"""Where a reading belongs: its tags in the store, and why it has none. Pure."""

from __future__ import annotations

from typing import NamedTuple

from acquire.model import Target


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

    @property
    def target(self) -> Target | None:
        """The target that is filled."""
        if self.zone is None or self.stage is None or self.replicate is None:
            return None
        return Target(self.zone, self.stage, self.replicate)


def loose(reason: str) -> Place:
    return Place("loose", loose_reason=reason)
