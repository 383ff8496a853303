"""An interval that decides by a hair is printed so that it shows on which side of the edge it ends.

The trials are invented: their readings are moved until an end lies 0.0004 beside what decides.
"""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.analysis.comparisons.among import Pair, among
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.durability.retention import Kept
from acquire.analysis.laws.root import crossing
from acquire.analysis.results import MeasureResult
from acquire.analysis.scale import PERCENT
from acquire.analysis.transmission.slides import FilmResult, Shown, film_of_slides
from acquire.analysis.treatments.decision import Decision
from acquire.report.answers.headline import answer
from acquire.report.answers.ranking import lead_rows, ranking
from acquire.report.answers.standings import pair_rows
from acquire.report.evidence.evidence import Evidence, evidence_of
from acquire.report.film.moments import moments_of
from acquire.report.record.loading import load_trial
from acquire.report.record.record import TrialRecord
from acquire.report.sections.budgets import budget_groups
from acquire.report.sections.glance import glance_rows
from acquire.report.sections.tables import treatment_tables
from acquire.report.washing.washwords import kept_words
from tests.unit.analysis.bench import BARE, Readings, judged, result_of, trial
from tests.unit.film_bench import films_of
from tests.unit.reported import SMALL, SMALL_VALUES, read_stage
from tests.yard import Yard

HAIR = 0.0004
SPREAD = (-0.3, 0.0, 0.3)


def around(middle: float) -> tuple[float, ...]:
    return tuple([middle + x for x in SPREAD])


def of_gloss(gain: float, other: float = 90.0, margin: str | None = None) -> MeasureResult:
    """Readings with all the digits of a float, so that the gain can be anything."""
    return result_of(
        trial(control=BARE, wax=around(90.1 + gain), oil=around(other)),
        margin=margin,
    )


def test_a_treatment_that_is_better_by_a_hair_has_no_interval_from_zero() -> None:
    half = judged(of_gloss(0.0), "wax").budget.expanded
    found = judged(of_gloss(half + HAIR), "wax")
    assert found.decision is Decision.BETTER
    assert "95 % interval +0.0004 to " in found.sentence
    found = judged(of_gloss(-half - HAIR), "wax")
    assert found.decision is Decision.WORSE
    assert " to −0.0004 GU." in found.sentence


def test_a_treatment_that_is_not_shown_by_a_hair_has_zero_inside_its_interval() -> None:
    half = judged(of_gloss(0.0), "wax").budget.expanded
    found = judged(of_gloss(half - HAIR), "wax")
    assert found.decision is Decision.NOT_SHOWN
    assert "95 % interval −0.0004 to +" in found.sentence


def test_an_equality_by_a_hair_is_not_decided_by_an_interval_that_ends_at_the_margin() -> None:
    found = judged(of_gloss(0.0, margin="3"), "wax")
    narrow = found.equality_interval[1] - found.estimate
    found = judged(of_gloss(3 - narrow - HAIR, margin="3"), "wax")
    assert found.decision is Decision.EQUAL
    assert "to +2.9996 GU, which lies inside the margin" in found.sentence


@pytest.mark.parametrize(
    ("off", "decision", "end"),
    [
        (HAIR, Decision.BETTER, "interval for all pairs +0.0004 to "),
        (-HAIR, Decision.NOT_SHOWN, "interval for all pairs −0.0004 to "),
    ],
)
def test_a_pair_has_an_interval_on_the_side_of_its_decision(
    off: float, decision: Decision, end: str
) -> None:
    def pair(gain: float, margin: str | None = None) -> Pair:
        result = of_gloss(gain, margin=margin)
        cells = {
            t: [c for c in result.judged if c.treatment == t] for t in ("control", "wax", "oil")
        }
        judged_ones = [judged(result, t) for t in ("wax", "oil")]
        (found,) = among(judged_ones, {"wax": "Wax", "oil": "Oil"}, cells, result.basis)
        return found

    half = pair(0.0).half_width
    found = pair(half + off - 0.1)
    assert found.decision is decision
    assert end in found.sentence
    equal = pair(3 - half - HAIR - 0.1, "3")
    assert equal.decision is Decision.EQUAL
    assert "to +2.9996 GU" in equal.sentence


def test_a_film_that_is_shown_by_a_hair_has_no_interval_to_100_percent() -> None:
    def slides(part: float) -> Readings:
        return {
            (zone, stage): tuple([level * (1 + x / 300) for x in SPREAD])
            for zone, stage, level in (
                ("control", "bare", 90.0), ("control", "applied", 90.0),
                ("wax", "bare", 90.0), ("wax", "applied", 90.0 * part),
            )
        }  # fmt: skip

    half = judged(films_of(slides(1.0)), "wax").budget.expanded
    found = judged(films_of(slides(1 - half + 0.49 * half**2 - 4e-6)), "wax")
    assert found.decision is Decision.BETTER
    assert found.film is not None
    high = PERCENT * found.film.interval[1]
    assert 99.99 < high < 100
    assert f" to {high:.3f} %" in found.sentence or f" to {high:.4f} %" in found.sentence
    assert "to 100.00 %" not in found.sentence


