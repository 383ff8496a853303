"""What was judged or re-adjusted and may have made readings suspect, until somebody asks. Pure."""

from __future__ import annotations

from acquire.store.found import MadeSuspect


class Unsettled:
    """Numbers of checks and of notices since they were taken last. The desk's thread."""

    def __init__(self) -> None:
        self.checks: list[int] = []
        self.notices: list[int] = []

    def __bool__(self) -> bool:
        return bool(self.checks or self.notices)

    def take(self) -> MadeSuspect:
        """All of them; none is left."""
        by = MadeSuspect(self.checks, self.notices)
        self.checks, self.notices = [], []
        return by
