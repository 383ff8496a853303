"""Who came out best, and who is better, worse or equal to the control: the answer first.

The page and the terminal say the same sentences. Pure; any thread.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from acquire.analysis.comparison import Comparison, Refusal
from acquire.analysis.decision import Decision
from acquire.model import Flag
from acquire.report.bothways import correction_lines
from acquire.report.evidence import Evidence
from acquire.report.ranking import ranking
from acquire.report.record import ReadingRecord, Standing, TrialRecord
from acquire.report.standings import SIGNS
from acquire.report.tabled import MARK
from acquire.report.toolate import too_late_lines
from acquire.report.wording import counted, listed, moment, numbered
from acquire.visible import shortened

_ORDER = (
    Decision.BETTER, Decision.EQUAL, Decision.NOT_SHOWN, Decision.WORSE, Decision.REFUSED,
)  # fmt: skip
_LONGEST_NAME = 60
_CLOCK_BACK_NS = 2_000_000_000
_NO_VALUE = {Flag.OVER_RANGE.value, Flag.UNDER_RANGE.value}
"""As far as a clock may step back without a word: the default of a policy's `clock_jump_s`."""


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


def _withdrawn(record: TrialRecord, counting: Sequence[ReadingRecord]) -> Iterator[str]:
    """A sentence each certificate, withdrawn since, of checks around readings that count."""
    found: dict[str, set[int]] = {}
    for check in record.checks:
        for text in check.withdrawn:
            found.setdefault(text, set()).add(check.id)
    for text, ids in found.items():
        here = sum(1 for r in counting if ids & {r.check_id, r.closing_check_id})
        if here:
            rest = "rests" if here == 1 else "rest"
            on = f"check{'s' * (len(ids) > 1)} {numbered(sorted(ids))}"
            yield f"{counted(here, 'reading')} {rest} on {on}: {text}."


def coverage(record: TrialRecord) -> tuple[str, ...]:
    """What the results rest on and what is left out of them, in sentences."""
    counting = [r for r in record.readings if r.standing is Standing.COUNTS]
    if not record.readings:
        return ("No reading has been taken yet.",)
    said = [_counting(record, len(counting))]
    states = {
        "bracketed": "{} between two passed checks.",
        "open": "{} under a passed check that no later check has confirmed yet.",
        "not closed": "{} under a passed check that was not closed: the meter was re-adjusted "
        "afterwards, and the check before that, as found, was undecided.",
    }
    if counting:
        for state, words in states.items():
            here = sum(1 for r in counting if r.bracket == state)
            if here:
                verb = "lies" if here == 1 else "lie"
                share = "All of them lie" if here == len(counting) > 1 else f"{here} {verb}"
                said.append(words.format(share))
        unchecked = sum(1 for r in counting if r.bracket == "unchecked")
        if unchecked:
            said.append(f"{unchecked} of them without a valid check.")
    said += _withdrawn(record, counting)
    said += too_late_lines(record)
    said += _clock_back(record)
    said += _suspects(record)
    voids = record.count(Standing.VOID)
    if voids:
        verb = "was" if voids == 1 else "were"
        twice = record.suspect_voids
        also = (
            f"; {twice} of them would be suspect too and {'is' if twice == 1 else 'are'} not "
            "counted as such"
            if twice
            else ""
        )
        said.append(
            f"{counted(voids, 'reading')} of the zones {verb} taken out by a person, with a reason "
            f"(void){also}."
        )
    in_checks = sum(1 for c in record.checks for r in c.readings if r.void_reason)
    if in_checks:
        said.append(
            f"In the checks {counted(in_checks, 'reading')} of reference pieces "
            f"{'is' if in_checks == 1 else 'are'} void: a person took out one, with a reason, and "
            "its piece was read anew in full."
        )
    assigned = sum(1 for r in counting if r.assigned_reason)
    if assigned:
        verb = "was given its" if assigned == 1 else "were given their"
        said.append(f"{assigned} of those that count {verb} place by a person, with a reason.")
    unplaced = record.count(Standing.UNPLACED)
    if unplaced:
        said.append(
            f"{counted(unplaced, 'reading')} of an earlier plan have no place in the latest one "
            "and are not in the results."
        )
    impossible = record.count(Standing.IMPOSSIBLE)
    if impossible:
        said.append(
            f"{counted(impossible, 'reading')} of the zones {'is' if impossible == 1 else 'are'} "
            "left out, because no measurement could be so large."
        )
    if record.loose:
        verb = (
            "came around its runs and counts"
            if len(record.loose) == 1
            else ("came around its runs and count")
        )
        said.append(
            f"{counted(len(record.loose), 'loose reading')} {verb} for nothing"
            f"{_out_of_range(record)}."
        )
    return tuple(said)


