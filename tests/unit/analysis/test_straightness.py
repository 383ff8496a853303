"""What intervals take for granted where no check tells how far a meter's scale is bent.

It stands among the rules, beside the table of zones and in the terminal, once each.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.gaugezero import Zero, less_zero
from acquire.analysis.checks.meterscale import Beside
from acquire.analysis.correction import corrected_measure
from acquire.analysis.results import measure_results
from acquire.analysis.rules.straightness import straight_lines
from acquire.model import DriftCorrection, Quantity
from acquire.report.sections.glossary import WORDS
from acquire.report.terminal.summary import lines_of
from tests.unit.analysis.bench import plan_of, result_of, samples_of
from tests.unit.reported import page, small

READINGS = {
    (zone, stage): (60.0, 60.1, 60.2)
    for stage in ("bare", "applied")
    for zone in ("control", "wax")
}
TRAP = Beside("Z0", 0.0, 0.0, 0.0, 0.02)
SECOND = Beside("T2", 50.0, 0.2, 0.0, 0.1)


def checks(
    certified: float = 93.2, foot: Beside | None = None, beside: tuple[Beside, ...] = ()
) -> list[Bracket]:
    """Checks of bare and applied, by a reference piece T1."""
    return [
        Bracket(
            stage, 1000.0 * k, 1000.0 * k + 900, 0.0, 0.1, "", 0.1, piece="T1",
            certified=certified, foot=foot, beside=beside,
        )
        for k, stage in enumerate(("bare", "applied"))
    ]  # fmt: skip


def said(brackets: list[Bracket]) -> tuple[str, ...]:
    return straight_lines(result_of(READINGS, brackets=brackets).basis)


def test_two_pieces_leave_the_scale_between_them_to_be_taken_for_straight() -> None:
    (line,) = said(checks(foot=TRAP))
    assert line.startswith(
        "The intervals take the meter's scale to be straight from Z0 to T1: no check around these "
        "readings read a third piece, which near the level of the zones would tell how far it is "
        "bent."
    )
    (below,) = said(checks(certified=20.0, foot=replace_piece("T9", 93.2)))
    assert "straight from T1 to T9" in below


def replace_piece(name: str, certified: float) -> Beside:
    return TRAP._replace(piece=name, certified=certified)


def test_one_piece_takes_more_for_granted_and_zero_alone_yet_more() -> None:
    (line,) = said(checks())
    assert "straight from zero to T1" in line
    assert "one at zero would tell its gain" in line
    (zero,) = said(checks(certified=0.0))
    assert "off at all readings by as much as at T1" in zero
    assert "a piece above zero" in zero


def test_a_third_piece_tells_it_and_nothing_is_taken_for_granted() -> None:
    assert said(checks(foot=TRAP, beside=(SECOND,))) == ()
    # Too near to the tile it tells nothing.
    near = SECOND._replace(certified=92.0)
    assert len(said(checks(foot=TRAP, beside=(near,)))) == 1


def test_of_readings_under_unlike_checks_it_is_said_of_how_many() -> None:
    two, three = checks(foot=TRAP)[:1], checks(foot=TRAP, beside=(SECOND,))[1:]
    (line,) = said([*two, *three])
    assert "no check around 6 of the 12 readings read a third piece" in line


def test_a_zero_that_was_taken_off_is_one_end_of_the_line() -> None:
    zero = Zero(0.1, 0.1, piece="W0")
    (line,) = said([less_zero(b, zero) for b in checks(foot=replace_piece("W0", 0.0))])
    assert "straight from W0 to T1" in line


def test_without_checks_and_of_films_nothing_is_said_here() -> None:
    assert said([]) == ()
    plan, measure = plan_of(("control", "wax"))
    film = replace(measure, quantity=Quantity.TRANSMITTANCE, unit="percent")
    plan = replace(plan, measures=(film,))
    (result,) = measure_results(plan, film, samples_of(READINGS), checks(foot=TRAP), 0.01)
    assert straight_lines(result.basis) == ()
    assert not any("the meter's scale to be straight" in rule for rule in result.rules)


def test_it_is_a_rule_once_and_in_no_line_of_a_budget() -> None:
    result = result_of(READINGS, brackets=checks(foot=TRAP))
    (line,) = straight_lines(result.basis)
    assert sum(rule.startswith(line) for rule in result.rules) == 1
    told = [b.note for v in result.levels if v.budget is not None for b in v.budget.biases]
    assert told
    assert not any("straight in between" in note for note in told)


def test_a_correction_takes_the_same_for_granted() -> None:
    for how in (DriftCorrection.OFFSET, DriftCorrection.GAIN):
        for brackets in (checks(), checks(foot=TRAP)):
            plan, measure = plan_of(("control", "wax"))
            measure = replace(measure, drift_correction=how)
            plan = replace(plan, measures=(measure,))
            samples = samples_of(READINGS)
            found = corrected_measure(plan, measure, "60", samples, brackets, 0.01).result
            assert found is not None
            assert straight_lines(found.basis) == said(brackets)


def test_page_and_terminal_say_it_once_each_and_ninety_five_hangs_on_it(tmp_path: Path) -> None:
    yard = small(tmp_path)
    found = page(yard, "small", tmp_path)
    lines = lines_of(yard.bench.store, "small")
    yard.close()
    told = re.compile(r"take\s+the\s+meter's\s+scale\s+to\s+be\s+straight\s+from\s+Z0\s+to\s+T1")
    assert sum(len(told.findall(line)) for line in lines) == 1
    # Beside the table of zones, and among the rules.
    assert len(told.findall(found.text)) == 2
    (word,) = [w.meaning for w in WORDS if w.word == "± and 95 %"]
    assert "that is so only as far as it is straight" in word
