"""When a treatment counts as gone: the criterion of a plan, as a figure and in words.

A gain is what the treatment did to the zone: its change since bare, less the change of the control
in the same time, counted upwards where higher is better and downwards where lower is. Of a film it
is that of the logarithm of its transmittance, its absorbance but for a factor: what films let
through multiplies, and logarithms add. Its levels are in percent of the light that the blank lets
through. Pure; any thread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from acquire.analysis.figures import suffix
from acquire.model import EndOfLife


@dataclass(frozen=True, slots=True)
class Criterion:
    """A life ends where gain - `share` times the first gain - `level` falls below 0.

    `share` is a part of 1, `level` a gain (better upwards) in the unit of the results; one of them
    is 0.
    """

    share: float
    level: float


def criterion_of(end: EndOfLife, *, higher_is_better: bool, is_film: bool = False) -> Criterion:
    """The criterion of a plan as figures. ValueError for a level of a film that is not above 0."""
    if end.lost is not None:
        return Criterion(1 - float(end.lost), 0.0)
    level = float(end.below if end.below is not None else end.above or 0)
    if is_film:
        level = math.log(level / 100)
    return Criterion(0.0, level if higher_is_better else -level)


def criterion_words(
    end: EndOfLife, unit: str, *, has_control: bool = True, is_film: bool = False
) -> str:
    """When a life ends and what is held against what, in a sentence."""
    less = ", less the change of the control" if has_control else ""
    if is_film:
        return _film_words(end, less)
    gain = f"its change since bare{less}"
    if end.lost is not None:
        return (
            f"A treatment counts as gone on a zone when {_percent(end.lost)} of its gain is lost. "
            f"Its gain is {gain}, before the first wash."
        )
    below, level = ("below", end.below) if end.below is not None else ("above", end.above)
    return f"A treatment counts as gone on a zone when {gain}, is {below} {level}{suffix(unit)}."


def _film_words(end: EndOfLife, less: str) -> str:
    what = f"the change since bare of the logarithm of what its slide lets through{less}"
    if end.lost is not None:
        return (
            f"A film counts as gone on a slide when {_percent(end.lost)} of its gain is lost. Its "
            f"gain is {what}, before the first wash: its absorbance, but for a factor."
        )
    below, level = ("below", end.below) if end.below is not None else ("above", end.above)
    return (
        f"A film counts as gone on a slide when it lets {below} {level} % of the light through "
        f"that its blank lets through, by {what}."
    )


def _percent(part: Decimal) -> str:
    return "half" if part == Decimal("0.5") else f"{(100 * part).normalize():f} %"
