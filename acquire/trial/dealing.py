"""Dealing treatments to zones: complete blocks, a Latin square, or all zones at once.

The same treatments (in their order), grid, design and seed give the same zones. Every treatment is
as likely in every place. A Latin square is the cyclic one with its rows, its columns and the
treatments in it shuffled, a square of its own for each panel (F. Yates, Empire J. Experimental
Agriculture 1 (1933) 235, from memory); three treatments reach all twelve squares, more do not reach
every square there is, and need not: it takes no more for every pair of places to be fair.

Pure; any thread.
"""

from __future__ import annotations

import string
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from acquire.model import Design, Plan, Zone
from acquire.trial.chance import Chance

MOST_ROWS = 26 * 27
"""As far as two letters name rows."""


class Grid(NamedTuple):
    """Rows and columns of zones, the same on each of `panels`; one panel alone has an empty id."""

    panels: tuple[str, ...]
    rows: int
    columns: int

    @property
    def zones(self) -> int:
        return len(self.panels) * self.rows * self.columns


class Place(NamedTuple):
    """Where a zone lies. Rows and columns count from 1."""

    panel: str
    row: int
    column: int


def places(grid: Grid) -> list[Place]:
    """All places of a grid, panel by panel and row by row."""
    return [
        Place(panel, row, column)
        for panel in grid.panels
        for row in range(1, grid.rows + 1)
        for column in range(1, grid.columns + 1)
    ]


def zone_name(place: Place) -> str:
    """``A1``, or ``P2-A1`` on one of several panels: the letter of the row, the column's number."""
    spot = f"{row_letters(place.row)}{place.column}"
    return f"{place.panel}-{spot}" if place.panel else spot


def row_letters(row: int) -> str:
    """A to Z, then AA, AB and so on."""
    letters = string.ascii_uppercase
    before, own = divmod(row - 1, len(letters))
    return (letters[before - 1] if before else "") + letters[own]


class Blocks(NamedTuple):
    """A way to cut panels into blocks of equal size: whole rows or whole columns at a time."""

    by_row: bool
    lines: int
    number: int

    def of(self, place: Place, grid: Grid) -> int:
        """The number of a place's block, from 1."""
        line = place.row if self.by_row else place.column
        per_panel = self.number // len(grid.panels)
        return grid.panels.index(place.panel) * per_panel + (line - 1) // self.lines + 1


def blocks_of(grid: Grid, treatments: int) -> Blocks | None:
    """The most blocks in which every treatment has equally many zones; None where there are none.

    The smaller a block, the more alike are its zones. Rows go before columns. One block alone is
    none: then all zones are dealt at once.
    """
    found = []
    for by_row, lines, length in (
        (True, grid.rows, grid.columns),
        (False, grid.columns, grid.rows),
    ):
        for together in range(1, lines + 1):
            if lines % together == 0 and together * length % treatments == 0:
                found.append(Blocks(by_row, together, lines // together * len(grid.panels)))
                break
    best = max(found, key=lambda b: b.number, default=None)
    return best if best is not None and best.number > 1 else None


def design_for(grid: Grid, treatments: int) -> Design:
    """The design that holds most against how a panel differs from place to place."""
    if grid.rows == grid.columns == treatments:
        return Design.LATIN_SQUARE
    return Design.RANDOM if blocks_of(grid, treatments) is None else Design.COMPLETE_BLOCKS


def dealt(
    treatments: Sequence[str], control: str, grid: Grid, design: Design, seed: int
) -> tuple[Zone, ...]:
    """The zones of a grid with the treatments that the draw put onto them.

    Raises ValueError where the design does not fit, or zones are fewer than treatments.
    """
    if grid.zones < len(treatments) or control not in treatments:
        raise ValueError(f"{grid.zones} zones for {len(treatments)} treatments")
    chance = Chance(seed, design.value)
    if design is Design.LATIN_SQUARE:
        if not grid.rows == grid.columns == len(treatments):
            raise ValueError("a Latin square has as many rows and columns as treatments")
        return tuple(_squares(treatments, grid, chance))
    if design is Design.RANDOM:
        on = chance.shuffled(_shares(treatments, control, grid.zones, chance))
        return tuple(_zone(p, t, None) for p, t in zip(places(grid), on, strict=True))
    blocks = blocks_of(grid, len(treatments))
    if blocks is None:
        raise ValueError("no blocks in which every treatment has equally many zones")
    return tuple(_in_blocks(treatments, grid, blocks, chance))


def _shares(treatments: Sequence[str], control: str, zones: int, chance: Chance) -> list[str]:
    """As many zones for each as can be; what is over goes to the control, then by the draw.

    Every difference has the control in it, so a zone more is best spent there.
    """
    each, over = divmod(zones, len(treatments))
    others = chance.shuffled([t for t in treatments if t != control])
    return [*[t for t in treatments for _ in range(each)], *[control, *others][:over]]


def _in_blocks(
    treatments: Sequence[str], grid: Grid, blocks: Blocks, chance: Chance
) -> Iterator[Zone]:
    numbers = [blocks.of(place, grid) for place in places(grid)]
    waiting: dict[int, list[str]] = {}
    for block in range(1, blocks.number + 1):
        size = numbers.count(block)
        waiting[block] = chance.shuffled(list(treatments) * (size // len(treatments)))
    for place, block in zip(places(grid), numbers, strict=True):
        yield _zone(place, waiting[block].pop(0), block)


def _squares(treatments: Sequence[str], grid: Grid, chance: Chance) -> Iterator[Zone]:
    n = len(treatments)
    for panel in grid.panels:
        rows, columns = chance.shuffled(range(n)), chance.shuffled(range(n))
        letters = chance.shuffled(treatments)
        for r in range(n):
            for c in range(n):
                yield _zone(Place(panel, r + 1, c + 1), letters[(rows[r] + columns[c]) % n], None)


def _zone(place: Place, treatment: str, block: int | None) -> Zone:
    return Zone(zone_name(place), treatment, place.panel, place.row, place.column, block)


def design_words(grid: Grid, design: Design, treatments: int) -> str:
    """How treatments were dealt, for a person."""
    if design is Design.LATIN_SQUARE:
        return "a Latin square: each row and column of a panel has every treatment once"
    blocks = blocks_of(grid, treatments) if design is Design.COMPLETE_BLOCKS else None
    if blocks is None:
        return "all zones dealt at once"
    per_panel = blocks.number // len(grid.panels)
    lines = "row" if blocks.by_row else "column"
    what = (
        "panel" if per_panel == 1
        else lines if blocks.lines == 1
        else f"{blocks.lines} {lines}s together"
    )  # fmt: skip
    return f"complete blocks: every treatment equally often in each {what}"


def layout_words(plan: Plan) -> str:
    """The draw of a plan in words, with its seed; empty where none is on record."""
    if plan.layout is None:
        return ""
    rows = max((zone.row or 1 for zone in plan.zones), default=1)
    columns = max((zone.column or 1 for zone in plan.zones), default=1)
    grid = Grid(tuple(panel.id for panel in plan.panels), rows, columns)
    words = design_words(grid, plan.layout.design, len(plan.treatments))
    return f"{words}; seed {plan.layout.seed}"
