"""Where the case files lie that come with Coatbench. Any thread."""

from __future__ import annotations

from pathlib import Path

from acquire.errors import NotFound


def case_files(package: Path = Path(__file__).parents[1]) -> list[Path]:
    """The shipped case files: inside an installed wheel, else among the tests beside the package.

    Raises `NotFound` when there are none, which a broken installation can cause.
    """
    places = (package / "_reference", package.parent / "tests" / "reference" / "cases")
    for place in places:
        if files := sorted(place.glob("*.json")):
            return files
    raise NotFound(
        "the check values that come with Coatbench are missing",
        got=f"nothing at {places[0]} or {places[1]}",
        next_step="install coatbench again, or name a case file: coatbench verify FILE",
    )
