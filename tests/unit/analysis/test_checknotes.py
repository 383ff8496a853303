"""A reader can make u of a check again from its note and what the checks list of their pieces."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from acquire.analysis.budget.uncertainty import Combined, Term
from acquire.analysis.checks.bracket import Bracket, reading_doubt
from acquire.analysis.checks.gaugezero import Zero, less_zero
from acquire.analysis.comparisons.comparison import Comparison
from acquire.report.evidence.evidence import evidence_of
from acquire.report.record.loading import load_trial
from tests.unit.analysis.bench import Readings, judged, result_of
from tests.unit.reported import small

Read = tuple[float, int]
"""Standard deviation and number of the readings of a piece at a check."""
READINGS: Readings = {
    ("control", "bare"): (88.1, 88.4, 88.2),
    ("wax", "bare"): (90.3, 90.1),
    ("control", "applied"): (88.2, 88.4, 88.3),
    ("wax", "applied"): (92.3, 92.1, 92.4),
}


def made_again(note: str, listed: Mapping[str, Sequence[Read]], over: float = 1.0) -> float:
    """u by the note alone: with s and n of each piece, in the order of the checks it was read at.

    `over` is the weight of a sled.
    """
    steps = [
        float(x) * over for x in re.findall(r"([\d.]+)(?: \S+)?(?: a step| at the second)", note)
    ]
    if note.startswith("u = step/√12 "):
        return steps[0] / math.sqrt(12) / over
    head = note.partition(" at ")[0].partition(" of ")[2]
    pieces = [
        one.removesuffix(" (no load), which was taken off it") for one in head.split(" and of ")
    ]
    ends = 2 if " at both checks" in note else 1
    if "which step of the display it was read is not known" in note:
        steps = [0.0]
    steps *= ends if len(steps) == 1 else 1
    square = 0.0
    for piece in pieces:
        for (s, n), step in zip(listed[piece][-ends:], steps, strict=True):
            square += (s**2 / n if n > 1 else 0.0) + step**2 / 12
    return math.sqrt(square) / over


def bracket(
    stage: str, k: int, steps: tuple[float, float], reads: tuple[Read, Read], **more: object
) -> Bracket:
    """Around a stage, by checks with steps of their own that read T1 so well."""
    (s0, n0), (s1, n1) = reads
    found = Bracket(
        stage, 1000.0 * k, 1000.0 * k + 900, 0.2, 0.1, "", 0.15,
        opening_doubt=reading_doubt(s0, n0, steps[0]),
        closing_doubt=reading_doubt(s1, n1, steps[1]),
        opening_step=steps[0], closing_step=steps[1], piece="T1", certified=93.0,
        opening_check=2 * k + 1, closing_check=2 * k + 2,
    )  # fmt: skip
    return replace(found, **more)  # type: ignore[arg-type]


def lines(brackets: Sequence[Bracket], resolution: float = 0.1) -> dict[str, Term]:
    """All lines of readings of checks, of the net change, the changes of zones and the levels."""
    result = result_of(READINGS, brackets=brackets, resolution=resolution)
    tables = [judged(result, "wax").budget]
    tables += [c.budget for c in result.changes if c.budget is not None]
    tables += [v.budget for v in result.levels if v.budget is not None]
    return {
        f"{i} {t.name}": t
        for i, table in enumerate(tables)
        for t in table.terms
        if t.name.startswith("reading of")
    }


@pytest.mark.parametrize("resolution", [0.0, 0.001, 0.1, 1.0])
@pytest.mark.parametrize("steps", [(0.1, 0.1), (0.01, 0.1), (0.1, 0.01), (0.0, 0.1), (0.0, 0.0)])
def test_whatever_steps_checks_and_readings_have_the_note_says_of_what_u_was_made(
    steps: tuple[float, float], resolution: float
) -> None:
    reads = ((0.004, 3), (0.09, 5))
    found = lines(
        [bracket(s, k, steps, reads) for k, s in enumerate(("bare", "applied"))], resolution
    )
    assert found
    for name, line in found.items():
        number = int(name.partition("check ")[2].partition(",")[0])
        again = made_again(line.note, {"T1": [reads[(number - 1) % 2]]})
        assert line.u == pytest.approx(again, rel=1e-4), (name, line.note)


def test_an_offset_that_is_known_to_less_than_a_step_of_the_readings_has_the_step_as_its_note() -> (
    None
):
    reads = ((0.004, 3), (0.004, 3))
    found = lines([bracket(s, k, (0.01, 0.01), reads) for k, s in enumerate(("bare", "applied"))])
    floors = [t for t in found.values() if t.note.startswith("u = step/√12 with the step by which")]
    assert floors
    for line in floors:
        assert line.u == pytest.approx(0.1 / math.sqrt(12))
        assert "(0.1 GU a step)" in line.note
        assert math.isinf(line.nu)


def test_of_a_single_reading_the_step_alone_is_told() -> None:
    reads = ((0.0, 1), (0.0, 1))
    for line in lines(
        [bracket("bare", 0, (0.1, 0.2), reads), bracket("applied", 1, (0.1, 0.2), reads)]
    ).values():
        assert line.u == pytest.approx(made_again(line.note, {"T1": [(0.0, 1)]}), rel=1e-4)


def test_checks_without_a_number_tell_the_step_of_either() -> None:
    reads = ((0.05, 3), (0.09, 5))
    found = lines(
        [
            bracket(
                s, k, (0.1, 0.02), reads, opening_check=None, closing_check=None, certified=None
            )
            for k, s in enumerate(("bare", "applied"))
        ]
    )
    both = [t for t in found.values() if "both checks" in t.note]
    assert both
    for line in both:
        assert "0.1 GU a step at the first and 0.02 GU at the second" in line.note
        assert line.u == pytest.approx(made_again(line.note, {"T1": reads}), rel=1e-4)


def test_where_another_piece_told_the_drift_the_note_has_both_of_its_checks() -> None:
    reads, others = ((0.05, 3), (0.0, 3)), ((0.06, 3), (0.09, 5))
    steps = (0.1, 0.02)
    ends = [reading_doubt(s, n, step) for (s, n), step in zip(others, steps, strict=True)]
    of_both = Combined(math.hypot(*[end.u for end in ends]), 5.0)
    found = lines(
        [
            bracket(s, k, steps, reads, closing_doubt=of_both, closing_piece="T2")
            for k, s in enumerate(("bare", "applied"))
        ]
    )
    told = [t for name, t in found.items() if name.endswith("piece T2")]
    assert told
    for line in told:
        assert line.u == pytest.approx(made_again(line.note, {"T2": others}), rel=1e-4)


@pytest.mark.parametrize("closed", [Combined(0.02, math.inf), None])
def test_a_zero_that_was_taken_off_is_in_the_note_of_the_checks_that_read_it(
    closed: Combined | None,
) -> None:
    step = 0.02 * math.sqrt(12)
    reads = ((0.0, 3), (0.0, 3))
    zero = (
        Zero(0.0, 0.01, Combined(0.02, math.inf), closed, piece="Z0")
        if closed is not None
        else Zero(0.0, None, Combined(0.02, math.inf), piece="Z0")
    )
    found = lines(
        [
            less_zero(bracket(s, k, (step, step), reads), zero)
            for k, s in enumerate(("bare", "applied"))
        ],
        0.01,
    )
    assert found
    for name, line in found.items():
        again = made_again(line.note, {"T1": [(0.0, 3)], "Z0": [(0.0, 3)]})
        assert line.u == pytest.approx(again, rel=1e-3), (name, line.note)
    assert any(" and of Z0 (no load)" in t.note for t in found.values())


def test_from_the_checks_of_a_stored_trial_each_u_can_be_made_again(tmp_path: Path) -> None:
    record = load_trial(small(tmp_path).bench.store, "small")
    (evidence,) = evidence_of(record)
    tables = [c.budget for c in evidence.result.comparisons if isinstance(c, Comparison)]
    tables += [v.budget for v in evidence.result.levels if v.budget is not None]
    checked = 0
    for line in (t for table in tables for t in table.terms if t.name.startswith("reading of")):
        number, piece = re.fullmatch(r"reading of check (\d+), piece (\S+)", line.name).groups()  # type: ignore[union-attr]
        check = record.check(int(number))
        assert check is not None
        listed = {p.piece: [(float(p.spread), p.count)] for p in check.held}
        assert line.u == pytest.approx(made_again(line.note, listed), rel=1e-4)
        checked += piece in listed
    assert checked > 3
