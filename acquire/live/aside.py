"""Values that come with a press and are not asked for, such as a gloss meter's other angles. Pure.

A meter that sends three values at a press, in a run or a check of one of them, is no reason for an
alarm at every good press. One whose value is of the wrong kind, and that sends no other, is.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from acquire.model.unasked import is_unasked

APART_NS = 1_000_000_000
"""Values of one press come within so long of each other (common practice, no source)."""


class Aside:
    """Tells which rows are such values; fed with every row of a reading, in their order."""

    def __init__(self) -> None:
        self._taken_ns: dict[str, int] = {}
        self._unasked_ns: dict[str, int] = {}
        self._several: set[str] = set()
        """Instruments that have sent a value that was taken and one that was not asked for at one
        press, whichever came first."""

    def hear(self, item: Mapping[str, Any]) -> bool:
        """Whether a reading came beside one that counts and changes nothing about it."""
        name, at_ns = item["instrument"], item["at_utc_ns"]
        if item["role"] != "loose":
            if _is_close(self._unasked_ns.get(name), at_ns):
                self._several.add(name)
            self._taken_ns[name] = at_ns
            return False
        if not is_unasked(str(item["loose_reason"])):
            return False
        if _is_close(self._taken_ns.get(name), at_ns):
            self._several.add(name)
        self._unasked_ns[name] = at_ns
        return name in self._several


def _is_close(before_ns: int | None, at_ns: int) -> bool:
    return before_ns is not None and abs(at_ns - before_ns) <= APART_NS
