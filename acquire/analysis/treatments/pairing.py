"""One treatment at one stage: which of its zones were read both bare and after, and its doubts.

Pure; any thread.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import change_of
from acquire.analysis.figures import signed
from acquire.analysis.scale import PERCENT
from acquire.analysis.specimens.blocks import ENOUGH_BLOCKS
from acquire.analysis.specimens.scatter import ENOUGH
from acquire.analysis.treatments.basis import Basis
from acquire.analysis.treatments.level import flag_of

_BY_DEPTH = (
    "The uncertainty comes from how such changes spread from slide to slide in all treatments "
    "together, the more the deeper a film is: by what slides of this depth spread."
)


@dataclass(frozen=True, slots=True)
class Arm:
    """A treatment's zones that can be compared, as pairs of (bare cell, after cell).

    Where the plan has no bare stage (`bare` is empty) each has its after cell alone.

    `left_out` names the stages at which the other zones of the treatment have no reading that
    counts: none was taken, or all of them are void or suspect.
    """

    treatment: str
    name: str
    stage: str
    bare: str
    pairs: tuple[tuple[Cell, ...], ...]
    left_out: tuple[tuple[str, str], ...]

    @property
    def zones(self) -> tuple[str, ...]:
        return tuple(pair[-1].zone for pair in self.pairs)

    @property
    def read(self) -> tuple[tuple[str, str], ...]:
        """Zone and stage of every cell that is compared."""
        return tuple((cell.zone, cell.stage) for pair in self.pairs for cell in pair)

    @property
    def missing(self) -> tuple[tuple[str, str], ...]:
        """Zone and stage of every cell that has no reading that counts."""
        return tuple((zone, s) for zone, stages in self.left_out for s in stages.split(" and "))

    @property
    def lacking(self) -> str:
        """Why it cannot be compared, as a part of a sentence. Only for an arm without pairs."""
        if not self.left_out:
            return f"no zone carries {self.name}"
        return "; ".join(
            f"zone {zone} of {self.name} has no reading that counts at {stages}"
            for zone, stages in self.left_out
        )

    @property
    def wanting(self) -> str:
        """What to read, as an object of a sentence. Only for an arm without pairs."""
        if not self.left_out:
            return f"a zone of {self.name}"
        return " and ".join(f"zone {zone} at {stages}" for zone, stages in self.left_out)


def arm_of(treatment: str, name: str, cells: Sequence[Cell], stage: str, bare: str) -> Arm:
    """Pair the cells of a treatment by zone; without `bare` take them as they are at `stage`."""
    at = {(c.zone, c.stage): c for c in cells}
    pairs = []
    left_out = []
    for zone in dict.fromkeys(c.zone for c in cells):
        stages = (bare, stage) if bare else (stage,)
        here = tuple(c for s in stages if (c := at.get((zone, s))) is not None and c.n)
        if len(here) == len(stages):
            pairs.append(here)
        else:
            missing = [s for s in stages if s not in {c.stage for c in here}]
            left_out.append((zone, " and ".join(missing)))
    return Arm(treatment, name, stage, bare, tuple(pairs), tuple(left_out))


def scope_of(arm: Arm, control: Arm, *, is_of_zones: bool = False) -> str:
    """The sentence that ends a decision on single zones; empty where zones were repeated.

    `is_of_zones` is whether zones say how sure the difference is, those of others for a single one.
    """
    single = [side.name for side in (arm, control) if len(side.pairs) == 1]
    if not single:
        return ""
    if is_of_zones:
        return (
            f"One zone alone stands for {' and one for '.join(single)}; how zones differ is taken "
            "from treatments with several, and nothing tells whether it spreads more than these."
        )
    return f"This is about the zones read: one stands for {' and one for '.join(single)}."


def caveats_of(
    arm: Arm,
    control: Arm,
    basis: Basis,
    blocks: int = 0,
    *,
    is_of_zones: bool = False,
    is_pooled: bool = False,
    is_by_depth: bool = False,
) -> tuple[str, ...]:
    """What a reader must know before repeating the decision: zones, blocks, gaps, flags.

    `blocks` counts those within which the difference was taken, 0 where it was not;
    `is_of_zones` as in `scope_of`, `is_pooled` where zones of all treatments tell together, as if
    all alike, `is_by_depth` where they do so by how deep its film is.
    """
    single = [side.name for side in (arm, control) if len(side.pairs) == 1 and not is_of_zones]
    said = []
    if single:
        said.append(
            f"One zone stands for {' and one for '.join(single)}: the decision holds for the "
            "zones as they were treated. Repeated readings of one zone do not show how a product "
            "varies from zone to zone."
        )
    said.extend(
        filter(
            None,
            (
                _on_few(arm, control, is_pooled=is_pooled or is_by_depth),
                _on_blocks(arm, control, basis, blocks),
            ),
        )
    )
    for side in (arm, control):
        if len(side.pairs) > 1:
            tail = (
                _BY_DEPTH
                if is_by_depth
                else _on_spread(basis, blocks, is_counted=not single, is_pooled=is_pooled)
            )
            said.append(f"{_on_zones(side, basis)} {tail}")
        said.extend(
            f"Zone {zone} of {side.name} is left out: it has no reading that counts at {stages}."
            for zone, stages in side.left_out
        )
        for pair in side.pairs:
            said.extend(filter(None, (flag_of(cell, basis.suffix) for cell in pair)))
    if basis.scatter.sd == 0:
        said.append(
            "All repeated readings agree to the last digit: the resolution of the display stands "
            "for their scatter."
        )
    return tuple(said)


def _on_few(arm: Arm, control: Arm, *, is_pooled: bool) -> str:
    """What two zones, or two readings, cost; empty where there are more."""
    sides = (arm, control)
    if all(len(side.pairs) > 1 for side in sides):
        few = [side.name for side in sides if len(side.pairs) < ENOUGH]
        if not few:
            return ""
        if is_pooled:
            return (
                f"Only two zones stand for {' and '.join(few)}: zones of the other treatments help "
                f"to tell how such zones differ. {ENOUGH} zones or more are wanted, five are "
                "better."
            )
        return (
            f"Only two zones stand for {' and '.join(few)}: their spread is hardly known, and only "
            f"a very large difference can be shown. {ENOUGH} zones or more are wanted, five are "
            "better."
        )
    if is_pooled:
        return ""
    least = min(cell.n for side in sides for pair in side.pairs for cell in pair)
    if least >= ENOUGH:
        return ""
    places = ", ".join(
        f"zone {cell.zone} at {cell.stage}"
        for side in sides
        for pair in side.pairs
        for cell in pair
        if cell.n < ENOUGH
    )
    return (
        f"Too few readings to judge anything but a very large difference: {least} of {places}. "
        f"{ENOUGH} or more are wanted, five are better."
    )


def _on_blocks(arm: Arm, control: Arm, basis: Basis, blocks: int) -> str:
    """That zones were not compared within the blocks they were dealt in; empty where they were."""
    if blocks or not basis.blocks or basis.blanks is not None or len(arm.pairs) < 2:
        return ""
    own, other = (
        Counter(basis.blocks[zone] for zone in side.zones if zone in basis.blocks)
        for side in (arm, control)
    )
    missing = sorted((set(basis.blocks.values()) - set(own)) | (set(own) ^ set(other)))
    many = "s" if len(missing) > 1 else ""
    why = (
        f"block{many} {', '.join(map(str, missing))} {'have' if many else 'has'} no zone of both "
        "that was read"
        if missing
        else "a block has several zones of one treatment and there are fewer than "
        f"{ENOUGH_BLOCKS} blocks, or one of its zones was not read"
    )
    return f"Not compared within blocks, but by the spread of all zones: {why}."


def _on_zones(side: Arm, basis: Basis) -> str:
    """How far apart the zones of one side are."""
    changes = [change_of([pair]).estimate for pair in side.pairs]
    low, high = min(changes), max(changes)
    u = min(_own_uncertainty(pair, basis.resolution) for pair in side.pairs)
    if basis.scale.is_ratio:
        # A slide as it is has the logarithm of percent, a ratio that of parts of 1.
        of_one = 0.0 if side.bare else math.log(PERCENT)
        ratios = basis.scale.span(low - of_one, high - of_one, u, ())
        what = "ratios to themselves when bare" if side.bare else "transmittances"
        return (
            f"The mean of {len(side.pairs)} slides stands for {side.name}; at {side.stage} their "
            f"{what} range from {ratios} %."
        )
    return (
        f"The mean of {len(side.pairs)} zones stands for {side.name}; at {side.stage} their "
        f"changes range from {signed(low, u)} to {signed(high, u)}{basis.suffix}."
    )


def _on_spread(basis: Basis, blocks: int, *, is_counted: bool, is_pooled: bool) -> str:
    """Where the uncertainty comes from; not from zones where these are not counted."""
    zone = "slide" if basis.scale.is_ratio else "zone"
    if blocks and is_pooled:
        return (
            f"The uncertainty comes from how a difference of treatments spreads over {blocks} "
            "blocks: of all treatments together, or of these two where theirs spreads more."
        )
    if blocks:
        return (
            "The uncertainty comes from how the difference to the other side spreads over "
            f"{blocks} blocks."
        )
    if is_pooled:
        return (
            f"The uncertainty comes from how such changes spread from {zone} to {zone}: in all "
            "treatments together, or in these two where they spread more."
        )
    these = "these" if basis.scale.is_ratio else "these changes"
    if is_counted:
        return f"The uncertainty comes from how {these} spread from {zone} to {zone}."
    how = "these spread" if basis.scale.is_ratio else "it varies"
    return (
        f"How {how} from {zone} to {zone} is not in the uncertainty, which comes from repeated "
        f"readings because the other side has one {zone}."
    )


def _own_uncertainty(pair: tuple[Cell, ...], resolution: float) -> float:
    """About the expanded uncertainty of one change, from nothing but its own readings.

    It only says how many digits are printed. The scatter of all cells together would not do: one
    wild reading anywhere would round the changes of all other zones away.
    """
    scatter = [cell.summary.sd / math.sqrt(cell.n) for cell in pair if cell.summary.sd]
    step = resolution * max(cell.per_unit for cell in pair)
    return max(step, 2 * math.hypot(*scatter))
