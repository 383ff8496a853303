"""A column of rows that are written for programs, with its explanation. Facts only."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    pass


class Column(NamedTuple):
    """A column of an export. `is_text` marks what people or devices wrote."""

    name: str
    meaning: str
    is_text: bool = False


Record = dict[str, object]
