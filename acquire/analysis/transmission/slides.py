"""Several coated slides against several blanks: the film, its uncertainty, and what is shown.

Slides of one box differ, and a film can only be seen beyond that. So the doubt of a film is the
scatter of the slides, coated and blank, each mean with its own degrees of freedom (Welch and
Satterthwaite, GUM G.4.1), beside the display's step and what all readings shared. With one coated
slide the blanks' scatter stands for its own: it was a blank of the same box. A change inside the
interval is not shown, and never called a small gain; a ratio above 1 is shown as any other.

First order in the blank's doubt (GUM 5.1.2); where that is no longer small, there is no decision.
Slides must be independent: the same slide read twice is one slide (take its mean). Pure; any
thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from acquire.analysis.budget.reach import POWER, reach_of
from acquire.analysis.budget.uncertainty import (
    CONFIDENCE,
    Budget,
    Distribution,
    Kind,
    Term,
    budget,
    rectangular,
)
from acquire.analysis.figures import limits, rounded
from acquire.analysis.transmission.definition import Vector
from acquire.analysis.transmission.film import LEAST_BLANK, absorbance

MOST_BLANK_DOUBT = 0.1
"""The ratio is judged while the blanks' mean is known to this part of itself: first order holds."""


class Shown(StrEnum):
    """What slides and blanks show."""

    LOWER = "lower"
    HIGHER = "higher"
    NOT_SHOWN = "not shown"
    """The change lies inside what the slides differ by themselves."""
    REFUSED = "no decision"
    """Too little data to judge."""


@dataclass(frozen=True, slots=True)
class FilmResult:
    """A film's transmittance in a band, or the difference of two films.

    `name` has band and weights. `value` is the ratio to the blank (part of 1), or a difference of
    such ratios; None where there is none. `absorbance` and `blocking` belong to a ratio only.
    `budget` is None and `shown` REFUSED where the spread of slides is not known; `sentence` says
    result or reason with the next step.
    """

    name: str
    value: float | None
    blocking: float | None
    absorbance: float | None
    budget: Budget | None
    shown: Shown
    sentence: str


class Pull(NamedTuple):
    """What the slides do to a result, in its own units, one figure a slide.

    Every coated series is of one product; `blanks` is what each blank does to the result, and
    `lone` what blanks would do in the place of each coated slide that stands alone.
    """

    coated: tuple[tuple[float, ...], ...]
    blanks: tuple[float, ...]
    lone: tuple[tuple[float, ...], ...]


def film_of_slides(
    name: str,
    coated: Sequence[float],
    blanks: Sequence[float],
    *,
    resolution: float = 0.0,
    shared: Sequence[Term] = (),
    least_blank: float = LEAST_BLANK,
) -> FilmResult:
    """The film on `coated` slides against `blanks`: one transmittance (part of 1) a slide.

    `resolution` is the display's step (part of 1), `shared` further terms of the ratio, such as
    `meter.budget_of` gives for dark and open beam. Raises ValueError for no slide on a side,
    figures that are not finite, or a negative resolution.
    """
    c, b = _checked(coated, "coated slides"), _checked(blanks, "blanks")
    level = float(b.mean())
    if level < least_blank:
        return _no_ratio(name, level, least_blank)
    ratio = float(c.mean()) / level
    on_film = ratio * b / level
    pull = Pull((tuple(c / level),), tuple(on_film), (tuple(on_film),) if c.size == 1 else ())
    terms = [*_display(resolution, math.hypot(1, ratio) / level), *shared]
    return judged(name, ratio, 1.0, pull, terms, standard_error(b) / level)


def difference_of_films(
    name: str,
    first: Sequence[float],
    second: Sequence[float],
    blanks: Sequence[float],
    *,
    resolution: float = 0.0,
    shared: Sequence[Term] = (),
    least_blank: float = LEAST_BLANK,
) -> FilmResult:
    """Film on `first` less film on `second`, both against the same `blanks`.

    The blanks are common to both and cancel but for their part of the difference. Raises as
    `film_of_slides`.
    """
    one, two = _checked(first, "slides of the first"), _checked(second, "slides of the second")
    b = _checked(blanks, "blanks")
    level = float(b.mean())
    if level < least_blank:
        return _no_ratio(name, level, least_blank)
    films = (float(one.mean()) / level, float(two.mean()) / level)
    value = films[0] - films[1]
    lone = tuple(
        tuple(film * b / level)
        for film, side in zip(films, (one, two), strict=True)
        if side.size == 1
    )
    pull = Pull((tuple(one / level), tuple(two / level)), tuple(value * b / level), lone)
    # Each of the three means is rounded once; the blanks count by their part of the difference.
    terms = [*_display(resolution, math.hypot(1, 1, value) / level), *shared]
    return judged(name, value, 0.0, pull, terms, standard_error(b) / level)