def test_slides_against_blanks_that_are_shown_by_a_hair_do_not_end_at_one() -> None:
    blanks = (0.9, 0.91, 0.92, 0.89, 0.9)

    def end(part: float) -> tuple[float, FilmResult]:
        level = part * sum(blanks) / len(blanks)
        found = film_of_slides("film", [level] * 3, blanks, resolution=0.001)
        assert found.value is not None
        assert found.budget is not None
        return found.value + found.budget.expanded, found

    part = crossing(lambda x: end(x)[0] - (1 - 1e-5), 0.8, 1.0, rel=1e-12)
    high, found = end(part)
    assert found.shown is Shown.LOWER
    assert high == pytest.approx(1 - 1e-5)
    assert " to 0.99999: lower than the blank" in found.sentence


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (0.62, 0.9998, "81 % after 5 washes (62.00 to 99.98 %)"),
        (0.62, 1.0002, "81 % after 5 washes (62.00 to 100.02 %)"),
        (0.5003, 1.12, "81 % after 5 washes (50.03 to 112.00 %)"),
        (0.0004, 0.4996, "25 % after 5 washes (0.04 to 49.96 %)"),
    ],
)
def test_a_share_kept_shows_on_which_side_of_all_nothing_and_the_criterion_it_is(
    low: float, high: float, said: str
) -> None:
    kept = Kept(5, round((low + high) / 2, 2), 0.1, low, high)
    assert kept_words(5, kept, 0.5) == said


THREE = SMALL.replace("\nmargin = 1.0", "").replace(
    "[[measure]]",
    """[[treatment]]
id = "tern"
name = "Tern wax"

[[zone]]
id = "A3"
treatment = "tern"

[[measure]]""",
)


def finer(folder: Path, gain: float, of_tern: float) -> tuple[TrialRecord, Evidence]:
    """The small trial with one more treatment, read by a head that sends four decimals."""
    yard = Yard(folder)
    yard.plug("shore")
    yard.check("shore", tile="93.2")
    bare = [SMALL_VALUES[z, "bare"] for z in ("A1", "A2", "A2")]
    read_stage(yard, "bare", THREE, bare)
    cured = [[f"{81.1 + change + x:.4f}" for x in (-0.1, 0.0, 0.1)] for change in (gain, of_tern)]
    read_stage(yard, "cured", THREE, [SMALL_VALUES["A1", "cured"], *cured])
    yard.check("shore", tile="93.2")
    record = load_trial(yard.bench.store, "small")
    (evidence,) = evidence_of(record)
    return record, evidence


def test_tables_and_sentences_of_a_report_show_the_side_that_decided(tmp_path: Path) -> None:
    # What the meter may be off by grows with the change, so the edge is found in turns.
    gain, tern = 1.0, 0.0
    for turn in range(5):
        record, evidence = finer(tmp_path / str(turn), gain, tern)
        found, lead = evidence.ranked("cured")[0], evidence.leads("cured")[0]
        assert isinstance(found, Comparison)
        moved = HAIR - found.interval[0]
        gain, tern = gain + moved, tern + moved - (HAIR - lead.interval[0])
    assert abs(moved) < 1e-4
    rows = {row.name: row for row in treatment_tables(record, evidence)[-1].rows}
    row = rows["Brine Shield"]
    assert row.decision == "better"
    assert starts_above(row.interval)
    (glance,) = glance_rows(record, [evidence], [answer(record, evidence)], [], [])
    assert row.interval in glance.figure
    assert f"(95 % interval {row.interval} GU)" in ranking(record, evidence, "cured")[0]
    (ahead,) = lead_rows(record, evidence, "cured")
    (pair,) = pair_rows(record, evidence, "cured")
    assert (ahead.decision, pair.decision) == ("ahead", "better")
    assert starts_above(ahead.interval)
    assert starts_above(pair.interval)


@pytest.mark.parametrize(
    ("off", "decision"), [(HAIR, "▲ Brine Shield: better"), (-HAIR, "○ Brine Shield: no diff")]
)
def test_a_caption_and_the_head_of_a_budget_show_it_without_an_interval(
    tmp_path: Path, off: float, decision: str
) -> None:
    gain = 1.0
    for turn in range(5):
        record, evidence = finer(tmp_path / str(turn), gain, 0.0)
        found = evidence.ranked("cured")[0]
        assert isinstance(found, Comparison)
        moved = off - found.interval[0]
        gain += moved
    assert abs(moved) < 1e-4
    captions = [m.text for m in moments_of(record, [evidence])]
    (caption,) = [text for text in captions if text.startswith(decision)]
    budget = budget_groups(record, evidence)[0].tables[0]
    assert budget.title == "Brine Shield, cured"
    equation = f"{budget.result} ± {budget.printed}"
    for text in (caption, f"{budget.short}", equation):
        told = re.search(r"\+(\d\.\d+)(?: GU)? ± (\d\.\d+)", text)
        assert told is not None, text
        figure, half = map(Decimal, told.groups())
        assert (figure > half) is (off > 0), text
        assert 0 < abs(figure - half) < Decimal("0.002"), text


def starts_above(interval: str) -> bool:
    """Whether the lower end is printed above zero, with no digit more than that takes."""
    low = interval.partition(" to ")[0]
    return low.startswith("+0.000") and sum(d in "123456789" for d in low) == 1
