"""Reads the captures beside this file; see README.md here for how they are written."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any, NamedTuple

from acquire.driverapi.capture import Capture, capture
from acquire.schema import load_toml
from acquire.settings import config_dir

FOLDER = Path(__file__).parent


class Shelved(NamedTuple):
    """A capture with the profile it belongs to, its table and its two binary files."""

    profile: str
    capture: Capture
    table: dict[str, Any]
    received: bytes
    sent: bytes


def _shelved(path: Path) -> Shelved:
    table = tomllib.loads(path.read_text("utf-8"))
    return Shelved(
        path.parent.name,
        capture(table, f"{path.parent.name}/{path.stem}"),
        table,
        path.with_suffix(".received").read_bytes(),
        path.with_suffix(".sent").read_bytes(),
    )


LAYOUTS = (
    "gloss-press",
    "gloss-asked",
    "force-peak",
    "force-powers",
    "force-stream",
    "transmission-bands",
    "counter-strokes",
    "counter-total",
    "climate-asked",
)
"""Those of the line family."""
EVERY = tuple(_shelved(path) for path in sorted(FOLDER.glob("*/*.toml")))
EVERY_LAYOUT = tuple(dict.fromkeys(one.profile for one in EVERY))
CAPTURES = tuple(one for one in EVERY if one.profile in LAYOUTS)


def family_of(layout: str) -> str:
    """The name of the family that reads a layout."""
    name = layout.partition("-")[0]
    return "line" if layout in LAYOUTS else name


def of_layout(layout: str) -> list[Shelved]:
    """The captures of one layout."""
    return [one for one in EVERY if one.profile == layout]


def profile(layout: str) -> dict[str, Any]:
    """The table of the profile that ships for a layout."""
    return load_toml(config_dir() / "profiles" / f"{layout}.toml")
