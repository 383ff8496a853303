"""What meters write for a unit, as a closed table: anything else is no unit. Pure."""

from __future__ import annotations

import re
from decimal import Decimal

from acquire.model import Quantity

_TOKENS: dict[Quantity, dict[str, str]] = {
    Quantity.GLOSS: {"GU": "gloss_unit", "gu": "gloss_unit"},
    # g and kg on a force gauge are gram-force and kilogram-force: it knows no mass.
    Quantity.FORCE: {
        "N": "newton",
        "mN": "millinewton",
        "kN": "kilonewton",
        "KN": "kilonewton",
        "gf": "gram_force",
        "GF": "gram_force",
        "g": "gram_force",
        "kgf": "kilogram_force",
        "KGF": "kilogram_force",
        "kg": "kilogram_force",
        "lbf": "pound_force",
        "LBF": "pound_force",
        "lb": "pound_force",
        "ozf": "ounce_force",
        "OZF": "ounce_force",
        "oz": "ounce_force",
    },
    Quantity.TRANSMITTANCE: {"%": "percent", "%T": "percent"},
}

# Of these the letters alone say it, in capitals or small, and with the s of a plural.
_IN_ANY_CASE = {
    token.lower() + plural: (kind, unit)
    for kind, units in _TOKENS.items()
    for token, unit in units.items()
    if len(token) > 1 and token.isalpha() and token not in ("mN", "kN", "KN")
    for plural in (("", "s") if token in ("kg", "lb") else ("",))
}

_OF_PREFIX = "mN|kN|KN"
TOUCHING = rf"(?:(?i:{'|'.join(_IN_ANY_CASE)})|{_OF_PREFIX})(?![0-9A-Za-z])"
"""The pattern of a unit that is one right behind digits, too: a single letter may be anything."""


def unit_of(token: str, kind: Quantity) -> str | None:
    """The unit of this text for this kind of meter."""
    if (unit := _TOKENS.get(kind, {}).get(token)) is not None:
        return unit
    of, unit = _IN_ANY_CASE.get(token.lower(), (None, None))
    return unit if of is kind else None


def is_unit_sent(data: bytes) -> bool:
    """Whether a word of these bytes is a unit of some kind of meter, behind digits or a space."""
    words = re.findall(r"(?<=[0-9 ,;\t])([A-Za-z%]+)(?![A-Za-z0-9])", data.decode("latin-1"))
    return any(kinds_of(word) for word in words)


def units_in(data: bytes) -> set[str]:
    """Words of these bytes, longer than a letter, that are a unit of some kind of meter."""
    words = re.findall(r"(?<![A-Za-z0-9])([A-Za-z%]{2,})(?![A-Za-z0-9])", data.decode("latin-1"))
    return {word for word in words if kinds_of(word)}


_WITH_WORD = re.compile(
    r"(?<![0-9.,])([0-9]+(?:[.,][0-9]+)?)(?: +([A-Za-z%]+)|([A-Za-z]{2,}|%T?))(?![0-9A-Za-z%])"
)


def kinds_behind(data: bytes, shown: Decimal, half: Decimal) -> set[Quantity]:
    """The kinds of meter that write the unit which stands behind this number, as text.

    The display may have rounded it, by `half` a step of its own at most.
    """
    return {
        kind
        for digits, apart, touching in _WITH_WORD.findall(data.decode("latin-1"))
        if abs(Decimal(digits.replace(",", ".")) - abs(shown)) <= half
        for kind in kinds_of(apart or touching)
    }


def kinds_of(token: str) -> list[Quantity]:
    """The kinds of meter that write such a unit."""
    return [kind for kind in _TOKENS if unit_of(token, kind)]


def default_unit(kind: Quantity) -> str | None:
    """The unit of values that bear none, where only one is usual."""
    return {Quantity.GLOSS: "gloss_unit", Quantity.TRANSMITTANCE: "percent"}.get(kind)
