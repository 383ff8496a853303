"""Who came out best, and who is better, worse or equal to the control: the answer first.

The page and the terminal say the same sentences. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.rules.filmrules import DEEPER
from acquire.analysis.specimens.depthlaw import is_at_depth
from acquire.analysis.specimens.slidespread import SPREAD_OF_BLANKS
from acquire.analysis.treatments.decision import Decision
from acquire.report.answers.ranking import ranking
from acquire.report.answers.standings import SIGNS
from acquire.report.evidence.bothways import correction_lines
from acquire.report.evidence.evidence import Evidence
from acquire.report.record.record import TrialRecord
from acquire.report.words.tabled import MARK
from acquire.report.words.wording import counted, listed
from acquire.visible import shortened

_ORDER = (
    Decision.BETTER, Decision.EQUAL, Decision.NOT_SHOWN, Decision.WORSE, Decision.REFUSED,
)  # fmt: skip
_LONGEST_NAME = 60


@dataclass(frozen=True, slots=True)
class Verdict:
    """One treatment at one stage: the decision and the sentence with its figures."""

    decision: Decision
    name: str
    sentence: str

    @property
    def sign(self) -> str:
        return SIGNS[self.decision]


@dataclass(frozen=True, slots=True)
class StageAnswer:
    """All treatments at one stage, best net change first.

    `lead` says in one sentence who is what; `best` who came out best and against whom, empty where
    there is but one treatment or none that is judged. `correction` says how the drift correction of
    the plan was made and what it changes, or why it was not; empty where the plan has none.
    """

    stage: str
    lead: str
    best: tuple[str, ...]
    verdicts: tuple[Verdict, ...]
    correction: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """One measure and channel. `last` is the latest stage that was judged, else the latest read.

    `last` is None, and `nothing` says why, where there is nothing to compare (yet).
    """

    title: str
    last: StageAnswer | None
    earlier: tuple[StageAnswer, ...]
    nothing: str


def answer(record: TrialRecord, evidence: Evidence) -> Answer:
    """The answer of one measure and channel."""
    result = evidence.result
    stages = [s for s in evidence.read_stages if s != result.bare]
    if not result.comparisons or not stages:
        return Answer(evidence.title, None, (), _nothing(evidence))
    answers = [_at(record, evidence, stage) for stage in stages]
    judged = [a for a in answers if any(v.decision is not Decision.REFUSED for v in a.verdicts)]
    if not judged:
        return Answer(evidence.title, answers[-1], (), "")
    last = judged[-1]
    return Answer(evidence.title, last, tuple(a for a in judged if a is not last), "")


def _nothing(evidence: Evidence) -> str:
    result = evidence.result
    if not evidence.read_stages:
        return "Nothing has been read yet that counts."
    if result.stages == (result.bare,):
        return (
            f"Only the stage {result.bare} is planned for it: there is nothing to compare with, "
            "and no treatment is judged."
        )
    if result.bare not in result.stages:
        many = "s" if len(result.stages) > 1 else ""
        return (
            f"Only the stage{many} {listed(result.stages)} {'are' if many else 'is'} planned for "
            f"it, and not {result.bare}: there is no change to judge, and no treatment is judged."
        )
    if not result.comparisons:
        return "The plan has no treatment besides the control: there is nothing to compare."
    return (
        f"Only {result.bare} has readings that count so far: there is nothing to compare with yet, "
        "and no treatment is judged."
    )


def _at(record: TrialRecord, evidence: Evidence, stage: str) -> StageAnswer:
    found = evidence.ranked(stage)
    why = why_none_is_judged(found)
    correction = correction_lines(record, evidence, stage)
    if why:
        lead = f"At {stage} no treatment is judged: {why}."
        return StageAnswer(stage, lead, (), (), correction)
    verdicts = tuple(
        Verdict(c.decision, record.name_of(c.treatment), _sentence(evidence, c)) for c in found
    )
    lead = _lead(evidence.named(stage), found, verdicts, evidence.result.basis.margin_text)
    if rests := not_whole(record, evidence, stage):
        lead += f" It rests on {rests} of this stage."
    if any(_late(evidence, c) for c in found):
        lead += f" {MARK}, see below."
    return StageAnswer(
        stage,
        lead,
        ranking(record, evidence, stage),
        verdicts,
        correction,
    )


def not_whole(record: TrialRecord, evidence: Evidence, stage: str) -> str:
    """``9 of 16 planned readings`` where a stage has not all of its own; empty where it has."""
    zones = [zone.id for zone in record.plan.zones]
    planned = len(zones) * evidence.measure.replicates
    number = len(evidence.counting(zones, stage))
    return "" if number >= planned else f"{number} of {planned} planned readings"


def _sentence(evidence: Evidence, c: Comparison | Refusal) -> str:
    """What is said of a treatment, with a mark where a reading of it was taken too late."""
    return f"{c.sentence} {MARK}, see below." if _late(evidence, c) else c.sentence


def _late(evidence: Evidence, c: Comparison | Refusal) -> bool:
    if isinstance(c, Refusal):
        return False
    return bool(evidence.late_mark(c.stage, (*c.zones, *c.control_zones)))


def why_none_is_judged(found: Sequence[Comparison | Refusal]) -> str:
    """Reason and remedy where all treatments of a stage are refused for one reason; else empty.

    Said once instead of once a treatment.
    """
    refused = {(c.reason, c.next_step) for c in found if isinstance(c, Refusal)}
    if len(found) < 2 or len(refused) != 1 or any(isinstance(c, Comparison) for c in found):
        return ""
    ((reason, next_step),) = refused
    return f"{reason}; {next_step}"


def _lead(
    stage: str,
    found: Sequence[Comparison | Refusal],
    verdicts: Sequence[Verdict],
    margin: str,
) -> str:
    """`stage` is as it is named: with the correction, where there is one."""
    groups = {
        d: [shortened(v.name, _LONGEST_NAME) for v in verdicts if v.decision is d] for d in _ORDER
    }
    words = {
        Decision.BETTER: "better than the control",
        Decision.WORSE: "worse than the control",
        Decision.EQUAL: f"shown equal to the control within {margin}",
        Decision.NOT_SHOWN: "not shown to differ from the control",
        Decision.REFUSED: "without a decision",
    }
    parts = [f"{listed(names)} {'is' if len(names) == 1 else 'are'} {words[decision]}"
             for decision, names in groups.items() if names]  # fmt: skip
    seen = [c.smallest_visible for c in found if isinstance(c, Comparison)]
    if not seen:
        return f"At {stage} no treatment can be judged."
    return f"At {stage}: {'; '.join(parts)}."


def flagged(evidence: Sequence[Evidence]) -> str:
    """A sentence on readings that stand out and count all the same; empty without any."""
    number = sum(1 for e in evidence for v in e.result.levels if v.cell.flagged is not None)
    if not number:
        return ""
    return (
        f"{counted(number, 'reading')} {'stands' if number == 1 else 'stand'} out from the others "
        f"by Grubbs' test and {'is' if number == 1 else 'are'} counted all the same."
    )


def is_of_all(found: Comparison | Refusal) -> bool:
    """Whether zones or blocks of all treatments together say how sure a result is."""
    if isinstance(found, Refusal) or not found.is_of_zones:
        return False
    line = found.budget.terms[0]
    return is_at_depth(line) or (line.is_common and line.name != SPREAD_OF_BLANKS)


def of_deeper(evidence: Sequence[Evidence]) -> str:
    """What is taken of films whose slides tell together; empty without such."""
    is_told = any(
        is_of_all(c) and isinstance(c, Comparison) and c.film is not None
        for e in evidence
        for c in e.decided
    )
    return DEEPER if is_told else ""
