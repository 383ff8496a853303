"""What is not as it was recorded: a row, a seal, or what leads to rows. A frozen fact."""

from __future__ import annotations

from typing import NamedTuple


class Misfit(NamedTuple):
    """What does not fit, in plain words. `next_step` where it is another than that of a row."""

    table: str
    id: int | None
    what: str
    next_step: str = ""

    def __str__(self) -> str:
        number = "" if self.id is None else f" {self.id}"
        return f"{self.table}{number} {self.what}"
