"""Advice on gloss: which angle separates such surfaces better, and what a loss means.

Never forces anything and never changes a figure. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from acquire.analysis.budget.reach import reach_of
from acquire.analysis.budget.uncertainty import CONFIDENCE
from acquire.analysis.figures import rounded
from acquire.analysis.gloss import geometry_advice
from acquire.analysis.treatments.change import Change
from acquire.analysis.treatments.level import Level

_A_DECIMAL = 1.0
"""An uncertainty whose second digit is the first decimal; the limits of the advice need no more."""

_SHARED = (
    " Zones of the control fell, too: what befell the whole panel is in these falls, and only the "
    "differences from the control speak of a film."
)
_WHY = {
    "20": ("above 70 GU", "ASTM D523-14, 4.1.2"),
    "85": ("below 10 GU", "ASTM D523-14, 4.1.3"),
}


def on_channel(
    levels: Sequence[Level], channels: Sequence[str], elsewhere: Mapping[str, str]
) -> tuple[str, ...]:
    """Sentences on a better angle, from the means read at 60 degrees.

    `channels` are those the measure includes; `elsewhere` names the measure of the plan that reads
    an angle.
    """
    said = []
    for angle, (where, source) in _WHY.items():
        found = [
            (level.cell.mean, level.budget.expanded if level.budget is not None else math.inf)
            for level in levels
            if level.cell.mean is not None and geometry_advice(level.cell.mean) == angle
        ]
        if not found:
            continue
        means = [mean for mean, _ in found]
        u = _printed(min(u for _, u in found))
        read = sum(1 for level in levels if level.cell.mean is not None)
        tail = (
            f"It is measured here too: decide by {angle}°."
            if angle in channels
            else f"The measure {elsewhere[angle]} reads {angle}°: decide by that one."
            if angle in elsewhere
            else f"No measure of the plan reads {angle}°."
        )
        said.append(
            f"{len(means)} of {read} means at 60° lie {where} ({rounded(min(means), u)} to "
            f"{rounded(max(means), u)} GU): {angle}° separates such surfaces better ({source}). "
            f"{tail}"
        )
    return tuple(said)


def _printed(smallest: float) -> float:
    """What the means are rounded by: the smallest of their uncertainties, never below a decimal.

    Where none of them is known a decimal is printed as well.
    """
    return max(_A_DECIMAL, smallest) if math.isfinite(smallest) else _A_DECIMAL


def on_losses(changes: Sequence[Change], control: str) -> tuple[str, ...]:
    """A sentence where treated zones lost gloss: that alone is no error.

    Every change of a treated zone at every stage was looked at, so falls are adjusted for all of
    them by S. Holm, Scand. J. Statist. 6 (1979) 65 (from memory): without that 30 changes of
    nothing make a false fall in about half of all trials.
    """
    looked = [c for c in changes if c.treatment != control and c.budget is not None]
    fallen = _fallen(looked)
    if not fallen:
        return ()
    zones = ", ".join(dict.fromkeys(c.zone for c in fallen))
    stages = {c.stage for c in fallen}
    shared = any(
        c.treatment == control and c.stage in stages and c.is_shown and (c.estimate or 0.0) < 0
        for c in changes
    )
    with_it = _SHARED if shared else ""
    among = f" (of {len(looked)} changes, adjusted by Holm)" if len(looked) > 1 else ""
    return (
        f"Gloss fell in treated zones ({zones}){among}. A clear film of lower refractive index "
        "than the surface below lowers the gloss of a smooth surface (Fresnel); a loss is not an "
        f"error by itself, and a rise means a smoother or cleaner surface.{with_it}",
    )


def _fallen(looked: Sequence[Change]) -> list[Change]:
    """The falls that stand for all changes together, in the order given."""
    alpha = 1 - CONFIDENCE
    at_once: set[int] = set()
    left: list[tuple[float, int]] = []
    for place, c in enumerate(looked):
        if not c.is_shown or c.estimate is None or c.estimate > 0:
            continue  # beyond no level that a step of Holm's has
        assert c.budget is not None
        reach, size = reach_of(c.budget.terms), abs(c.estimate) - abs(c.budget.bias)
        # What the first and strictest step takes needs no probability, which costs most.
        if size > reach.half_width(alpha / len(looked)):
            at_once.add(place)
        else:
            left.append((reach.p(size), place))
    taken = set(at_once)
    for p, place in sorted(left):
        if p * (len(looked) - len(taken)) > alpha:
            break
        taken.add(place)
    return [looked[place] for place in sorted(taken)]
