"""Notices that a failed check has opened places of the run again. Pure; the screen's thread.

No row says which readings became suspect: the store derives it from the checks. What a screen sees
is a check that did not pass and, in the status of about the same moment, more open places than
before. Row and status come by different ways and in either order. Decides nothing about readings.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

PATIENCE = 3
"""Statuses within which the failure and the opened places must both be heard of."""


class Suspects:
    """Fed with rows and statuses; says when places were opened again, and by which check."""

    def __init__(self) -> None:
        self._run: int | None = None
        self._left = 0
        # Places opened of late less the voids of late, which open one place each.
        self._opened = 0
        self._opened_for = 0
        self._failed: tuple[int, str] | None = None
        self._failed_for = 0

    def hear(self, item: Mapping[str, Any]) -> None:
        """A stored row."""
        table = item.get("table")
        if table == "void":
            self._opened -= 1
            self._opened_for = PATIENCE
        elif table == "check_judgement":
            self._failed = (
                None if item["outcome"] == "pass" else (item["check_id"], item["outcome"])
            )
            self._failed_for = PATIENCE

    def stand(self, status: Mapping[str, Any]) -> tuple[str, str] | None:
        """A status; gives instrument and sentence where readings have become suspect."""
        run = status["run"]
        if run is None or run["run_id"] != self._run:
            self._run = None if run is None else run["run_id"]
            self._left = 0 if run is None else run["slots_left"]
            self._opened = 0
            return None
        rise, self._left = run["slots_left"] - self._left, run["slots_left"]
        if rise > 0:
            self._opened += rise
            self._opened_for = PATIENCE
        told = None
        if self._failed is not None and self._opened > 0:
            number, outcome = self._failed
            how = "failed" if outcome == "fail" else "did not pass"
            told = (
                run["instrument"],
                f"check {number} {how}: the readings since the last passed check are suspect; "
                "their places are open again",
            )
            self._failed, self._opened = None, 0
        self._grow_old()
        return told

    def _grow_old(self) -> None:
        self._opened_for -= 1
        if self._opened_for <= 0:
            self._opened = 0
        self._failed_for -= 1
        if self._failed_for <= 0:
            self._failed = None
