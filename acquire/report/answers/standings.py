"""All treatments of a stage against one another: who is first, places, chances and every pair.

Page, terminal and files take the same objects, which are worked out once a stage. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from acquire.analysis.comparisons.among import Pair
from acquire.analysis.places.ranking import Chances
from acquire.analysis.places.standing import Standing, percent, standing
from acquire.analysis.treatments.decision import Decision
from acquire.analysis.treatments.ownspread import is_by_depth
from acquire.report.evidence.evidence import Evidence
from acquire.report.record.record import TrialRecord
from acquire.report.words.wording import counted, listed
from acquire.visible import shortened

DRAWS = 10_000
"""The standard error of a chance is half a percent at most, and whole ones are printed."""
LIKELY = 0.05
"""Places of at least this chance are named as likely."""
_LONGEST_NAME = 60
_NONE = "–"

SIGNS = {
    Decision.BETTER: "▲",
    Decision.WORSE: "▼",
    Decision.EQUAL: "=",
    Decision.NOT_SHOWN: "○",
    Decision.REFUSED: "–",
}
"""A sign beside the word, never instead of it."""


class PlaceRow(NamedTuple):
    """Where one treatment stands, in finished texts. `unshifted` is empty without known shifts."""

    name: str
    place: str
    first: str
    unshifted: str
    likely: str
    ahead_of: str
    not_told_from: str


class PairRow(NamedTuple):
    """Two treatments against each other, in finished texts; the decision is about the first."""

    first: str
    second: str
    sign: str
    decision: str
    difference: str
    u: str
    interval: str
    visible: str
    late: str = ""


def standing_at(record: TrialRecord, evidence: Evidence, stage: str) -> Standing | None:
    """How the treatments stand by the results that decide at a stage; worked out once.

    None where fewer than two of them are judged.
    """
    known = evidence.standings
    if stage not in known:
        names = {t.id: _name(record, t.id) for t in record.plan.treatments}
        known[stage] = standing(evidence.deciding(stage), names, stage, draws=DRAWS)
    return known[stage]


def standing_lines(record: TrialRecord, evidence: Evidence, stage: str) -> tuple[str, ...]:
    """Sentences: who is first, alone or together, how likely, and what holds of all pairs.

    Empty where fewer than two treatments are judged.
    """
    found = standing_at(record, evidence, stage)
    if found is None:
        return ()
    if found.chances is None:
        return (f"At {evidence.named(stage)} there are no places and no chances of all treatments "
                f"together, because {found.lacking}.",)  # fmt: skip
    first = found.sentences[0].removeprefix(f"{stage}: ")
    said = [
        f"At {evidence.named(stage)}: {first}",
        f"Chance to be truly the best, given these readings: "
        f"{_firsts(record, found, found.chances)}. It decides nothing.",
    ]
    if found.chances_unshifted is not None:
        said.append(f"{found.taken_off}: {_firsts(record, found, found.chances_unshifted)}.")
    return (*said, pairs_said(found))


def _firsts(record: TrialRecord, found: Standing, chances: Chances) -> str:
    """Chances of the first place; those that have hardly any together at the end."""
    named = [(_name(record, t), p) for t, p in zip(found.treatments, chances.first, strict=True)]
    said = [f"{name} {percent(p)}" for name, p in named if p >= 0.005]
    rest = [name for name, p in named if p < 0.005]
    if rest:
        each = "each " if len(rest) > 1 else ""
        said.append(f"{listed(rest)} {each}below 1 %")
    return "; ".join(said)


def pairs_said(found: Standing) -> str:
    """How many pairs are shown to differ, and what the word is worth."""
    shown = sum(p.decision in (Decision.BETTER, Decision.WORSE) for p in found.pairs)
    number = len(found.pairs)
    if number == 1:
        return "Two treatments are one pair; its difference stands in the tables."
    # Of pooled zones that is the rate where they spread alike; each side's own knows no such if.
    alike = any(p.evaluation.is_of_zones for p in found.pairs)
    by_depth = any(is_by_depth(p.evaluation) for p in found.pairs)
    shown_text = "none" if shown == 0 else "all" if shown == number else str(shown)
    return (
        f"Each treatment is held against each other one: of {counted(number, 'pair')} "
        f"{shown_text} {'is' if shown == 1 else 'are'} shown to differ. The chance of even one "
        "false difference among all pairs of the stage is at most 5 %"
        f"{', if the zones of all treatments spread alike' if alike else ''}"
        f"{', or films by the same part of their depth' if by_depth else ''}."
    )


def place_rows(record: TrialRecord, evidence: Evidence, stage: str) -> tuple[PlaceRow, ...]:
    """Places and chances, best net change first; empty where there are none."""
    found = standing_at(record, evidence, stage)
    if found is None or found.places is None or found.chances is None:
        return ()
    unshifted = found.chances_unshifted
    rows = []
    for i, treatment in enumerate(found.treatments):
        ahead_of, open_to = _against(record, found.pairs, treatment)
        rows.append(
            PlaceRow(
                _name(record, treatment),
                found.places.text(i),
                percent(found.chances.first[i]),
                "" if unshifted is None else percent(unshifted.first[i]),
                _places_of(found.chances.by_place[i]),
                listed(ahead_of) or _NONE,
                listed(open_to) or _NONE,
            )
        )
    return tuple(rows)


def _against(
    record: TrialRecord, pairs: tuple[Pair, ...], treatment: str
) -> tuple[list[str], list[str]]:
    """Whom a treatment is shown to be ahead of, and whom neither is shown to be ahead of."""
    ahead, level = [], []
    for p in pairs:
        if treatment not in (p.first, p.second):
            continue
        other = _name(record, p.second if p.first == treatment else p.first)
        if p.decision in (Decision.NOT_SHOWN, Decision.EQUAL):
            level.append(other)
        elif (p.decision is Decision.BETTER) == (p.first == treatment):
            ahead.append(other)
    return ahead, level


def _places_of(chances: tuple[float, ...]) -> str:
    """``1 (83 %), 2 (17 %)``: places that are likely, in their order."""
    return ", ".join(f"{r + 1} ({percent(p)})" for r, p in enumerate(chances) if p >= LIKELY)


def pair_rows(record: TrialRecord, evidence: Evidence, stage: str) -> tuple[PairRow, ...]:
    """Every pair, the treatment with the better net change first."""
    found = standing_at(record, evidence, stage)
    if found is None:
        return ()
    return tuple(
        _pair_row(record, p, evidence)._replace(
            late=late_of(record, evidence, stage, (p.first, p.second))
        )
        for p in found.pairs
    )


def late_of(record: TrialRecord, evidence: Evidence, stage: str, treatments: Sequence[str]) -> str:
    """The mark of figures that zones of these treatments are in."""
    zones = [z.id for z in record.plan.zones if z.treatment in treatments]
    return evidence.late_mark(stage, zones)


def _pair_row(record: TrialRecord, pair: Pair, evidence: Evidence) -> PairRow:
    first, second = record.name_of(pair.first), record.name_of(pair.second)
    sign, scale = SIGNS[pair.decision], evidence.scale
    decision = evidence.equal_within(pair.decision)
    if pair.lacking:
        return PairRow(first, second, sign, f"no decision, because {pair.lacking}",
                       scale.figure(pair.estimate, None), *[_NONE] * 3)  # fmt: skip
    half = pair.half_width
    span = scale.span(*pair.interval, half, evidence.result.basis.held_against)
    return PairRow(
        first, second, sign, decision, scale.figure(pair.estimate, half),
        scale.width(pair.estimate, half), span,
        scale.seen(pair.smallest_visible, half, pair.estimate),
    )  # fmt: skip


def pair_rules(record: TrialRecord, evidence: Evidence) -> tuple[str, ...]:
    """By which limit pairs were judged, and why by that one; each rule once, with its stages."""
    stages: dict[str, list[str]] = {}
    for stage in evidence.read_stages:
        found = standing_at(record, evidence, stage)
        for rule in dict.fromkeys(p.rule for p in found.pairs if not p.lacking) if found else ():
            stages.setdefault(rule, []).append(evidence.named(stage))
    return tuple(f"At {listed(names)}: {rule}" for rule, names in stages.items())


def _name(record: TrialRecord, treatment: str) -> str:
    return shortened(record.name_of(treatment), _LONGEST_NAME)
