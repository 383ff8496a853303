"""How long treatments last by what people saw after washing: lives by a written scale.

A zone that is rated below the scale's `gone_below` after a count of washes has lost its treatment
by then. Lives are intervals and "at least", as those of measured values are. Pure; any thread.
"""

from __future__ import annotations

from dataclasses import dataclass

from acquire.analysis.durability.life import (
    Life,
    Observed,
    Relation,
    relation,
    relation_words,
)
from acquire.analysis.durability.outliving import LivesPair, compare_lives
from acquire.analysis.durability.washlife import WashLife, wash_life
from acquire.analysis.durability.washresult import MOST_COMPARED
from acquire.analysis.durability.waterclass import life_by_class
from acquire.model import Scale
from acquire.report.evidence.othercount import OtherCounts, behind, counted_mark, other_counts
from acquire.report.record.record import TrialRecord
from acquire.report.washing.washwords import life_words
from acquire.trial.ratings import standing


@dataclass(frozen=True, slots=True)
class RatedZone:
    """One zone: the middle step at each look, and its life; `looks` are (washes, step)."""

    zone: str
    treatment: str
    name: str
    looks: tuple[tuple[int, int], ...]
    observed: Observed
    counted: str = ""
    """A mark, where its ends were looked at after other washes than the plan says."""

    @property
    def life(self) -> Life | None:
        return self.observed.life

    @property
    def words(self) -> str:
        if self.life is None:
            return f"not told: {self.observed.lacking}"
        return life_words(self.life) + behind(self.counted)


@dataclass(frozen=True, slots=True)
class WaterLives:
    """The lives by one scale: zone by zone, treatment by treatment, and who outlived whom."""

    scale: Scale
    counts: tuple[int, ...]
    zones: tuple[RatedZone, ...]
    lives: tuple[tuple[str, str, WashLife | None], ...]
    """(treatment, its name as it is told apart, its life); None where no zone has one."""
    pairs: tuple[LivesPair, ...]

    @property
    def criterion(self) -> str:
        assert self.scale.gone_below is not None
        least = self.scale.words(self.scale.gone_below)
        return (
            f"A treatment is gone where its zone is rated below {least} after washing. The life "
            "lies between the last count that passed and the first that failed; nothing is said of "
            "counts between them."
        )


def water_lives(record: TrialRecord) -> tuple[WaterLives, ...]:
    """The lives by every scale that says when a treatment is gone, and was used after a wash."""
    return tuple(
        found
        for scale in record.plan.scales
        if scale.gone_below is not None and (found := _lives(record, scale)) is not None
    )


def _lives(record: TrialRecord, scale: Scale) -> WaterLives | None:
    counts = _counts(record, scale)
    rated = standing(record.work.ratings)
    others = other_counts(record)
    zones = []
    for zone in record.plan.zones:
        treatment = record.plan.treatment_of(zone.id)
        if treatment.is_control:
            continue
        looks = [
            (counts[thing.stage], row.step)
            for (_, thing), row in rated.items()
            if thing.scale == scale.id and thing.zone == zone.id and thing.stage in counts
            and 1 <= row.step <= len(scale.steps)
        ]  # fmt: skip
        zones.append(_zone(record, scale, zone.id, looks, others))
    if not any(count > 0 for z in zones for count, _ in z.looks):
        return None
    lives: dict[str, list[Life]] = {}
    for z in zones:
        if z.life is not None:
            lives.setdefault(z.treatment, []).append(z.life)
    treated = [t.id for t in record.plan.treatments if not t.is_control]
    pairs: tuple[LivesPair, ...] = ()
    if 2 <= len(lives) <= MOST_COMPARED:
        named = {_shown(record, t): lives[t] for t in treated if t in lives}
        pairs = compare_lives(named).pairs
    return WaterLives(
        scale,
        tuple(sorted({count for z in zones for count, _ in z.looks})),
        tuple(zones),
        tuple((t, record.name_of(t), wash_life(lives[t]) if t in lives else None) for t in treated),
        pairs,
    )


def _counts(record: TrialRecord, scale: Scale) -> dict[str, int]:
    """The count of each stage of a scale; the last one before all washing has none."""
    washes = dict(record.plan.washes)
    found = {stage: washes[stage] for stage in scale.stages if washes.get(stage, 0) > 0}
    bare = record.plan.stages[0]
    before = [s for s in scale.stages if washes.get(s, 0) == 0 and s != bare]
    first = min((record.plan.stages.index(s) for s in found), default=0)
    before = [s for s in before if record.plan.stages.index(s) < first]
    return {**({before[-1]: 0} if before else {}), **found}


def _zone(
    record: TrialRecord,
    scale: Scale,
    zone: str,
    looks: list[tuple[int, int]],
    others: OtherCounts,
) -> RatedZone:
    assert scale.gone_below is not None
    treatment = record.plan.treatment_of(zone).id
    at: dict[int, list[int]] = {}
    for count, step in looks:
        at.setdefault(count, []).append(step)
    # The middle one, of an even number the lower, as the life takes it.
    middle = {count: sorted(steps)[(len(steps) - 1) // 2] for count, steps in sorted(at.items())}
    observed = life_by_class(
        ((float(count), scale.steps[step - 1]) for count, step in looks),
        scale.steps,
        scale.steps[scale.gone_below - 1],
    )
    life = observed.life
    return RatedZone(
        zone,
        treatment,
        record.name_of(treatment),
        tuple(middle.items()),
        observed,
        "" if life is None else counted_mark(others, [zone], (life.low, life.high)),
    )


def _shown(record: TrialRecord, treatment: str) -> str:
    """The name, with the id where another treatment has the same."""
    name = record.name_of(treatment)
    same = sum(record.name_of(t.id) == name for t in record.plan.treatments)
    return name if same == 1 else f"{name} ({treatment})"


def life_lines(found: WaterLives) -> list[str]:
    """The answer for a terminal, a sentence a line."""
    said = []
    for treatment, name, life in found.lives:
        mine = [z for z in found.zones if z.treatment == treatment]
        if life is None:
            why = "; ".join(dict.fromkeys(z.observed.lacking for z in mine))
            said.append(f"{name}: no life is told, because {why}.")
        elif len(life.lives) == 1:
            said.append(f"{name} {next(z.words for z in mine if z.life is not None)}.")
        else:
            said.append(f"{name}: {_lower(life.words)}")
            said += [f"{z.zone}: {z.words}." for z in mine if z.counted]
        said += [f"{z.zone}: {z.observed.remark}" for z in mine if z.observed.remark]
    return [*said, *_pair_lines(found), found.criterion]


def _pair_lines(found: WaterLives) -> list[str]:
    """Who outlived whom; all pairs of single zones of which it cannot be told in one sentence."""
    lives = {name: life.lives for _, name, life in found.lives if life is not None}
    said, open_ = [], []
    for pair in found.pairs:
        one, other = lives[pair.first], lives[pair.second]
        if len(one) > 1 or len(other) > 1:
            said.append(pair.sentence)
            continue
        names = (pair.first, pair.second)
        if relation(one[0], other[0]) is Relation.NOT_SHOWN:
            open_.append(" and ".join(names))
        else:
            said.append(f"{relation_words(names, one[0], other[0])} These two zones only.")
    if open_:
        said.append(
            f"Which lasts longer cannot be told of {'; '.join(open_)}: their lives overlap or have "
            "not ended."
        )
    return said


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]
