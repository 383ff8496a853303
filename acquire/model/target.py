"""Where the next reading belongs."""

from __future__ import annotations

from typing import NamedTuple


class Target(NamedTuple):
    """One place to be filled: a zone at a stage, the replicate counted from 1."""

    zone: str
    stage: str
    replicate: int

    def __str__(self) -> str:
        return f"zone {self.zone}, {self.stage}, replicate {self.replicate}"


class Slot(NamedTuple):
    """One value wanted at a target: a meter of several channels fills several slots a press."""

    target: Target
    channel: str
