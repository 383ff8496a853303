"""Where zones lie and by which draw products came onto them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Design(StrEnum):
    """How the products were dealt to the zones."""

    COMPLETE_BLOCKS = "complete-blocks"
    """Each block of zones has every product once, in an order of its own."""
    LATIN_SQUARE = "latin-square"
    """Each row and each column of a panel has every product once."""
    RANDOM = "random"
    """All zones dealt at once: where the zones do not fit into blocks."""


@dataclass(frozen=True, slots=True)
class Layout:
    """The draw that dealt the products: with the same design and seed it comes out the same."""

    design: Design
    seed: int


@dataclass(frozen=True, slots=True)
class Panel:
    """One thing with zones on it. `id` is empty where a trial has a single panel without one."""

    id: str
    name: str
    material: str = ""

    def __str__(self) -> str:
        return f"{self.name}, {self.material}" if self.material else self.name
