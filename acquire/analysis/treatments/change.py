"""The change of one zone from the bare stage to a later one.

Pure; any thread.
"""

from __future__ import annotations

from dataclasses import dataclass

from acquire.analysis.budget.uncertainty import Budget
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import change_of
from acquire.analysis.cells.relative import is_dark, read_mean
from acquire.analysis.figures import rounded
from acquire.analysis.gloss import Retention, retention
from acquire.analysis.treatments.basis import Basis, evaluate


@dataclass(frozen=True, slots=True)
class Change:
    """After minus bare of one zone, in the measure's unit; of a transmittance ln(after / bare).

    `estimate` is None where no reading of a stage counts, `budget` also where the scatter is
    unknown; `retention` is after over bare in percent, None where the bare mean is not above zero.
    The change of a zone by itself also holds what the panel and the meter did meanwhile: the net
    change against the control is the better figure.
    """

    zone: str
    treatment: str
    stage: str
    bare: str
    estimate: float | None
    retention: Retention | None
    budget: Budget | None
    sentence: str
    caveats: tuple[str, ...]

    @property
    def is_shown(self) -> bool:
        """Whether the change of this zone alone is larger than its 95 % uncertainty."""
        return (
            self.estimate is not None
            and self.budget is not None
            and abs(self.estimate) > self.budget.expanded
        )


def change_in(bare: Cell, after: Cell, name: str, basis: Basis) -> Change:
    """The change of a zone; `name` is the treatment's name for the sentence."""
    place = f"Zone {after.zone} ({name})"
    missing = [c.stage for c in (bare, after) if c.n == 0]
    if bare.mean is None or after.mean is None:
        return Change(
            after.zone, after.treatment, after.stage, bare.stage, None, None, None,
            f"{place}: no change from {bare.stage} to {after.stage}, because no reading counts at "
            f"{' and '.join(missing)}.",
            (),
        )  # fmt: skip
    if basis.scale.is_ratio:
        return _ratio_in(bare, after, place, basis)
    evaluation = evaluate(change_of([(bare, after)]), basis)
    estimate = evaluation.contrast.estimate
    table = evaluation.budget(
        f"change of zone {after.zone} from {bare.stage} to {after.stage}", basis.unit
    )
    u = table.expanded if table else basis.resolution
    size = rounded(abs(estimate), u)
    steady = not any(d in "123456789" for d in size)
    verb = "did not change" if steady else ("rose" if estimate > 0 else "fell")
    by = "" if steady else f" by {size}{basis.suffix}"
    span = (
        f"from {bare.stage} ({rounded(bare.mean, u)}{basis.suffix}) to {after.stage} "
        f"({rounded(after.mean, u)}{basis.suffix})"
    )
    caveats = list(evaluation.known.caveats)
    if table is None:
        tail = f"no uncertainty, because {evaluation.lacking}"
    else:
        tail = f"uncertainty {rounded(table.expanded, table.expanded)}{basis.suffix} (95 %)"
        if evaluation.known.offset_unknown:
            caveats.append(
                "The changes of zones by themselves also hold what the meter changed between the "
                f"checks, which is not in their uncertainty: {evaluation.known.offset_unknown}. "
                "It cancels in the net changes of zones read together, but for what of it grows "
                "with the reading."
            )
    return Change(
        after.zone, after.treatment, after.stage, bare.stage, estimate,
        retention(bare.mean, after.mean), table, f"{place} {verb}{by} {span}; {tail}.",
        tuple(caveats),
    )  # fmt: skip


def _ratio_in(bare: Cell, after: Cell, place: str, basis: Basis) -> Change:
    """The transmittance of a slide over its own when bare; `place` begins the sentence."""
    means = [read_mean(cell) for cell in (bare, after)]
    dark = [c.stage for c, mean in zip((bare, after), means, strict=True) if is_dark(mean)]
    if dark:
        return Change(
            after.zone, after.treatment, after.stage, bare.stage, None, None, None,
            f"{place}: no ratio to {bare.stage}, because no light came through at "
            f"{' and '.join(dark)}.",
            (),
        )  # fmt: skip
    evaluation = evaluate(change_of([(bare, after)]), basis)
    estimate = evaluation.contrast.estimate
    table = evaluation.budget(
        f"ln of the transmittance of {after.zone} at {after.stage} over that at {bare.stage}",
        basis.scale.unit,
    )
    u = table.expanded if table else None
    tail = (
        f"no uncertainty, because {evaluation.lacking}"
        if table is None or u is None
        else f"uncertainty {basis.scale.width(estimate, u)} % (95 %)"
    )
    caveats = list(evaluation.known.caveats)
    if table is not None and evaluation.known.offset_unknown:
        caveats.append(
            "The ratios of slides to themselves when bare also hold what the meter changed between "
            f"the checks, which is not in their uncertainty: {evaluation.known.offset_unknown}."
        )
    return Change(
        after.zone, after.treatment, after.stage, bare.stage, estimate,
        retention(*means), table,
        f"{place} lets {basis.scale.figure(estimate, u)} % of the light through that it let "
        f"through at {bare.stage} ({basis.scale.what}); {tail}.",
        tuple(caveats),
    )  # fmt: skip
