"""Points for changes: which measure and stage an item means, the changes there, and their points.

All items about one measure and channel are drawn together, so that what they share (bare readings,
the control, the checks) is shared by their points. What scatters at several channels of one press,
or as static and kinetic coefficient of one pull, is taken to scatter alike, on the safe side for
sums. Errors of different measures are taken as independent of one another. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.durability.washresult import WashResult
from acquire.analysis.results import MeasureResult
from acquire.analysis.scoring.errors import drawn_errors, drawn_in_each_way
from acquire.analysis.scoring.gains import Gain, gains
from acquire.analysis.scoring.line import Line, no_points
from acquire.analysis.scoring.rule import earned
from acquire.analysis.scoring.scored import NOT_SHOWN, Condition
from acquire.model import Measure, Plan, Quantity, Treatment, at_channel
from acquire.model.scorecard import Base, Change, Item, Measured, Way, When
from acquire.units import convert, symbol

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Found:
    """One measure and channel of a trial as its results have it.

    `coefficient` is static or kinetic where forces are held against a sled's weight. `deciding`
    gives for a stage the result that its decisions are taken from. `what` names it for a person,
    with band and weights. `washes` is what washing left of it, None where nothing tells. `is_late`
    gives for a stage and a treatment whether a reading behind its figures was taken when the
    surface of its stage was gone.
    """

    measure: Measure
    channel: str
    coefficient: str
    what: str
    deciding: Callable[[str], MeasureResult] = field(repr=False)
    washes: WashResult | None = field(default=None, repr=False)
    is_late: Callable[[str, str], bool] = field(default=lambda *_: False, repr=False)

    @property
    def key(self) -> str:
        return f"{self.measure.id} {self.channel} {self.coefficient}"


def named(wanted: Measured) -> str:
    """What an item looks for, in words."""
    what = wanted.quantity.value + at_channel(wanted.channel)
    if wanted.coefficient:
        what = f"{wanted.coefficient} coefficient of friction"
    return f"{what}, measure {wanted.measure}" if wanted.measure else what


def fitting(found: Sequence[Found], wanted: Measured) -> list[Found]:
    """The measures of a trial that an item is about."""
    return [
        f
        for f in found
        if f.measure.quantity is wanted.quantity
        and f.channel == wanted.channel
        and f.coefficient == wanted.coefficient
        and wanted.measure in ("", f.measure.id)
    ]


def stage_of(when: When, plan: Plan, stages: Sequence[str]) -> str | None:
    """The stage that an item looks at among `stages`; None where the trial has none such."""
    counts = dict(plan.washes)
    if when.washes is not None:
        return next((s for s in stages if counts.get(s) == when.washes), None)
    if when.stages:
        return next((s for s in when.stages if s in stages), None)
    dry = [s for s in stages if s != plan.stages[0] and not counts.get(s)]
    return dry[-1] if dry else None


def change_scores(
    plan: Plan, treated: Sequence[Treatment], found: Sequence[Found], items: Sequence[Item],
    draws: int,
) -> tuple[dict[str, dict[str, Line]], list[Condition]]:  # fmt: skip
    """Lines of every item by treatment, and what must be alike elsewhere."""
    lines: dict[str, dict[str, Line]] = {}
    kept: list[Condition] = []
    together: dict[tuple[str, int], list[tuple[Item, Found, MeasureResult, str]]] = {}
    for item in items:
        assert isinstance(item.earns, Change)
        chosen = _chosen(plan, found, item.earns)
        if isinstance(chosen, str):
            lines[item.id] = {t.id: no_points(item.id, chosen) for t in treated}
            continue
        one, stage = chosen
        result = one.deciding(stage)
        kept += conditions_of(one, item.id)
        together.setdefault((one.key, id(result)), []).append((item, one, result, stage))
    names = [(t.id, t.name or t.id) for t in treated]
    for (key, _), group in together.items():
        result = group[0][2]
        changes = {
            item.id: gains(result, names, stage, _change(item).base) for item, _, _, stage in group
        }
        able = [g for gs in changes.values() for g in gs if not g.lacking]
        asked = key, able, result.control, result.basis, draws
        press, sign = group[0][1].measure.id, _sign(_change(group[0][0]).way)
        errors = drawn_errors(*asked, press=press, sign=sign) if able else np.zeros((0, draws))
        ways = drawn_in_each_way(*asked, press=press, sign=sign)
        row = {
            id(g): _Drawn(errors[i], key, tuple([(drawn[i], by[i]) for drawn, by in ways]))
            for i, g in enumerate(able)
        }
        for item, one, _, stage in group:
            lines[item.id] = {
                g.treatment: no_points(item.id, g.lacking)
                if g.lacking
                else replace(
                    _line(item, g, row[id(g)], result), is_late=one.is_late(stage, g.treatment)
                )
                for g in changes[item.id]
            }
    return lines, kept


def _sign(way: Way) -> float:
    return 1.0 if way is Way.UP else -1.0


def _change(item: Item) -> Change:
    assert isinstance(item.earns, Change)
    return item.earns


def _chosen(plan: Plan, found: Sequence[Found], change: Change) -> tuple[Found, str] | str:
    """The one measure and stage that is meant, or why there is none."""
    what = named(change.measured)
    fit = fitting(found, change.measured)
    if not fit:
        return f"the trial has no measure of {what}"
    at = [(f, s) for f in fit if (s := stage_of(change.when, plan, f.measure.stages)) is not None]
    if not at:
        return f"the trial has no stage {change.when} at which {what} is measured"
    # A measure that never looked at the bare zones cannot be meant where a change is since then.
    since_bare = [x for x in at if plan.stages[0] in x[0].measure.stages]
    if change.base is not Base.CONTROL and since_bare:
        at = since_bare
    if len(at) > 1:
        ids = " and ".join(f.measure.id for f, _ in at)
        return f"several measures fit ({ids}), and the scorecard does not say which"
    return at[0]


class _Drawn(NamedTuple):
    """Errors of a change by a meter, and in each way that one piece leaves open with its shift."""

    errors: Floats
    meter: str
    ways: tuple[tuple[Floats, float], ...]


def _line(item: Item, gain: Gain, drawing: _Drawn, result: MeasureResult) -> Line:
    change = _change(item)
    scale = result.basis.scale
    each = _sign(change.way) * float(change.points)

    def points(values: Floats) -> Floats:
        amounts = amounts_of(values, result, change.unit)
        if change.only_if_shown:
            # What is not shown is worth no change at all; a floor above 0 is earned all the same.
            amounts = np.where(np.abs(values) > gain.limit, amounts, 0.0)
        return earned(item, each, amounts)

    found = scale.reached(gain.estimate, gain.expanded)
    why = NOT_SHOWN if change.only_if_shown and not gain.is_shown else ""
    drawn = gain.estimate + drawing.errors
    draws = points(drawn)
    return Line(
        item.id,
        found,
        float(points(np.array([gain.estimate]))[0]),
        draws,
        points(drawn - gain.shift) if gain.shift else draws,
        why=why,
        is_of_one=bool(gain.shift and gain.evaluation and gain.evaluation.known.is_of_one),
        meter=drawing.meter,
        ways=tuple(
            [
                points(gain.estimate + errors - by)
                for errors, shift in drawing.ways
                for by in (0.0, shift)
            ]
        ),
    )


def amounts_of(values: Floats, result: MeasureResult, unit: str) -> Floats:
    """Changes in the unit of the scorecard; of films in percent of the blank's light."""
    if result.basis.scale.is_ratio:
        found: Floats = 100.0 * np.expm1(np.clip(values, -50.0, 50.0))
        return found
    if unit == result.unit:
        return values
    return values * float(convert(Decimal(1), result.unit, unit))


def conditions_of(found: Found, item: str) -> list[Condition]:
    """What was measured and how, as far as another trial must have it alike."""
    kept = [Condition(f"what is measured for {item}", found.what)]
    sled = found.measure.sled
    if sled is not None:
        angles = [
            f"{which} {angle.deg}°"
            for which, angle in (("pull angle", sled.pull_angle), ("tilt", sled.tilt))
            if angle is not None
        ]
        used = ", ".join(sled.corrections) or "none"
        kept.append(
            Condition("sled", ", ".join([sled.as_weighed, *angles, f"corrections: {used}"]))
        )
    elif found.measure.quantity is Quantity.FORCE:
        kept.append(Condition("sled", f"none: {symbol(found.measure.unit)} as pulled"))
    return kept
