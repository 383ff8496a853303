"""Drawings that stand together in a page. Imports nothing that draws; any thread."""

from __future__ import annotations

from typing import NamedTuple

MOST_PORTIONS = 24


class Drawing(NamedTuple):
    """A titled drawing; `svg` is safe to stand in a page as it is."""

    title: str
    svg: str


class Gallery(NamedTuple):
    """Drawings that belong together. `missing` says what is not drawn; empty if all is."""

    drawings: tuple[Drawing, ...]
    missing: str
