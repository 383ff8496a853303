"""How large a trial is to be: its zones and readings, as they were given, asked or proposed.

Main thread. Reads the bench's store for proposals; writes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from math import ceil
from typing import TYPE_CHECKING, Any

from acquire.cli.trial.asking import Asking
from acquire.cli.trial.parsing import a_seed, count, fits
from acquire.cli.trial.proposing import Proposed, paired_by, proposals
from acquire.model import Design, Panel
from acquire.settings.trial import MOST_ZONES
from acquire.trial import answers, dealing
from acquire.trial.answers import Measured

if TYPE_CHECKING:
    from acquire.model import Bench
    from acquire.model.sled import SledSpec


class Sizing:
    """The numbers of one trial; `bench` is None where there is none."""

    def __init__(self, asking: Asking, given: Mapping[str, Any], bench: Bench | None) -> None:
        self._asking = asking
        self._given = given
        self._bench = bench

    def look_at_numbers(self) -> None:
        """Faults of what is asked for later, so that all options are told of together."""
        for option, parse in (("grid", answers.grid), ("zones", count), ("seed", a_seed)):
            text = self._given[option]
            if text is not None and not self._asking.is_asked:
                try:
                    parse(text)
                except ValueError as wrong:
                    self._asking.fault(f"--{option}", f'"{text}"', str(wrong))
        if self._given["grid"] is not None and self._given["zones"] is not None:
            self._asking.fault("--zones", self._given["zones"], "--grid or --zones, not both")

    def grid(
        self,
        products: int,
        panels: tuple[Panel, ...],
        measures: list[Measured],
        sled: SledSpec | None,
        wanted: dict[str, Decimal],
    ) -> tuple[answers.Grid, dict[str, Proposed]]:
        """Rows and columns, and what is proposed for so many zones; says where that is from."""
        given, treatments = self._given, products + 1
        question = (
            f"Zones of {'the panel' if len(panels) == 1 else 'each panel'} as rows x columns, for "
            f"{treatments} treatments with the control"
        )
        grid = fixed = None
        if given["grid"] is not None:
            grid = self._asking.one("--grid", given["grid"], question, "", fits(panels, treatments))
        elif given["zones"] is not None:
            fixed = self._asking.one("--zones", given["zones"], "Zones a product", "3", count)
        self._asking.settle()
        if grid is not None:
            fixed = grid.rows * grid.columns * len(panels) // treatments
        # What is proposed has a row for each zone of a product: a block.
        is_paired = paired_by(given["design"], grid, panels, treatments)
        found = proposals(self._bench, measures, wanted, sled, products, fixed, is_paired=is_paired)
        self._asking.tell(line for one in found.values() for line in one.lines)
        if grid is not None:
            return grid, found
        each = max(one.zones for one in found.values())
        rows = max(1, min(ceil(each / len(panels)), MOST_ZONES // treatments // len(panels)))
        grid = self._asking.one(
            "--grid", None, question, f"{rows}x{treatments}", fits(panels, treatments)
        )
        self._asking.settle()
        assert grid is not None
        own = grid.rows * grid.columns * len(panels) // treatments
        was_paired, is_paired = is_paired, paired_by(given["design"], grid, panels, treatments)
        if (
            own != each
            or len({one.zones for one in found.values()}) > 1
            or was_paired is not is_paired
        ):
            before, found = (
                found,
                proposals(self._bench, measures, wanted, sled, products, own, is_paired=is_paired),
            )
            again = [m.id for m in measures if found[m.id].lines[-1] != before[m.id].lines[-1]]
            if again and was_paired is not is_paired:
                self._asking.tell([_not_within(grid, panels, treatments)])
            self._asking.tell(f"{m}:{found[m].lines[-1].removeprefix(m + ':')}" for m in again)
        return grid, found

    def replicates(self, measures: list[Measured], found: dict[str, Proposed]) -> dict[str, int]:
        """How often each zone is read at each stage, by measure."""
        known = paired(self._asking, "--replicates", self._given["replicates"], measures, "5")
        chosen: dict[str, int] = {}
        for m in measures:
            proposed = found[m.id]
            question = f"Readings of each zone at each stage, {m.id}"
            chosen[m.id] = self._asking.one(
                "--replicates", known.get(m.id), question, str(proposed.readings), count
            ) or 1  # fmt: skip
            if chosen[m.id] != proposed.readings and (said := proposed.instead(chosen[m.id])):
                self._asking.tell([f"{m.id}: instead: {said}"])
        return chosen


def _not_within(grid: answers.Grid, panels: tuple[Panel, ...], treatments: int) -> str:
    """Why what was proposed for blocks shows something else on this grid."""
    whole = dealing.Grid(tuple(p.id for p in panels), grid.rows, grid.columns)
    is_square = dealing.design_for(whole, treatments) is Design.LATIN_SQUARE
    how = "make a Latin square" if is_square else "make no such blocks"
    return (
        f"{grid.rows}x{grid.columns} zones for {treatments} treatments {how}, so that differences "
        "are not taken within blocks, as above, but by how zones differ within treatments:"
    )


def paired(
    asking: Asking, option: str, texts: tuple[str, ...], measures: list[Measured], example: str
) -> dict[str, str]:
    """What was said of single measures, as ``gloss-20=1``; faults are kept by the asking."""
    found: dict[str, str] = {}
    for text in texts:
        try:
            name, value = answers.pair(text, [m.id for m in measures], example)
        except ValueError as wrong:
            asking.fault(option, f'"{text}"', str(wrong))
            continue
        found[name] = value
    return found
