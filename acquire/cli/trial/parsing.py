"""What may be answered in `coatbench trial new`, made of the answers that are pure text.

Every function raises `ValueError` with what is wanted. Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import TypeVar

from acquire.errors import CoatbenchError, Fault, SettingsError
from acquire.model import Panel, Scale
from acquire.schema import unlike_id
from acquire.schema.text import free_name
from acquire.settings.sled import sled_mass
from acquire.settings.trial import MOST_REPLICATES, MOST_ZONES
from acquire.trial import answers
from acquire.trial.drafting import LARGEST_SEED

NONE = "none"
LIGHTEST_SLED_G, HEAVIEST_SLED_G = 5, 5000
"""Beyond these a hand-pulled sled is a slip (common practice, no source). A file may have others.
"""

Found = TypeVar("Found")


class FaultyFiles(ValueError):
    """Files that an answer named, with every fault of all of them, by file and place."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        super().__init__("; ".join(map(str, faults)))
        self.faults = faults


def name(text: str) -> str:
    return free_name(text.strip())


def name_or_none(text: str) -> str:
    return name(text) if text.strip() else ""


def sled_or_none(text: str) -> str:
    """A sled's mass. One that no hand pulls over a panel is mostly a slip in its unit."""
    if text.strip() in ("", NONE):
        return ""
    wanted = f"a mass from {LIGHTEST_SLED_G} g to {HEAVIEST_SLED_G // 1000} kg, or {NONE}"
    try:
        written = answers.mass(text)
        found = sled_mass(written)
    except ValueError as wrong:
        raise ValueError(f"{wrong}, {wanted}") from None
    grams = found.kg * 1000
    if not LIGHTEST_SLED_G <= grams <= HEAVIEST_SLED_G:
        raise ValueError(f"{wanted}; this is {float(grams / 1000):.3g} kg")
    return written


def each_once(what: str, of: Callable[[str], str] = name) -> Callable[[str], str]:
    known: list[str] = []

    def once(text: str) -> str:
        found = of(text)
        if found in known:
            raise ValueError(f"each {what} once")
        known.append(found)
        return found

    return once


def or_none(parse: Callable[[str], Found]) -> Callable[[str], Found | None]:
    def found(text: str) -> Found | None:
        if text.strip() in ("", NONE):
            return None
        try:
            return parse(text)
        except ValueError as wrong:
            raise ValueError(f"{wrong}, or {NONE}") from None

    return found


def stage_names(text: str) -> tuple[str, ...]:
    names = answers.words(text)
    for own in names:
        if wanted := unlike_id(own):
            raise ValueError(wanted)
    if not names or len(set(names)) < len(names):
        raise ValueError("one stage or more, each once, such as bare applied")
    return tuple(names)


def share_or_none(text: str) -> Decimal | None:
    if text.strip() in ("", NONE):
        return None
    try:
        share = answers.number(text)
    except ValueError:
        share = Decimal(1)
    if share >= 1:
        raise ValueError(f"a share between 0 and 1, such as 0.5, or {NONE}")
    return share


def count(text: str) -> int:
    text = text.strip()
    if not (text.isascii() and text.isdecimal() and len(text) < 6):
        raise ValueError("a whole number above zero")
    if not 1 <= int(text) <= MOST_REPLICATES:
        raise ValueError(f"a whole number from 1 to {MOST_REPLICATES}")
    return int(text)


def a_seed(text: str) -> int:
    if not (text.isascii() and text.isdecimal() and len(text) < 12):
        raise ValueError("a whole number")
    if int(text) >= LARGEST_SEED:
        raise ValueError(f"a whole number below {LARGEST_SEED}")
    return int(text)


def is_yes(text: str) -> bool:
    word = text.strip().casefold()
    if word not in ("y", "yes", "n", "no", ""):
        raise ValueError("y or n")
    return word.startswith("y")


def fits(panels: tuple[Panel, ...], treatments: int) -> Callable[[str], answers.Grid]:
    def grid_of(text: str) -> answers.Grid:
        grid = answers.grid(text)
        zones = grid.rows * grid.columns * len(panels)
        if not treatments <= zones <= MOST_ZONES:
            raise ValueError(f"{treatments} to {MOST_ZONES} zones on all panels, got {zones}")
        return grid

    return grid_of


def scales_named(
    names: Sequence[str], stages: tuple[str, ...], is_washed: bool
) -> tuple[Scale, ...]:
    """The written scales of these names or files, for a trial with these stages."""
    from acquire.settings.scale_files import load_scale, scale_file  # noqa: PLC0415 - slow

    if list(names) == [NONE]:
        return ()
    found: list[Scale] = []
    faults: list[Fault] = []
    for name in names:
        try:
            found.append(load_scale(scale_file(name), stages, is_washed=is_washed))
        except SettingsError as error:
            faults += [fault._replace(path=f"{name}: {fault.path}") for fault in error.faults]
        except CoatbenchError as error:
            faults.append(Fault(name, error.got or "nothing of that name", error.wanted))
    if faults:
        raise FaultyFiles(faults)
    if len({s.id for s in found}) < len(found):
        raise ValueError("each scale once")
    return tuple(found)
