"""The value of one zone at one stage, as a result.

Pure; any thread.
"""

from __future__ import annotations

from dataclasses import dataclass

from acquire.analysis.budget.uncertainty import Budget
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import value_of
from acquire.analysis.figures import beyond, rounded
from acquire.analysis.treatments.basis import Basis, evaluate


@dataclass(frozen=True, slots=True)
class Level:
    """A cell with its budget; `budget` is None where no reading counts or the scatter is unknown.

    `sentence` states the mean with its uncertainty; `remarks` what is special: a flagged reading,
    equal readings, missing ones. `caveats` says what the uncertainty does not contain.
    """

    cell: Cell
    budget: Budget | None
    sentence: str
    remarks: tuple[str, ...]
    caveats: tuple[str, ...]


def level_of(cell: Cell, basis: Basis) -> Level:
    """The result for one cell, empty or not."""
    place = f"Zone {cell.zone}, {cell.stage}"
    if cell.mean is None:
        beyond = basis.one_sided.get((cell.zone, cell.stage))
        also = f"; {beyond.words}" if beyond is not None else ""
        return Level(cell, None, f"{place}: no reading counts{also}.", (), ())
    remarks = []
    if cell.n < basis.replicates:
        remarks.append(f"{place}: {cell.n} of {basis.replicates} planned readings.")
    flag = flag_of(cell, basis.suffix)
    if flag:
        remarks.append(flag)
    elif cell.summary.remark:
        remarks.append(f"{place}: {cell.summary.remark[0].lower()}{cell.summary.remark[1:]}")
    evaluation = evaluate(value_of(cell), basis)
    table = evaluation.budget(f"mean of zone {cell.zone}, {cell.stage}", basis.unit)
    readings = "1 reading" if cell.n == 1 else f"{cell.n} readings"
    if table is None:
        return Level(
            cell,
            None,
            f"{place}: {rounded(cell.mean, basis.resolution)}{basis.suffix}, mean of {readings}; "
            f"no uncertainty, because {evaluation.lacking}.",
            tuple(remarks),
            evaluation.known.caveats,
        )
    caveats = list(evaluation.known.caveats)
    if evaluation.known.offset_unknown:
        caveats.append(
            "The uncertainty of single values does not contain the meter's own offset: "
            f"{evaluation.known.offset_unknown}. Differences between zones read together do not "
            "need it."
        )
    return Level(
        cell,
        table,
        f"{place}: {rounded(cell.mean, table.expanded)}{basis.suffix} "
        f"± {rounded(table.expanded, table.expanded)}{basis.suffix} (95 %), mean of {readings}.",
        tuple(remarks),
        tuple(caveats),
    )


def flag_of(cell: Cell, sign: str) -> str:
    """The sentence on a flagged reading of the cell; empty without one."""
    sample, outlier = cell.flagged, cell.summary.outlier
    if sample is None or outlier is None:
        return ""
    found, limit = beyond(outlier.statistic, outlier.critical)
    by = (
        f"{found} times the repeatability from {outlier.by} off the mean"
        if outlier.by
        else f"Grubbs G = {found}"
    )
    return (
        f"Zone {cell.zone}, {cell.stage}: the reading of {sample.value:g}{sign} "
        f"(reading number {sample.reading_id}) stands out from the other {cell.n - 1} ({by}, "
        f"limit {limit}). It is counted all the same; "
        "void it with a reason if it was a bad reading."
    )
