"""What a person answers when a trial is planned: each text to what it means, or what is wanted.

Every function raises `ValueError` with what is wanted, in words. Pure; any thread.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from typing import NamedTuple

from acquire.model import Quantity
from acquire.schema.band import band
from acquire.schema.text import free_name
from acquire.settings.fields import GLOSS_ANGLES
from acquire.settings.handling import MOST_HOURS
from acquire.settings.washes import MOST_WASHES

MEASURES = (
    "gloss-20, gloss-60, gloss-85, gloss-20-60, slickness, transmission-315-400, "
    "transmission-380-780 or another band in nm"
)
SLICKNESS = "slickness"
RECIPE = {
    "shampoo": "neutral shampoo",
    "dilution": "1 : 200, lukewarm",
    "pressure": "bucket and hose, no jet",
    "mitt": "one wool mitt, rinsed after each row",
    "order": "top to bottom, four strokes a zone",
}
"""What is said of a wash, and a proposal for each (common practice, no source)."""
_GRID = re.compile(r"\s*([0-9]{1,3})\s*[xX*\N{MULTIPLICATION SIGN}]\s*([0-9]{1,3})\s*")
_NUMBER = re.compile(r"[+-]?[0-9]{1,9}(?:[.,][0-9]{1,9})?")
_MASS = re.compile(r"[0-9]{1,9}(?:\.[0-9]{1,9})? ?(?:g|kg|oz|lb)")


class Measured(NamedTuple):
    """A measure as it is named: ``gloss-20`` is gloss at 20 degrees."""

    id: str
    quantity: Quantity
    channels: tuple[str, ...]


class Grid(NamedTuple):
    rows: int
    columns: int


def measured(text: str) -> Measured:
    """A measure by its name."""
    text = text.strip()
    kind, _, rest = text.partition("-")
    if text == SLICKNESS:
        return Measured(text, Quantity.FORCE, ("",))
    if kind == "gloss" and rest:
        angles = rest.split("-")
        if len(set(angles)) == len(angles) and all(a in map(str, GLOSS_ANGLES) for a in angles):
            return Measured(text, Quantity.GLOSS, tuple(angles))
    if kind == "transmission" and rest:
        return Measured(text, Quantity.TRANSMITTANCE, (band(rest),))
    raise ValueError(f"one of {MEASURES}")


def grid(text: str) -> Grid:
    """Rows and columns of zones: ``3x6``."""
    found = _GRID.fullmatch(text)
    if found is None or "0" in (found[1].lstrip("0") or "0", found[2].lstrip("0") or "0"):
        raise ValueError("rows x columns, such as 3x6")
    return Grid(int(found[1]), int(found[2]))


def counts(text: str) -> tuple[int, ...]:
    """Counts of washes that rise: ``5,10,20``; none of an empty text."""
    parts = text.replace(",", " ").split()
    if not all(p.isascii() and p.isdecimal() and len(p) < 8 for p in parts):
        raise ValueError("counts of washes with commas, such as 5,10,20")
    found = tuple(map(int, parts))
    if list(found) != sorted(set(found)) or any(not 0 < n <= MOST_WASHES for n in found):
        raise ValueError(f"counts that rise, from 1 to {MOST_WASHES}, such as 5,10,20")
    return found


def number(text: str) -> Decimal:
    """A number above zero, with a point or a comma."""
    try:
        found = Decimal(text.strip().replace(",", ".")) if _NUMBER.fullmatch(text.strip()) else None
    except InvalidOperation:
        found = None
    if found is None or found <= 0:
        raise ValueError("a number above zero, such as 0.5")
    return found


def hours(text: str) -> Decimal:
    """Hours from application to measurement."""
    try:
        found = number(text)
    except ValueError:
        found = Decimal(MOST_HOURS + 1)
    if found > MOST_HOURS:
        raise ValueError(f"hours above zero, up to {MOST_HOURS}")
    return found


def mass(text: str) -> str:
    """A mass with its unit, as a trial file has it."""
    text = text.strip()
    if _MASS.fullmatch(text) is None:
        raise ValueError('a mass with its unit, such as "203.0 g"')
    return text


def recipe(text: str) -> tuple[tuple[str, str], ...]:
    """How one wash is done, in the order of `RECIPE`; a hyphen leaves one out."""
    parts = [part.strip() for part in text.split(";")]
    if len(parts) != len(RECIPE) or not all(parts):
        raise ValueError(
            f"{'; '.join(RECIPE)}: {len(RECIPE)} parts with ; between, a hyphen for what is not "
            f"said, got {len(parts)}"
        )
    return tuple(
        (key, free_name(part)) for key, part in zip(RECIPE, parts, strict=True) if part != "-"
    )


def words(text: str) -> list[str]:
    """What is named with commas or spaces between."""
    return text.replace(",", " ").split()


def pair(text: str, known: Sequence[str], example: str) -> tuple[str, str]:
    """``NAME=VALUE`` for one of several; the bare value where only one is known."""
    name, sign, value = text.rpartition("=")
    if not sign and len(known) == 1:
        return known[0], text
    if name.strip() not in known or not sign:
        forms = " or ".join(f"{k}=VALUE" for k in known)
        raise ValueError(
            f"{forms}, VALUE a number such as {example}" if forms else "nothing: there is none"
        )
    return name.strip(), value


_LONGEST_SLUG = 40


def slug(name: str, otherwise: str) -> str:
    """An id made of a name: lower case letters, digits and hyphens; `otherwise` where none is."""
    plain = re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")
    if len(plain) > _LONGEST_SLUG:
        whole, sign, _ = plain[: _LONGEST_SLUG + 1].rpartition("-")
        plain = whole if sign else plain[:_LONGEST_SLUG]
    return plain or otherwise


def ids_of(names: Sequence[str], taken: Sequence[str] = ()) -> list[str]:
    """An id for each name, all different."""
    found = list(taken)
    for place, name in enumerate(names, 1):
        wanted = slug(name, f"product-{place}")
        own, k = wanted, 2
        while own in found:
            own, k = f"{wanted}-{k}", k + 1
        found.append(own)
    return found[len(taken) :]
