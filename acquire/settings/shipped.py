"""Where the examples, profiles, policies and captures that come with Coatbench lie. Any thread."""

from __future__ import annotations

from pathlib import Path

from acquire.errors import NotFound


def config_dir(package: Path = Path(__file__).parents[1]) -> Path:
    """The folder ``config`` as shipped: inside an installed wheel, else beside the package.

    Raises `NotFound` when neither is there, which a broken installation can cause.
    """
    places = (package / "_config", package.parent / "config")
    for place in places:
        if (place / "profiles").is_dir() or (place / "policies").is_dir():
            return place
    raise NotFound(
        "the profiles and policies that come with Coatbench are missing",
        got=f"nothing at {places[0]} or {places[1]}",
        next_step="install coatbench again",
    )


def captures_dir(package: Path = Path(__file__).parents[1]) -> Path | None:
    """The folder of captures as shipped, one folder a profile; None where they are missing."""
    places = (package / "_captures", package.parent / "tests" / "captures")
    return next((place for place in places if place.is_dir()), None)
