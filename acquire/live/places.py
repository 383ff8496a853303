"""The places of a run in the order of its plan, and what a typed zone means among them. Pure.

Knows the plan and not what is filled: that is the daemon's to say. Any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from acquire.live.words import clean, place
from acquire.model import Target


class Wanted(NamedTuple):
    """A zone of the plan that a person named, with a replicate if they named one."""

    zone: str
    replicate: int | None

    def __str__(self) -> str:
        return clean(self.zone) if self.replicate is None else place(*self)


class Places:
    """All targets of a run; none where the plan is not at hand."""

    def __init__(self, targets: Sequence[Target] = ()) -> None:
        self._at = {(t.zone, t.replicate): i for i, t in enumerate(targets)}
        self._zones = list(dict.fromkeys(t.zone for t in targets))

    def __bool__(self) -> bool:
        return bool(self._at)

    def find(self, typed: str) -> Wanted | str:
        """What was typed, as a place of the plan; else a sentence that says what is wrong.

        Capitals do not matter unless two zones differ in nothing else. A zone's own name may end
        in a number, so the whole is looked for first.
        """
        words, _, number = typed.rpartition(" ")
        tries: list[tuple[str, int | None]] = [(typed, None)]
        if words and number.isdecimal():
            tries.append((words.strip(), int(number)))
        if not self:
            return Wanted(*tries[-1])
        for name, replicate in tries:
            alike = [z for z in self._zones if z.casefold() == name.casefold()]
            if name in self._zones:
                alike = [name]
            if len(alike) > 1:
                return f"{clean(name)} may be {' or '.join(map(clean, alike))}. Next: g, as written"
            if alike:
                return self._with(alike[0], replicate)
        return (
            f"there is no zone {clean(tries[-1][0])}. "
            f"Next: g and one of {', '.join(map(clean, self._zones))}"
        )

    def _with(self, zone: str, replicate: int | None) -> Wanted | str:
        known = [r for z, r in self._at if z == zone]
        if replicate is None or replicate in known:
            return Wanted(zone, replicate)
        return (
            f"zone {clean(zone)} has no replicate {replicate}. "
            f"Next: g {clean(zone)} and one of {min(known)} to {max(known)}"
        )
