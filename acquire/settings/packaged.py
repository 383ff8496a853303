"""Profiles that driver packages of other people bring along: the folder ``profiles`` of each.

A package is found by its entry point and is not loaded for this: a folder is looked into, and no
code of a stranger runs. Any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from importlib.metadata import EntryPoint, entry_points
from importlib.util import find_spec
from pathlib import Path
from typing import NamedTuple

from acquire.driverapi.registry import GROUP

_OUR_OWN = "drivers"
FOLDER = "profiles"


class Packaged(NamedTuple):
    """A profile, the package that brings it, and where it lies."""

    name: str
    origin: str
    path: Path


def packaged_profiles(points: Iterable[EntryPoint] | None = None) -> list[Packaged]:
    """Those of every package that is installed, by name; `points` replaces them in tests."""
    found: set[Packaged] = set()
    for point in entry_points(group=GROUP) if points is None else points:
        if point.module.split(".")[0] == _OUR_OWN:
            continue
        origin = f"package {point.dist.name}" if point.dist is not None else point.module
        for folder in _folders(point.module):
            found |= {Packaged(path.stem, origin, path) for path in folder.glob("*.toml")}
    return sorted(found)


def _folders(module: str) -> Iterator[Path]:
    """The folder beside a module's own file, as far as it can be known without importing it."""
    top, *below = module.split(".")
    try:
        spec = find_spec(top)
    # Whatever a stranger's finder raises: the bench is loaded without these profiles.
    except Exception:
        return
    if spec is None:
        return
    for place in map(Path, spec.submodule_search_locations or ()):
        inner = place.joinpath(*below)
        yield (inner if inner.is_dir() else inner.parent) / FOLDER
