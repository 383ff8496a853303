"""What opening and closing checks do to a result: what cancels, what counts, what is not known."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from acquire.analysis.budget.uncertainty import Kind, Term
from acquire.analysis.cells.cell import gather
from acquire.analysis.cells.contrast import Contrast, change_of, value_of
from acquire.analysis.checks.bracket import Bracket, bracket_of, reading_doubt
from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.meter.systematic import systematic
from acquire.analysis.results import measure_results
from tests.unit.analysis.bench import plan_of, quiet, result_of, samples_of

READINGS = {
    ("control", "bare"): (90.0, 90.2, 90.1),
    ("wax", "bare"): (90.1, 90.0, 90.2),
    ("control", "applied"): (90.0, 90.1, 90.2),
    ("wax", "applied"): (92.0, 92.1, 92.2),
}
ZONES = [("control", "control"), ("wax", "wax")]


def net(brackets: list[Bracket]) -> Contrast:
    cells = gather(ZONES, ["bare", "applied"], samples_of(READINGS), brackets, 0.1)
    return change_of([(cells[2], cells[3])]).minus(change_of([(cells[0], cells[1])]))


def term(terms: tuple[Term, ...], start: str) -> Term:
    return next(t for t in terms if t.name.startswith(start))


def drifting(stage: str, opening_at_s: float, drift: float) -> Bracket:
    return Bracket(stage, opening_at_s, opening_at_s + 100, drift, 0.2, "", 0.0)


def test_the_piece_and_the_meters_offset_cancel_in_a_net_change() -> None:
    known = systematic(net([quiet("bare", 0), quiet("applied", 1000)]), 0.1, "gloss_unit")
    assert [t.name for t in known.terms] == [
        "resolution of the display",
        "course of the drift, bare",
        "course of the drift, applied",
    ]
    assert any("offset" in text for text in known.cancels)
    assert any("certified value" in text for text in known.cancels)
    assert known.caveats == ()


def test_a_steady_drift_is_a_known_shift_by_the_time_between_the_two_sides() -> None:
    # Zones are read in turn, 10 s apart, in a bracket of 100 s; the bare stage counts negative.
    known = systematic(net([drifting("bare", 0, 0.6), quiet("applied", 1000)]), 0.1, "gloss_unit")
    bare, applied = known.biases
    assert bare.name == "steady drift of the meter, bare"
    assert (bare.found, bare.sensitivity) == pytest.approx((0.6, -0.1))
    assert bare.contribution == pytest.approx(-0.06)
    assert applied.contribution == 0
    assert known.source == "a steady drift of the meter, as found by the checks,"


def test_what_a_drift_may_do_besides_is_the_departure_from_the_line() -> None:
    # Control at 0, 20, 40 s, wax at 10, 30, 50 s: S is -1/3 in (0, 10], (20, 30], (40, 50], else 0.
    known = systematic(net([drifting("bare", 0, 0.6), quiet("applied", 1000)]), 0.1, "gloss_unit")
    line = term(known.terms, "course of the drift, bare")
    step = math.sqrt(0.3 * (1 / 3) ** 2 - 0.1**2)
    assert line.u == pytest.approx(0.6)
    assert line.sensitivity == pytest.approx(max(step, (1 / 3 - 0.1) / math.sqrt(3)))


def test_the_reading_of_the_checks_counts_as_far_as_the_drift_does() -> None:
    doubt = reading_doubt(0.06, 3, 0.1)
    assert doubt.u == pytest.approx(math.hypot(0.06 / math.sqrt(3), 0.1 / math.sqrt(12)))
    bare = replace(drifting("bare", 0, 0.6), opening_doubt=doubt, closing_doubt=doubt)
    known = systematic(net([bare, quiet("applied", 1000)]), 0.1, "gloss_unit")
    line = term(known.terms, "reading of the checks, bare")
    assert line.contribution == pytest.approx(0.1 * math.sqrt(2) * doubt.u)
    assert line.nu == pytest.approx(2 * doubt.nu)
    assert line.kind is Kind.A


def test_a_check_of_one_reading_is_known_as_well_as_its_display() -> None:
    assert reading_doubt(0.0, 1, 0.1) == (0.1 / math.sqrt(12), math.inf)


def test_a_single_value_carries_offset_drift_and_certificate() -> None:
    bracket = Bracket("bare", 0, 100, -0.3, 0.2, "", opening_deviation=0.15)
    cells = gather(ZONES, ["bare"], samples_of(READINGS), [bracket], 0.1)
    known = systematic(value_of(cells[0]), 0.1, "gloss_unit")
    # Read at 0, 20 and 40 s of 100 s: the meter stood 0.15 too high and fell by a fifth of 0.3.
    assert [b.contribution for b in known.biases] == pytest.approx([-0.3 * 0.2, 0.15])
    assert known.source == "offset and steady drift of the meter, as found by the checks,"
    step = math.sqrt(0.2 * (2 / 3) ** 2 + 0.2 * (1 / 3) ** 2 - 0.2**2)
    largest = 2 / 3 - 0.2
    course = term(known.terms, "course").contribution
    assert course == pytest.approx(0.3 * max(step, largest / math.sqrt(3)))
    read = term(known.terms, "reading of the opening check")
    assert read.contribution == pytest.approx(0.05 / math.sqrt(3))
    assert term(known.terms, "certificate").contribution == pytest.approx(0.2)
    assert known.cancels == ()


def test_the_display_counts_once_a_mean() -> None:
    known = systematic(net([quiet("bare", 0), quiet("applied", 1000)]), 0.1, "gloss_unit")
    line = term(known.terms, "resolution")
    assert line.contribution == pytest.approx(2 * 0.1 / math.sqrt(12))


def test_a_missing_closing_check_is_said_and_not_taken_for_no_drift() -> None:
    open_end = Bracket("applied", 1000, None, None, 0.2, "", 0.0)
    known = systematic(net([quiet("bare", 0), open_end]), 0.1, "gloss_unit")
    assert known.caveats == (
        "No closing check after applied is known yet: a drift of the meter there is not in the "
        "uncertainty.",
    )


def test_readings_under_no_check_are_said() -> None:
    known = systematic(net([quiet("bare", 0)]), 0.1, "gloss_unit")
    assert "Readings at applied lie under no check" in known.caveats[0]
    assert all("offset" not in text for text in known.cancels)


def split(first: float | None, second: float | None) -> list[Bracket]:
    """The control of the applied stage is read before 1005 s each turn; cut between its turns."""
    return [
        quiet("bare", 0),
        Bracket("applied", 1000, 1035, 0.0, 0.2, "", first),
        Bracket("applied", 1035, 1900, 0.0, 0.2, "", second),
    ]


APART = {**READINGS, ("wax", "applied"): (92.0, 92.1)}


def test_sides_read_under_different_checks_carry_the_offsets_found() -> None:
    result = result_of(APART, brackets=split(0.3, 0.0))
    (comparison,) = result.comparisons
    assert isinstance(comparison, Comparison)
    # Of the control's three readings two, of the wax's two both, lie before the cut.
    assert comparison.budget.bias == pytest.approx(0.3 / 3)
    read = [t for t in comparison.budget.terms if t.name.startswith("reading of the opening")]
    assert [t.contribution for t in read] == pytest.approx([0.05 / math.sqrt(3) / 3] * 2)
    assert (
        "Offset and steady drift of the meter, as found by the checks, would alone have made "
        "+0.10 GU between equal zones"
    ) in comparison.sentence


def test_a_sitting_cut_by_a_check_does_not_hide_a_steady_drift() -> None:
    # Every zone drifts up by 0.6 in each of two brackets that follow one another: the control is
    # read in the middle of the first, the wax in the middle of the second, 0.6 later.
    brackets = [
        quiet("bare", 0),
        Bracket("applied", 1000, 1040, 0.6, 0.2, "", 0.0),
        Bracket("applied", 1040, 1080, 0.6, 0.2, "", 0.6),
    ]
    samples = [
        replace(s, at_s=(1020.0 if s.zone == "control" else 1060.0)) if s.stage == "applied" else s
        for s in samples_of(READINGS)
    ]
    cells = gather(ZONES, ["bare", "applied"], samples, brackets, 0.1)
    both = change_of([(cells[2], cells[3])]).minus(change_of([(cells[0], cells[1])]))
    known = systematic(both, 0.1, "gloss_unit")
    assert sum(b.contribution for b in known.biases) == pytest.approx(0.6)


def test_sides_read_under_different_checks_of_unknown_offset_are_not_judged() -> None:
    (refusal,) = result_of(APART, brackets=split(0.3, None)).comparisons
    assert isinstance(refusal, Refusal)
    assert "read under different checks" in refusal.reason
    assert refusal.next_step == "read control and treated zones in one sitting, with one meter"


def test_sides_read_in_different_stretches_under_no_check_are_not_judged() -> None:
    apart = [
        replace(s, stretch="deck" if (s.zone, s.stage) == ("wax", "applied") else "shore")
        for s in samples_of(READINGS)
    ]
    plan, measure = plan_of(["control", "wax"])
    (refused,) = measure_results(plan, measure, apart, [], 0.1)[0].comparisons
    assert isinstance(refused, Refusal)
    assert "by different meters or with a break between them" in refused.reason
    assert "6 of its readings at applied lie under no check" in refused.reason
    together = [replace(s, stretch=s.stage) for s in apart]
    (judged,) = measure_results(plan, measure, together, [], 0.1)[0].comparisons
    assert isinstance(judged, Comparison)


def test_a_reading_belongs_to_the_bracket_opened_last() -> None:
    sample = samples_of({("wax", "bare"): (90.0,)})[0]
    early, late = quiet("bare", -50), quiet("bare", -10)
    assert bracket_of(sample, [late, early]) is late
    assert bracket_of(sample, [quiet("applied", -50)]) is None
    assert bracket_of(sample, [quiet("bare", 5)]) is None


def test_figures_of_another_geometry_do_not_count() -> None:
    sample = samples_of({("wax", "bare"): (90.0,)})[0]
    assert bracket_of(sample, [Bracket("bare", -1, None, None, 0.2, "20")]) is None
    assert bracket_of(sample, [Bracket("bare", -1, None, None, 0.2, "60")]) is not None


def test_a_bracket_cannot_close_before_it_opens() -> None:
    with pytest.raises(ValueError, match="lies before the opening"):
        Bracket("bare", 100.0, 99.0, 0.0, 0.2)


def test_a_bracket_of_no_length_has_one_place() -> None:
    assert Bracket("bare", 100.0, 100.0, 0.3, 0.2).position(100.0) == 0.0