def judged(
    name: str, value: float, nothing: float, pull: Pull, terms: Sequence[Term], blank_doubt: float
) -> FilmResult:
    """The result with budget, decision and sentence.

    `nothing` is the value without any effect: 1 for a ratio, 0 for a difference. `blank_doubt` is
    the relative standard uncertainty of the blanks' mean.
    """
    is_ratio = nothing == 1.0
    blocking, depth = (1 - value, absorbance(value)) if is_ratio else (None, None)

    def refused(reason: str) -> FilmResult:
        shown = f"{name}: {value:.4g} with unknown uncertainty, no decision. {reason}"
        return FilmResult(name, value, blocking, depth, None, Shown.REFUSED, shown)

    if len(pull.blanks) < 2:
        return refused(
            "One blank does not show by how much blanks differ. Next: read at least two blanks of "
            "the same box, better five."
        )
    if blank_doubt > MOST_BLANK_DOUBT:
        return refused(
            f"The blanks' mean is known to {100 * blank_doubt:.2g} % only. Next: read more blanks, "
            "or find out why they differ."
        )
    table = budget(name, "1", [*scatter_of_slides(pull), *terms])
    if table.combined == 0:
        return refused(
            "All slides read the same to the last digit, and no step of the display was told, so "
            "nothing is known of their spread. Next: give the display's resolution."
        )
    change = value - nothing
    if abs(change) <= table.expanded:
        shown = Shown.NOT_SHOWN
    else:
        shown = Shown.LOWER if change < 0 else Shown.HIGHER
    return FilmResult(
        name, value, blocking, depth, table, shown, _sentence(name, value, table, shown, is_ratio)
    )


def scatter_of_slides(pull: Pull) -> list[Term]:
    terms = [
        Term(
            "scatter of the coated slides" + (f", {number}" if len(pull.coated) > 1 else ""),
            Kind.A, standard_error(np.array(series)), len(series) - 1, 1.0, Distribution.NORMAL,
            f"Standard deviation of {len(series)} slides over the root of their number.",
        )
        for number, series in enumerate(pull.coated, 1)
        if len(series) > 1
    ]  # fmt: skip
    n = len(pull.blanks)
    own = standard_error(np.array(pull.blanks))
    # One line for both uses of the blanks' scatter: it was estimated once.
    alone = [float(np.std(series, ddof=1)) for series in pull.lone]
    note = f"Standard deviation of {n} blanks over the root of their number, as it moves the result"
    if alone:
        note += ", and once in full for each coated slide that stands alone"
    terms.append(
        Term(
            "scatter of the blanks", Kind.A, math.hypot(own, *alone), n - 1, 1.0,
            Distribution.NORMAL, note + ".",
        )
    )  # fmt: skip
    return terms


def _display(resolution: float, sensitivity: float) -> list[Term]:
    if not (resolution >= 0 and math.isfinite(resolution)):
        raise ValueError(f"a display's step of 0 or more is wanted, got {resolution}")
    if resolution == 0:
        return []
    note = f"Half a step of {resolution:g}, once for each mean (GUM F.2.2.1)."
    return [rectangular("resolution of the display", resolution / 2, note, sensitivity=sensitivity)]


def _sentence(name: str, value: float, table: Budget, shown: Shown, is_ratio: bool) -> str:
    width = table.expanded
    what = "film transmittance" if is_ratio else "difference of the films"
    low, high = limits(value - width, value + width, width, (1.0 if is_ratio else 0.0,))
    head = f"{name}: {what} {rounded(value, width)}, 95 % interval {low} to {high}"
    reach = f"The smallest change these slides could have shown is {rounded(_seen(table), width)}."
    beside = "the blank" if is_ratio else "the other film"
    if shown is Shown.NOT_SHOWN:
        return (
            f"{head}. A change is not shown: it lies inside what the slides differ by themselves. "
            f"{reach}"
        )
    return f"{head}: {shown} than {beside}. {reach}"


def _seen(table: Budget) -> float:
    """The change that is shown in 80 of 100 repeats or more, by the rule of all other results.

    The limit here is Welch's, which is never wider: so more than 80 may be.
    """
    return reach_of(table.terms).smallest(1 - CONFIDENCE, POWER)


def _no_ratio(name: str, level: float, least: float) -> FilmResult:
    return FilmResult(
        name, None, None, None, None, Shown.REFUSED,
        f"{name}: no value. The blanks let {100 * level:.3g} % through, less than "
        f"{100 * least:g} %, so nothing can be told of the film. Next: use slides that are "
        "clear in this band.",
    )  # fmt: skip


def _checked(values: Sequence[float], side: str) -> Vector:
    found = np.asarray(values, dtype=np.float64).reshape(-1)
    if found.size == 0:
        raise ValueError(f"no {side}: at least one reading is wanted")
    if not np.isfinite(found).all():
        raise ValueError(
            f"{side}: a reading is no finite number; leave over-range slides out and say so"
        )
    return found


def standard_error(values: Vector) -> float:
    """s/sqrt(n); 0 of one value, whose doubt is told elsewhere, and exactly 0 of equal ones."""
    if values.size < 2 or float(np.ptp(values)) == 0.0:
        return 0.0
    return float(values.std(ddof=1)) / math.sqrt(values.size)
