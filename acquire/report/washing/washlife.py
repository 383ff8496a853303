"""What washing leaves of each gain and how long each treatment lasts, in sentences for anybody.

From the results of a measure and the counts of the plan; the page and the terminal say the same.
Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace

from acquire.analysis.durability.ending import Verdict
from acquire.analysis.durability.life import Relation, relation
from acquire.analysis.durability.outliving import LivesPair
from acquire.analysis.durability.washlife import share_alive
from acquire.analysis.durability.washresult import (
    TreatmentLife,
    WashResult,
    wash_result,
)
from acquire.model import EndOfLife
from acquire.report.answers.standings import late_of
from acquire.report.evidence.evidence import Evidence
from acquire.report.evidence.othercount import OtherCounts, behind, counted_mark, other_counts
from acquire.report.record.record import TrialRecord
from acquire.report.washing.washrules import wash_rules
from acquire.report.washing.washwords import (
    crossing_words,
    event_words,
    life_words,
    percent,
    washes,
)
from acquire.report.washing.wearwords import kept_sentences, lower_first, over_counts
from acquire.report.words.tabled import MARK
from acquire.report.words.wording import listed

_MOST_RULES = 2
"""The criterion and what its intervals hold for; the page has the rest."""


@dataclass(frozen=True, slots=True)
class WashVerdict:
    """One treatment: `life` is the decision, empty where the plan has no criterion.

    `kept` tells what is left of the gain; `more` trend, half-life and what contradicts itself.
    """

    name: str
    life: str
    kept: str
    more: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WashAnswer:
    """One measure and channel. `lead` is the answer in short, `pairs` who outlived whom.

    `rules` say how it was decided and how sure it is.
    """

    found: WashResult
    title: str
    lead: tuple[str, ...]
    verdicts: tuple[WashVerdict, ...]
    pairs: tuple[str, ...]
    rules: tuple[str, ...]
    late: frozenset[tuple[str, str]] = frozenset()
    """Treatments at stages with a figure that was read too late."""
    others: OtherCounts = field(default_factory=dict)
    """Where other washes were counted than the plan says."""

    def counted_at(self, t: TreatmentLife, washes: Collection[float]) -> str:
        """What stands beside a figure of a treatment after so many washes; else empty."""
        return counted_mark(self.others, t.wear.zones, washes)


def wash_answer(record: TrialRecord, evidence: Evidence) -> WashAnswer | None:
    """The wash life by one measure and channel; None where the plan gives none to be told."""
    stages = [s for s in evidence.read_stages if s != evidence.result.bare]
    # One result for all counts: a curve half of which is corrected would show the correction.
    deciding = [evidence.deciding(s) for s in stages]
    result = deciding[0] if deciding and all(d is deciding[0] for d in deciding) else None
    found = wash_result(record.plan, evidence.measure, result or evidence.result)
    if found is None:
        return None
    end = evidence.measure.end_of_life
    late = frozenset(
        (t.treatment, stage)
        for t in found.treatments
        for stage in stages
        if late_of(record, evidence, stage, (t.treatment, evidence.result.control))
    )
    others = other_counts(record)
    verdicts = [_verdict(found, t, end, late, others) for t in found.treatments]
    # What is lacking for all alike is said once.
    more = [v.more for v in verdicts if v.more]
    common = [x for x in more[0] if all(x in m for m in more)] if len(more) > 1 else []
    corrected = ", corrected for drift" if found.result is not evidence.result else ""
    return WashAnswer(
        found,
        evidence.title + corrected,
        _lead(found, end, others),
        tuple(replace(v, more=tuple(x for x in v.more if x not in common)) for v in verdicts),
        _pairs(found, others),
        (*wash_rules(found, end), *(f"For all treatments: {lower_first(x)}" for x in common)),
        late,
        others,
    )


def wash_lines(answer: WashAnswer) -> list[str]:
    """The answer for a terminal, a sentence or two a line."""
    said = [*answer.lead]
    for v in answer.verdicts:
        said.append(" ".join(filter(None, (f"{v.name}:", v.life, v.kept, *v.more))))
    return [*said, *answer.pairs, *answer.rules[:_MOST_RULES]]


def _lead(found: WashResult, end: EndOfLife | None, others: OtherCounts) -> tuple[str, ...]:
    last = found.looked[-1].washes
    if end is None:
        return (f"What is kept of each gain after washing, up to {last} washes. The plan names no "
                "end of life, so no life is told.",)  # fmt: skip
    told: dict[str, list[str]] = {}
    open_, none = [], []
    for t in sorted(found.treatments, key=_least, reverse=True):
        if t.life is None:
            none.append(t.shown)
        elif len(t.zones) == 1 and not t.zones[0].is_told:
            open_.append(t.shown)
        elif len(t.zones) == 1 and t.zones[0].life is not None:
            told.setdefault(_life_words(t, others), []).append(t.shown)
        else:
            told.setdefault(_middle(t) + _counted(t, others), []).append(t.shown)
    said = [
        f"{listed(names)} {words if len(names) == 1 else _of_several(words)}."
        for words, names in told.items()
    ]
    if open_:
        said.append(
            f"How long {listed(open_)} {'lasts' if len(open_) == 1 else 'last'} cannot be told "
            "yet: at no count after washing is it beyond doubt on which side of the criterion "
            f"{'it lies' if len(open_) == 1 else 'they lie'}."
        )
    if none:
        said.append(f"{listed(none)} {'has' if len(none) == 1 else 'have'} no life to tell, for "
                    "reasons given below.")  # fmt: skip
    return tuple(said)


def _life_words(t: TreatmentLife, others: OtherCounts) -> str:
    """The life of a treatment of one zone, after its name, with a mark of other counts."""
    life = t.zones[0].life
    assert life is not None
    return life_words(life) + _counted(t, others)


def _counted(t: TreatmentLife, others: OtherCounts) -> str:
    """Behind the life of a treatment: where its ends were looked at after other washes."""
    ends = {end for z in t.zones if z.life is not None for end in (z.life.low, z.life.high)}
    return behind(counted_mark(others, [z.zone for z in t.zones], ends))


def decided_by_zones(pair: LivesPair, one: TreatmentLife, other: TreatmentLife) -> Relation:
    """Who outlived whom: of one zone each by their intervals, otherwise by the test."""
    a, b = ([z.life for z in t.zones if z.life is not None] for t in (one, other))
    return relation(a[0], b[0]) if len(a) == len(b) == 1 else pair.found


def _pairs(found: WashResult, others: OtherCounts) -> tuple[str, ...]:
    """Who outlived whom; all pairs of which it cannot be told in one sentence."""
    if found.compared is None:
        return ()
    shown = {t.shown: t for t in found.treatments}
    said, open_ = [], []
    for pair in found.compared.pairs:
        one, other = shown[pair.first], shown[pair.second]
        a, b = ([z.life for z in t.zones if z.life is not None] for t in (one, other))
        if len(a) > 1 or len(b) > 1:
            said.append(
                pair.sentence
                + "".join(f" {t.shown}:{m}." for t in (one, other) if (m := _counted(t, others)))
            )
            continue
        seen = decided_by_zones(pair, one, other)
        if seen is Relation.NOT_SHOWN:
            open_.append(f"{one.shown} and {other.shown}")
            continue
        if seen is Relation.OUTLIVED_BY:
            one, other = other, one
        said.append(
            f"{one.shown} outlived {other.shown}: it {_life_words(one, others)}, {other.shown} "
            f"{_life_words(other, others)}."
        )
    if open_:
        said.append(
            f"Which lasts longer cannot be told of {'; '.join(open_)}: their lives overlap or have "
            "not ended."
        )
    return tuple(said)


def _least(t: TreatmentLife) -> float:
    """What the life is at least, of several zones that of the middle one; the longest go first."""
    if t.life is None:
        return -1.0
    middle = t.life.estimate.median
    return middle.low if middle is not None else t.life.estimate.median_count or 0.0


NONE_FAILED = "none is shown to have failed"


def _of_several(words: str) -> str:
    """What is said of several treatments: ``were gone by 10 washes``."""
    if words.startswith("was "):
        return f"were {words.removeprefix('was ')}"
    return words.replace(" of its ", " of their ")


def _middle(t: TreatmentLife) -> str:
    """The life of several zones, after the name of the treatment."""
    assert t.life is not None
    n, there = len(t.life.lives), len(t.zones)
    # Zones without a life are no part of it, and it must not read as if there were none.
    of = "" if n == there else f" with a life to tell, of {there}"
    if t.life.censored == n:
        low = t.life.survived
        if low == 0:
            return _open(n, of, sorted(life.low for life in t.life.lives if life.low > 0))
        on = "its one zone" if n == 1 else f"all of its {n} zones"
        return f"lasted at least {washes(low)} on {on}{of}"
    middle = t.life.estimate.median
    half = life_words(middle) if middle is not None else f"lasted {t.life.estimate.median_count:g}"
    return f"{half} on {'its one zone' if n == 1 else f'the middle one of its {n} zones'}{of}"


def _open(zones: int, of: str, passed: list[float]) -> str:
    """Of `zones` that have not been seen to fail, some are shown to have passed so many washes."""
    on = ("one zone" if zones == 1 else f"{zones} zones") + of
    if not passed:
        return f"was on {on}, of which {NONE_FAILED} or passed any wash"
    return (
        f"was on {on}, of which {len(passed)} lasted at least {washes(passed[0])} and {NONE_FAILED}"
    )


def _verdict(
    found: WashResult,
    t: TreatmentLife,
    end: EndOfLife | None,
    late: Collection[tuple[str, str]],
    others: OtherCounts,
) -> WashVerdict:
    life = ""
    if end is not None:
        of = _of_zone if len(t.zones) == 1 else _of_zones
        life = of(found, t, end, _counted(t, others))
    looks = [x.stage for x in found.washing.washed if (t.treatment, x.stage) in late]
    said = f" {MARK} at {listed(looks)}, see below." if looks else ""
    planned = [x.washes for x in found.washing.washed]
    counted = counted_mark(others, t.wear.zones, planned)
    said += f" {counted}, see below." if counted else ""
    return WashVerdict(t.shown, life, kept_sentences(found, t.wear) + said, over_counts(t.wear))


def _of_zone(found: WashResult, t: TreatmentLife, end: EndOfLife, counted: str) -> str:
    (z,) = t.zones
    if z.life is None:
        return f"no life is told, because {z.lacking}."
    if not z.is_told:
        near = [str(x.at.washes) for x in z.looks if x.verdict is Verdict.OPEN]
        at = f" At {listed(near)} washes it is too near to tell." if near else ""
        return f"how long it lasts cannot be told yet.{at}"
    open_ = [str(x.at.washes) for x in z.looks if x.verdict is Verdict.OPEN]
    said = [f"it {life_words(z.life)}{counted}"]
    if z.life.is_censored:
        event = event_words(end, found.result.symbol, is_film=found.is_film)
        said[0] += f"; that {event} is not shown so far"
    said[0] += "."
    if open_:
        said.append(f"At {listed(open_)} washes it is too near to tell.")
    said.append(crossing_words([z], end, found.result.symbol, is_film=found.is_film))
    return " ".join(filter(None, (*said, z.remark)))


def _of_zones(found: WashResult, t: TreatmentLife, end: EndOfLife, counted: str) -> str:
    without = [z for z in t.zones if z.life is None]
    reasons = dict.fromkeys(z.lacking for z in without)
    said = []
    if t.life is None:
        return f"no life is told of its {len(t.zones)} zones, because {'; '.join(reasons)}."
    said.append(f"it {_middle(t)}{counted}.")
    if without:
        said.append(
            f"Zone{'s' if len(without) > 1 else ''} {listed([z.zone for z in without])} "
            f"{'are' if len(without) > 1 else 'is'} not among them: {'; '.join(reasons)}."
        )
    lives = t.life.lives
    # Of a count that is planned and was not come to nobody knows who passed.
    judged = {x.at for z in t.zones for x in z.looks if x.verdict is not Verdict.UNREAD}
    for look in reversed([x for x in found.looked if x in judged]):
        alive = share_alive(lives, look.washes)
        if alive.unknown < alive.n:
            said.append(
                f"After {look.washes} washes {alive.alive} of {alive.n} zones surely passed and "
                f"{alive.gone} surely failed, so that {percent(alive.low)} to "
                f"{percent(alive.high)} % of such zones may pass (95 %)."
            )
            break
    said.append(crossing_words(t.zones, end, found.result.symbol, is_film=found.is_film))
    return " ".join(filter(None, said))