def _out_of_range(record: TrialRecord) -> str:
    """That loose readings have no value, where the meter could not tell one; else empty."""
    without = sum(1 for r in record.loose if _NO_VALUE & set(r.flags.split(",")))
    if not without:
        return ""
    each = "it lay" if len(record.loose) == 1 else f"{without} of them lay"
    return f"; the meter sent that {each} outside of its range, which is no value"


def _suspects(record: TrialRecord) -> list[str]:
    """How many readings are suspect, by what made them so."""
    said = []
    suspects = [r for r in record.readings if r.standing is Standing.SUSPECT]
    doubted = sum(r.reassessment_id is not None for r in suspects)
    cut_off = sum(r.is_cut_off for r in suspects)
    for number, reason in (
        (len(suspects) - doubted - cut_off, "the check after {} found the meter outside its limit"),
        (cut_off, "the meter was re-adjusted after {}, and no check before that had read it as it "
         "was found"),
        (doubted, _doubts(record, suspects)),
    ):  # fmt: skip
        if not number:
            continue
        why = reason.replace("{}", "it" if number == 1 else "them")
        verb = "is" if number == 1 else "are"
        said.append(f"{counted(number, 'suspect reading')} {verb} left out of the results: {why}.")
    return said


def _doubts(record: TrialRecord, suspects: Sequence[ReadingRecord]) -> str:
    """What the checks rest on that were judged anew and made readings suspect."""
    found: dict[str, list[int]] = {}
    around = {(r.check_id, r.closing_check_id) for r in suspects if r.reassessment_id is not None}
    doubted = {check.id: check for pair in around if (check := record.doubted(*pair)) is not None}
    for check_id, check in sorted(doubted.items()):
        for text in check.withdrawn:
            found.setdefault(text, []).append(check_id)
    return "; ".join(
        f"check{'s' * (len(ids) > 1)} {numbered(ids)}: {text}" for text, ids in found.items()
    )


def _clock_back(record: TrialRecord) -> list[str]:
    """Where the computer's clock went back: dates there are wrong, and the order holds."""
    found = []
    for what, moments in (
        ("reading", [(r.id, r.at_utc_ns) for r in record.readings]),
        ("check", [(c.id, c.begun_utc_ns) for c in record.checks]),
    ):
        for (_, before), (number, at) in itertools.pairwise(moments):
            if before - at > _CLOCK_BACK_NS:
                found.append(
                    f"The computer's clock was set back before {what} {number}: it says "
                    f"{moment(at)}, after {moment(before)} for the one before it. Dates there are "
                    "not to be trusted; what came after what goes by the numbers."
                )
    return found


def flagged(evidence: Sequence[Evidence]) -> str:
    """A sentence on readings that stand out and count all the same; empty without any."""
    number = sum(1 for e in evidence for v in e.result.levels if v.cell.flagged is not None)
    if not number:
        return ""
    return (
        f"{counted(number, 'reading')} {'stands' if number == 1 else 'stand'} out from the others "
        f"by Grubbs' test and {'is' if number == 1 else 'are'} counted all the same."
    )


def _counting(record: TrialRecord, number: int) -> str:
    planned = sum(
        len(record.plan.zones) * len(m.stages) * m.replicates * len(m.channels)
        for m in record.plan.measures
    )
    verb = "counts" if number == 1 else "count"
    return f"{number} of {planned} planned readings {verb}."


UNCHECKED = (
    "This trial was planned as unchecked: its readings count without a valid check of the "
    "instrument, so nothing shows that the meter was right when they were taken."
)
