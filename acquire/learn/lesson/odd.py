"""The one press that does not go with the others: its number may have been mistyped. Pure.

It is only named, never left out and never mended: what was on the display its reader knows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple

from acquire.driverapi.registry import Registry
from acquire.learn.finding import Finding, Outcome
from acquire.learn.lesson.aside import learn
from acquire.learn.presses.press import LEAST_PRESSES, About, Press
from acquire.learn.profile.proved import readings
from acquire.model import Quantity
from acquire.units import convert

_UNITS = {
    Quantity.GLOSS: "gloss_unit",
    Quantity.FORCE: "newton",
    Quantity.TRANSMITTANCE: "percent",
}
_CHANNELS = {Quantity.GLOSS: "60", Quantity.TRANSMITTANCE: "315-400"}


class Odd(NamedTuple):
    """Which press it is, the first is 0, and what its bytes show; None where they are noise."""

    place: int
    says: Decimal | None


def odd_one(presses: Sequence[Press], about: About, registry: Registry) -> Odd | None:
    """The press without which all others have an explanation.

    None where there is no such one, or several: then nobody knows which it is.
    """
    if len(presses) <= LEAST_PRESSES:
        return None
    found: list[Odd] = []
    for place, press in enumerate(presses):
        others = [one for at, one in enumerate(presses) if at != place]
        told = _told(others, about, registry)
        if (told.outcome is Outcome.NONE and told.against is None) or not told.left:
            continue
        if found:
            return None
        found.append(Odd(place, _said(told, press, about, registry)))
    return found[0] if found else None


def _told(presses: Sequence[Press], about: About, registry: Registry) -> Finding:
    """What can be said of the others, whatever their unit and channel are."""
    told = learn(presses, about, registry)
    answered: set[str] = set()
    while told.outcome is Outcome.UNSAID and told.missing not in answered:
        answered.add(told.missing)
        about = _answered(told, about, len(presses))
        told = learn(presses, about, registry)
    return told


def _answered(told: Finding, about: About, presses: int) -> About:
    """With any answer to what is missing, only to read the number: nothing of it is written."""
    if told.missing in ("word", "unit"):
        word = told.likely if told.missing == "word" else about.word
        return replace(about, unit=about.unit or _UNITS[about.kind], word=word)
    if told.missing == "setting":
        return replace(about, settled=presses)
    return replace(about, channel=_CHANNELS[about.kind])


def _said(told: Finding, press: Press, about: About, registry: Registry) -> Decimal | None:
    """What the profile of the others reads in these bytes, in the unit of the display."""
    if not told.profile:
        return None
    (here,) = readings(told.family, told.profile, [press.data], registry)
    values = {(reading.value, reading.unit) for reading in here}
    value, unit = values.pop() if len(values) == 1 else (None, "")
    return value if value is None or about.unit is None else convert(value, unit, about.unit)
