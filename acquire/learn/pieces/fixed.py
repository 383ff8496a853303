"""Which numbers of a line are the geometry or a limit of the band that was said: these are held.

One that stood still is no number like any other: G60 beside the gloss of a meter that is set to
60° may say G20 at a press of 20°, which is no press of the profile. Pure.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from acquire.learn.pieces.column import Column, is_constant
from acquire.learn.pieces.gauges import is_label, is_measured, is_unit_behind

_NUMBERS = ("alnum", "decimal")
_MOST = 100
"""No charge, humidity or temperature of a bench is more (common practice, no source)."""
_GLUED = re.compile("([0-9A-Za-z]*[A-Za-z])?([0-9]+(?:[.,][0-9]+)?)([A-Za-z][0-9A-Za-z]*)?")


def fixed_at(columns: Sequence[Column], channel: str | None) -> frozenset[int]:
    """The places of such numbers, alone or with letters that touch them.

    Behind the label of a charge or a temperature, or before its unit, one is that.
    """
    numbers = frozenset(map(Decimal, re.findall("[0-9]+", channel or "")))
    return frozenset(
        place
        for place, column in enumerate(columns)
        if numbers and column.kind in _NUMBERS and is_constant(column.texts)
        if _is_one(columns, place, numbers)
    )


def _is_one(columns: Sequence[Column], place: int, numbers: frozenset[Decimal]) -> bool:
    found = _GLUED.fullmatch(columns[place].texts[0].strip(" +-"))
    number = None if found is None else Decimal(found[2].replace(",", "."))
    if found is None or number is None or number not in numbers:
        return False
    is_gauge = is_label(found[1] or "") or is_unit_behind(found[3] or "")
    return number > _MOST or not (is_gauge or is_measured(columns, place))
