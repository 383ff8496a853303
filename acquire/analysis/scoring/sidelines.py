"""A line of scatter for each side of net changes: the control's is one line for all treatments.

Results say how sure a net change is in one figure, that of its difference: within blocks, or by the
spread of zones of all treatments together. To be drawn beside other treatments it has to come
apart, since what treatments share is the error of the control alone. Where not all net changes have
the same zones of the control, or are not all taken within blocks, they share as much as the surest
of these figures of the control says, and have what is beyond it as a line more. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from acquire.analysis.budget.uncertainty import Distribution, Kind, Term
from acquire.analysis.cells.contrast import Contrast
from acquire.analysis.specimens.blocks import own_spreads
from acquire.analysis.specimens.depthlaw import AT_DEPTH
from acquire.analysis.specimens.zonelines import SPREAD_OF_ZONES, OwnLine, own_lines
from acquire.analysis.specimens.zones import told_by_zones
from acquire.analysis.treatments.basis import Basis, Evaluation

SPREAD = "spread of the zones of "
"""Begins the name of the line of a side's zones."""
BEYOND = ", beyond what all share"
"""Ends the name of what the control has more of in some net changes than in others."""
_OF_ALL = SPREAD_OF_ZONES, SPREAD_OF_ZONES + AT_DEPTH
_NEGLIGIBLE = 1e-9
"""Of a line: two reckonings of one figure differ by less."""


def side_lines(
    found: Mapping[str, Evaluation], control: str, basis: Basis
) -> dict[str, tuple[Term, ...]]:
    """Type A terms by treatment, for those of which zones or blocks say how sure they are.

    `found` has the net change of each treatment, the control's part taken off in it.
    """
    sides = {**_of_zones(found, control, basis), **_of_blocks(found, control, basis)}
    if not sides:
        return {}
    within = [own for t, (_, own) in sides.items() if found[t].blocks]
    shared = min(within or [own for _, own in sides.values()], key=lambda x: (x.u, -x.nu))
    lines: dict[str, tuple[Term, ...]] = {}
    for treatment, (own, of_control) in sides.items():
        common = min(shared.u, of_control.u)
        beyond = math.sqrt(max(0.0, of_control.u**2 - common**2))
        lines[treatment] = (
            _line(f"{SPREAD}{treatment}", own),
            _line(f"{SPREAD}{control}", OwnLine(common, shared.nu)),
        )
        if beyond > _NEGLIGIBLE * of_control.u:
            more = OwnLine(beyond, of_control.nu)
            lines[treatment] += (_line(f"{SPREAD}{control}{BEYOND}", more),)
    return lines


_Sides = dict[str, tuple[OwnLine, OwnLine]]
"""The lines of a treatment and of the control in its net change."""


def _of_zones(found: Mapping[str, Evaluation], control: str, basis: Basis) -> _Sides:
    """By the spread of zones, pooled or each side's own."""
    sides = {}
    for treatment, evaluation in found.items():
        names = {term.name for term in evaluation.terms}
        if not evaluation.blocks and names & {*_OF_ALL, f"{SPREAD}{control}"}:
            told = told_by_zones(evaluation.contrast, basis.resolution, basis.cells)
            assert told is not None
            own, other = own_lines(told, is_relative=evaluation.contrast.is_relative)
            sides[treatment] = own, other
    return sides


def _of_blocks(found: Mapping[str, Evaluation], control: str, basis: Basis) -> _Sides:
    """Within blocks; treatments that have other blocks, too, tell with theirs of the same."""
    judged = [t for t, evaluation in found.items() if evaluation.blocks]
    if not judged:
        return {}
    changes = [found[t].contrast.of(t) for t in judged]
    # It is taken off in a net change, and its zones stand beside the others by their own changes.
    of_control = Contrast(()).minus(found[judged[0]].contrast.of(control))
    numbers = {basis.blocks[cell.zone] for cell, _ in of_control.parts}
    others = [
        part
        for t, evaluation in found.items()
        if not evaluation.blocks
        and (part := _in_blocks(evaluation.contrast.of(t), numbers, basis)) is not None
    ]
    spreads = own_spreads([*changes, of_control, *others], basis.blocks)
    if spreads is None:
        return {}
    return {t: (spreads[i], spreads[len(judged)]) for i, t in enumerate(judged)}


def _in_blocks(change: Contrast, numbers: set[int], basis: Basis) -> Contrast | None:
    """A mean change of the zones in these blocks; None where they are not one in each."""
    zones = {cell.zone for cell, _ in change.parts}
    inside = [zone for zone in zones if basis.blocks.get(zone) in numbers]
    if len(inside) != len(numbers) or {basis.blocks[zone] for zone in inside} != numbers:
        return None
    scale = len(zones) / len(inside)
    return Contrast(tuple((c, scale * w) for c, w in change.parts if c.zone in inside))


def _line(name: str, line: OwnLine) -> Term:
    said = "Spread of the zones of one side, to be drawn beside other treatments."
    return Term(name, Kind.A, line.u, line.nu, 1.0, Distribution.NORMAL, said)
