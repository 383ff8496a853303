"""A meter that shows one unit and sends another one: what it sends is learned, in that unit. Pure.

The unit that a person said is that of the display. Where the numbers that were shown stand in the
bytes once they are converted, with their unit beside them, nothing is left to guess.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from acquire.driverapi.registry import Registry
from acquire.learn.finding import Finding, Outcome
from acquire.learn.lesson.learn import learned
from acquire.learn.pieces.units import unit_of
from acquire.learn.presses.press import About, Press, decimals_of
from acquire.learn.profile.written import with_remark
from acquire.units import convert

_WORD = re.compile(r"(?<![A-Za-z])([A-Za-z]{1,4}|%T?)(?![A-Za-z])")
_MOST_DECIMALS = 9
"""A number with more was converted by a factor that does not end."""


def learned_as_sent(presses: Sequence[Press], about: About, registry: Registry) -> Finding:
    """What can be said of a meter, also where another unit is sent than was said to be shown."""
    found = learned(presses, about, registry)
    is_open = found.outcome is Outcome.UNSAID and found.missing == "word"
    if about.unit is None or about.word or not (is_open or found.outcome is Outcome.NONE):
        return found
    for unit in _sent(presses, about):
        moved = _moved(presses, about, unit)
        told = None if moved is None else learned(*moved, registry)
        if told is not None and told.outcome is Outcome.SURE and _is_beside(told, unit):
            return _as_shown(told, about.unit, unit)
    return found


def _sent(presses: Sequence[Press], about: About) -> list[str]:
    """The other units of this kind of which a word stands in every press."""
    found = [
        {unit_of(word, about.kind) for word in _WORD.findall(press.data.decode("latin-1"))}
        for press in presses
    ]
    return sorted(unit for unit in set.intersection(*found) if unit and unit != about.unit)


def _moved(presses: Sequence[Press], about: About, unit: str) -> tuple[list[Press], About] | None:
    """The presses as they were shown, in this unit; None where it has no end in decimals."""
    assert about.unit is not None
    limits = [
        None if limit is None else _plain(convert(limit, about.unit, unit))
        for limit in (about.least, about.most)
    ]
    shown = [_plain(convert(press.shown, about.unit, unit)) for press in presses]
    if decimals_of(shown) > _MOST_DECIMALS:
        return None
    moved = [replace(one, shown=value) for one, value in zip(presses, shown, strict=True)]
    return moved, replace(about, unit=unit, least=limits[0], most=limits[1])


def _plain(value: Decimal) -> Decimal:
    """Without zeros behind its last decimal, and without a power of ten."""
    return Decimal(f"{value.normalize():f}")


def _is_beside(told: Finding, unit: str) -> bool:
    """Whether the unit stands beside the number in every line that is read."""
    tokens = tomllib.loads(told.profile)["unit"].get("tokens", {})
    return set(tokens.values()) == {unit}


def _as_shown(told: Finding, shown: str, sent: str) -> Finding:
    """The finding with what is told of both units; further numbers are asked for as displayed."""
    many = convert(Decimal(1), shown, sent)
    words = (
        f"the display shows {shown} and {sent} is sent, {many:f} for each: what is read is {sent}, "
        f"and so are the limits told here; --shown, --least and --most are in {shown}"
    )

    def back(value: Decimal | None) -> Decimal | None:
        return None if value is None else _plain(convert(value, sent, shown))

    return replace(
        told, believed=(*told.believed, words), profile=with_remark(told.profile, words),
        tell_above=back(told.tell_above), tell_below=back(told.tell_below),
        tell_between=back(told.tell_between),
        sent=tuple(_plain(convert(value, sent, shown)) for value in told.sent),
    )  # fmt: skip
