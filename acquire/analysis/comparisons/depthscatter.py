"""What a film would scatter by if it did less than it does: of its readings, and of its slides.

Two things make a deep film scatter more than a slight one, as a part of itself. A head's noise in
percent of the beam weighs the more the less light there is, as exp(2 d) of a film with the depth d,
in natural logarithms. And a film whose thickness differs from slide to slide by a part of itself
differs in depth by that part, so the variance of slides grows with d squared. What is left of it
at no depth comes from all that is at hand: the variances of all cells, or of the slides of all
treatments, are taken to be v (1 + q g), with g of each by its depth and v and q the likeliest ones
(`acquire.analysis.specimens.depthlaw`). A film that did less than it does is then taken to have so
much of the way from there to what it was found to scatter by as g gives; one that did more, what it
was found to. No decision rests on this, but only what a run could have seen
(`acquire.analysis.comparisons.smallest`).

Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import Contrast
from acquire.analysis.specimens.depthlaw import Found, at_no_depth
from acquire.analysis.specimens.roundedspread import rounded_spread, rounding_half
from acquire.analysis.treatments.basis import Basis

_MOST_DEPTH = 20.0
"""In natural logarithms: two parts in a billion of the light, which no head tells from none."""


def of_noise(depth: float) -> float:
    """g of readings: how much larger the variance of a steady noise is, as a part of the light."""
    return math.expm1(2 * min(depth, _MOST_DEPTH))


def of_thickness(depth: float) -> float:
    """g of slides: a thickness that differs by a part of itself does so in depth."""
    return depth * depth


class DepthScatter(NamedTuple):
    """How much less the slides of one treatment would scatter at another depth.

    `depth` is that of its film as found, `readings` the variance of a reading and `slides` that of
    a slide where there is no film, both relative and None where nothing tells them; `own` is the
    variance of its slides as found, 0 of a single one.
    """

    depth: float
    readings: float | None
    slides: float | None
    own: float

    def of_readings(self, sd: float, depth: float) -> float:
        """The relative standard deviation of readings, found as `sd`, at that depth."""
        return math.sqrt(self._between(self.readings, sd * sd, depth, of_noise))

    def of_slides(self, depth: float) -> float:
        """What the differences of slides are multiplied by at that depth."""
        if not self.own > 0:
            return 1.0
        return math.sqrt(self._between(self.slides, self.own, depth, of_thickness) / self.own)

    def _between(
        self, none: float | None, own: float, depth: float, growth: Callable[[float], float]
    ) -> float:
        whole = growth(self.depth)
        if none is None or depth >= self.depth or not whole > 0:
            return own
        return none + (own - none) * growth(depth) / whole


def depth_scatter(
    contrast: Contrast, treatment: str, basis: Basis, *, is_within: bool = False
) -> DepthScatter:
    """Of one treatment of a difference of films, whose cells are in logarithms.

    `is_within` where it was taken within blocks. What sets a block apart is then left out as far as
    the other side shows it, where a third treatment can be so held against it; of two alone it is
    in both figures, and a deep film is taken to scatter more at less depth than it would.
    """
    signs = {c.stage: -1.0 if c.stage == basis.bare else 1.0 for c, _ in contrast.parts}
    clear = _clear(contrast, basis)
    zones: dict[tuple[str, str], dict[str, Cell]] = {}
    for cell in (*basis.cells, *(c for c, _ in contrast.parts)):
        if cell.stage in signs and cell.is_relative:
            zones.setdefault((cell.treatment, cell.zone), {})[cell.stage] = cell
    readings: list[Found] = []
    fewest = math.inf
    sides: dict[str, list[tuple[str, float, float]]] = {}
    for (who, zone), by_stage in zones.items():
        if len(by_stage) < len(signs):
            continue
        parts = [(cell, signs[stage]) for stage, cell in by_stage.items()]
        change = math.fsum(sign * cell.mean for cell, sign in parts if cell.mean is not None)
        depth = max(0.0, clear - change)
        if who == treatment:
            fewest = min(fewest, 1 / math.fsum(1 / cell.n for cell, _ in parts))
        readings += [
            Found(depth if sign > 0 else 0.0, cell.summary.sd**2, cell.n - 1)
            for cell, sign in parts
            if cell.summary.sd is not None
        ]
        sides.setdefault(who, []).append((zone, change, rounding_half(parts, basis.resolution)))
    slides, own = [], 0.0
    of_block = block_course(contrast, treatment, basis) if is_within else {}
    others = {c.treatment for c, _ in contrast.parts} - {treatment}
    is_left_out = bool(of_block) and len(sides) > len(others) + 1
    for who, held in sides.items():
        if len(held) > 1 and not (is_left_out and who in others):
            off = [of_block.get(zone, 0.0) if is_left_out else 0.0 for zone, *_ in held]
            changes = [one - o for (_, one, _), o in zip(held, off, strict=True)]
            sd = rounded_spread(changes, [half for *_, half in held]).sd
            slides.append(Found(_depth(held, clear), sd * sd, len(held) - 1))
            if who == treatment:
                own = sd * sd
    of_reading, of_slide = at_no_depth(readings, of_noise), at_no_depth(slides, of_thickness)
    if of_reading is not None and of_slide is not None:
        # Two slides may agree by chance: they differ no less than their own readings make them.
        of_slide = max(of_slide, of_reading / fewest)
    return DepthScatter(_depth(sides.get(treatment, ()), clear), of_reading, of_slide, own)


def block_course(contrast: Contrast, treatment: str, basis: Basis) -> dict[str, float]:
    """By how much the block of each zone is apart from the mean of all, as the other side has it.

    Relative, of the zones of all treatments; empty where the plan has no blocks.
    """
    courses: dict[int, list[float]] = {}
    changes: dict[str, float] = {}
    for cell, _ in contrast.parts:
        if cell.treatment != treatment and cell.mean is not None and cell.zone in basis.blocks:
            sign = -1.0 if cell.stage == basis.bare else 1.0
            changes[cell.zone] = changes.get(cell.zone, 0.0) + sign * cell.mean
    for zone, change in changes.items():
        courses.setdefault(basis.blocks[zone], []).append(change)
    if not courses:
        return {}
    means = {block: math.fsum(own) / len(own) for block, own in courses.items()}
    middle = math.fsum(means.values()) / len(means)
    return {zone: means[block] - middle for zone, block in basis.blocks.items() if block in means}


def _clear(contrast: Contrast, basis: Basis) -> float:
    """What a slide without a film changes by: nothing, or has in logarithms where none was bare."""
    if basis.blanks is None:
        return 0.0
    values = basis.blanks[contrast.parts[0][0].stage].values
    return math.fsum(values) / len(values)


def _depth(changes: Sequence[tuple[str, float, float]], clear: float) -> float:
    if not changes:
        return 0.0
    return max(0.0, clear - math.fsum(change for _, change, _ in changes) / len(changes))
