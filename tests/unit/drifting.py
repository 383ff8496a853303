"""Yards whose meter drifts from day to day, for tests of histories, warnings and pages."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from acquire.drift.history import History
from acquire.drift.reading import histories
from acquire.store.reader import StoreReader
from tests.yard import Yard

DAY_S = 86_400


def yard_of(folder: Path) -> Yard:
    yard = Yard(folder)
    yard.plug("shore")
    return yard


def daily(yard: Yard, tiles: Iterable[str], traps: Iterable[str] | None = None) -> None:
    """A check a day at the same hour, with these readings on tile and trap."""
    tiles = list(tiles)
    for tile, trap in zip(tiles, traps or ["0.0"] * len(tiles), strict=True):
        before = yard.clock.now()
        yard.check("shore", tile=tile, trap=trap)
        yard.clock.advance(DAY_S - yard.clock.now().seconds_since(before))


def rising(start: float, step: float, count: int) -> list[str]:
    """Readings of a tile that rise by `step` a day, with a small unrest that follows no drift."""
    unrest = (0.0, 0.1, -0.1, 0.0, 0.1, 0.0, -0.1)
    return [f"{start + step * k + unrest[k % len(unrest)]:.1f}" for k in range(count)]


def told(yard: Yard, instrument: str = "", piece: str = "T1") -> list[History]:
    """The histories of one piece in the yard's store."""
    with StoreReader(yard.bench.store) as reader:
        return histories(reader, instrument, piece)


def only(yard: Yard) -> History:
    """The history of tile T1."""
    (one,) = told(yard)
    return one
