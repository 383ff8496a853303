"""How many washes each stage of a trial comes after, and when a measure says a treatment is gone.

``[trial.washes]`` gives counts to stages by name; a stage without a count before the first one with
a count comes before all washing. No count is ever guessed from a stage's name: `wash_hints` says
where a name promises one that the file does not give. Any thread.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated

from pydantic import Field

from acquire.errors import Fault
from acquire.model import EndOfLife, Plan, Quantity
from acquire.schema import Number, Schema, either, rule, show

MOST_WASHES = 1_000_000

Washes = Annotated[
    dict[str, Annotated[int, Field(ge=0, le=MOST_WASHES)]],
    Field(description="a table of stages with their counts, such as wash-5 = 5"),
]
"""Counts by stage, as written."""

_NAMED = re.compile(r"(?i)wash(?:es)?[-_.]?0*(\d{1,7})")


class EndOfLifeTable(Schema):
    """``[measure.end_of_life]``: one criterion."""

    lost: Annotated[Number, Field(gt=0, lt=1)] | None = None
    below: Number | None = None
    above: Number | None = None

    @rule
    def one_criterion(self) -> Iterator[Fault]:
        given = [k for k in ("lost", "below", "above") if getattr(self, k) is not None]
        if len(given) != 1:
            yield Fault("", either(given, "and") or "nothing", "one of lost, below or above")

    def criterion(self) -> EndOfLife:
        return EndOfLife(self.lost, self.below, self.above)


def count_faults(stages: Sequence[str], washes: Mapping[str, int]) -> Iterator[Fault]:
    """What contradicts the stages: unknown ones, counts that do not rise, a washed bare stage."""
    for stage in washes:
        if stage not in stages:
            wanted = f"a stage of this trial: {either(dict.fromkeys(stages))}"
            yield Fault(f"washes.{stage}", show(stage), wanted)
    if stages and washes.get(stages[0], 0) > 0:
        wanted = f"0, or no entry: {stages[0]} is the bare stage, before any treatment"
        yield Fault(f"washes.{stages[0]}", show(washes[stages[0]]), wanted)
    before, most = "", 0
    for place, stage in enumerate(stages):
        count = washes.get(stage)
        if count is None or place == 0:
            continue
        # Several stages may come before all washing, two looks at one count may not.
        if count < most or (count == most and most > 0):
            wanted = f"more than {most}, the count of {before}, which comes before it"
            yield Fault(f"washes.{stage}", show(count), wanted)
        else:
            before, most = stage, count


def criterion_faults(
    table: EndOfLifeTable,
    quantity: Quantity,
    stages: Sequence[str],
    planned: Sequence[str],
    washes: Mapping[str, int],
    *,
    higher_is_better: bool,
) -> Iterator[Fault]:
    """What keeps a measure from ever telling an end of life; paths are those of the measure.

    `stages` are those of the measure, `planned` those of the trial.
    """
    path = "end_of_life"
    level = table.below if table.below is not None else table.above
    if quantity is Quantity.TRANSMITTANCE and level is not None and level <= 0:
        key = "above" if table.below is None else "below"
        yield Fault(
            f"{path}.{key}", show(level), "more than 0: percent of the light that the blank lets "
            "through",
        )  # fmt: skip
    wrong, right = ("above", "below") if higher_is_better else ("below", "above")
    if getattr(table, wrong) is not None:
        better = "higher" if higher_is_better else "lower"
        yield Fault(
            f"{path}.{wrong}", wrong,
            f"{right}, or lost: a {better} value counts as better, so a life ends {right} a level",
        )  # fmt: skip
    if any(s not in planned for s in stages):
        return  # told already, and what the file means is open
    if planned and planned[0] not in stages:
        yield Fault(path, f"no stage {planned[0]}", f"the bare stage {planned[0]} in its stages")
    if not any(washes.get(s, 0) > 0 for s in stages):
        yield Fault(
            path, "no stage with a count of washes",
            "a stage of this measure with its count in [trial.washes], such as wash-5 = 5",
        )  # fmt: skip
    elif not unwashed(stages, washes)[1:]:
        yield Fault(
            path, "no stage between the bare one and the first wash",
            "a stage such as applied, at which the treatment is on and not washed yet",
        )  # fmt: skip


def unwashed(stages: Sequence[str], washes: Mapping[str, int]) -> tuple[str, ...]:
    """The stages before all washing: those up to the first one with a count above 0."""
    first = next((k for k, s in enumerate(stages) if washes.get(s, 0) > 0), len(stages))
    return tuple(stages[:first])


def wash_hints(plan: Plan) -> list[str]:
    """Where a stage's name promises a count that the plan has not, or has otherwise; a line each.

    Nothing is taken from a name: a stage without a count is on no curve of washes.
    """
    said = []
    known = dict(plan.washes)
    seen_a_count = False
    for stage in plan.stages:
        named = _NAMED.fullmatch(stage)
        given = known.get(stage)
        seen_a_count |= bool(given)
        if named is not None and given is None:
            said.append(
                f"HINT: stage {stage} has no count of washes, and none is guessed from its name, "
                f"so that no wash life is told by it; write [trial.washes] and {stage} = "
                f"{int(named[1])} if it comes after so many washes in all"
            )
        elif named is not None and given != int(named[1]):
            said.append(
                f"HINT: stage {stage} comes after {given} washes by [trial.washes], and its name "
                f"says {int(named[1])}; the count is what results go by"
            )
        elif given is None and seen_a_count:
            said.append(
                f"HINT: stage {stage} comes after a stage with a count of washes and has none "
                "itself; it is on no curve of washes"
            )
    return said
