"""What opening and closing checks do to a result: what cancels, what counts, what is not known."""

from __future__ import annotations

import math

import pytest

from acquire.analysis.bracket import Bracket, bracket_of
from acquire.analysis.cell import gather
from acquire.analysis.comparison import Comparison, Refusal
from acquire.analysis.contrast import Contrast, change_of, value_of
from acquire.analysis.systematic import systematic
from acquire.analysis.uncertainty import Term
from tests.unit.analysis_bench import quiet, result_of, samples_of

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
        "drift of the meter, bare",
        "drift of the meter, applied",
    ]
    assert any("offset" in text for text in known.cancels)
    assert any("certified value" in text for text in known.cancels)
    assert known.caveats == ()


def test_a_drift_counts_by_the_time_between_the_two_sides() -> None:
    # Zones are read in turn, 10 s apart, in a bracket of 100 s.
    known = systematic(net([drifting("bare", 0, 0.6), quiet("applied", 1000)]), 0.1, "gloss_unit")
    line = term(known.terms, "drift of the meter, bare")
    assert line.u == pytest.approx(0.6 / math.sqrt(3))
    assert line.sensitivity == pytest.approx(0.1)


def test_a_single_value_carries_offset_drift_and_certificate() -> None:
    bracket = Bracket("bare", 0, 100, -0.3, 0.2, "", opening_deviation=0.15)
    cells = gather(ZONES, ["bare"], samples_of(READINGS), [bracket], 0.1)
    known = systematic(value_of(cells[0]), 0.1, "gloss_unit")
    assert term(known.terms, "drift").contribution == pytest.approx(0.3 / math.sqrt(3))
    assert term(known.terms, "offset").contribution == pytest.approx((0.15 + 0.05) / math.sqrt(3))
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
    line = term(comparison.budget.terms, "offset")
    step = 0.05 * math.hypot(1 / 3, 1 / 3)
    assert line.contribution == pytest.approx((0.3 / 3 + step) / math.sqrt(3))


def test_sides_read_under_different_checks_of_unknown_offset_are_not_judged() -> None:
    (refusal,) = result_of(APART, brackets=split(0.3, None)).comparisons
    assert isinstance(refusal, Refusal)
    assert "read under different checks" in refusal.reason
    assert refusal.next_step == "read control and treated zones in one sitting"


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
