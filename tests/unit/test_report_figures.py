"""The figures on the page equal those reckoned by hand from a tiny set of readings.

`tests.unit.reported.SMALL`: two zones, bare and cured, three readings each with a standard
deviation of exactly 0.1 GU; check 1 reads 93.2 GU, checks 2 and 3 read 93.3 GU.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.unit.reported import Page, page, small
from tests.yard import Yard

# Student's t for 95 % at 2 degrees of freedom and the normal law's limit (JCGM 100:2008, table G.2,
# whose last digits are from memory).
T2, Z = 4.303, 1.960


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    yard = small(tmp_path)
    yield yard
    yard.close()


@pytest.fixture
def report(yard: Yard, tmp_path: Path) -> Page:
    return page(yard, "small", tmp_path)


class ByHand:
    """The uncertainty of the net change, from the readings and the times of the yard's clock."""

    scatter = 0.1 * math.sqrt(4 / 3)
    """Four means of three readings."""
    display = 0.05 / math.sqrt(3) * math.sqrt(4)
    """Half a step of 0.1, once for each of four means."""
    # Bare: check 1 is judged at 4 s, zone A1 read at 7, 9, 11 s, A2 at 13, 15, 17 s, check 2 is
    # judged at 21 s. The zones lie 6 s of 17 s apart while the meter drifted by 0.1.
    shift = -0.1 * 6 / 17
    """Of a drift in a straight line; it lifts the bare reading of A2, so it lowers the change."""
    course_bare = 0.1 * (1 - 6 / 17) / math.sqrt(3)
    """Between the zones a jump would count in full, 11/17 more than the straight line."""
    course_cured = 0.0
    # Cured: check 2 is judged at 21 s, check 3 at 38 s, and the zones are 6 s apart again. Equal
    # readings at each check leave half a step of the display for it. Check 2 closes the bare stage
    # and opens the cured one, and the zones were read in the same order: it counts twice.
    check = 6 / 17 * 0.05 / math.sqrt(3)
    combined = math.sqrt(scatter**2 + display**2 + course_bare**2 + (1 + 2**2 + 1) * check**2)
    nu = combined**4 / (scatter**4 / 8)
    k = math.sqrt(Z**2 + (T2**2 - Z**2) * (scatter**2 / 4) / combined**2)
    """One of the four means counts with its own two degrees of freedom."""
    expanded = k * combined + abs(shift)


def test_means_and_scatter_are_those_of_the_readings(report: Page) -> None:
    at_bare = [r[2:4] + r[5:7] for r in report.rows if r[:1] in (["A1"], ["A2"])]
    assert at_bare == [
        ["3", "80.20", "0.10", "−0.10"],
        ["3", "81.10", "0.10", "−0.10"],
        ["3", "80.00", "0.10", "−0.10"],
        ["3", "84.10", "0.10", "−0.10"],
    ]


def test_changes_are_against_the_same_zone_and_against_the_control(report: Page) -> None:
    treated = [r for r in report.rows if r[:2] == ["A2", "Brine Shield"]]
    control = [r for r in report.rows if r[:2] == ["A1", "untreated (control)"]]
    assert [(r[7], r[9]) for r in treated] == [("–", "+0.90"), ("+3.00", "+4.10")]
    assert [(r[7], r[9]) for r in control] == [("–", "–"), ("−0.20", "–")]


def test_the_net_change_and_its_uncertainty_are_those_reckoned_by_hand(report: Page) -> None:
    name, decision, net, u, interval, p, visible, own, control, zones, checks = report.row(
        "Brine Shield"
    )
    assert checks == "bare: checks 1 and 2, both passed. cured: checks 2 and 3, both passed"
    assert (name, decision, zones) == ("Brine Shield", "▲ better", "A2")
    assert (net, own, control) == ("+3.20", "+3.00", "−0.20")
    expanded = ByHand.expanded
    assert u == f"{expanded:.2f}" == "0.38"
    assert interval == f"+{3.2 - expanded:.2f} to +{3.2 + expanded:.2f}"
    # Two-sided p of Student's t at 2 degrees of freedom is about 1/t^2 far out.
    size = (3.2 - abs(ByHand.shift)) / ByHand.combined
    by_hand = (ByHand.scatter**2 / 4 / ByHand.combined**2) / (size**2 - 13)
    assert p == f"{by_hand:.4f}" == "0.0003"
    # Drawn at random: four scatters of 2 degrees of freedom each, the largest with its t.
    draw = np.random.default_rng(5)
    known = ByHand.combined**2 - ByHand.scatter**2
    scatters = (ByHand.scatter / 2) ** 2 * draw.chisquare(2, (4, 100_000)) / 2
    z, t = 1.960, 4.303
    half = np.sqrt(z**2 * (known + scatters.sum(axis=0)) + (t**2 - z**2) * scatters.max(axis=0))
    net_of_shift = float(visible) - 2 * abs(ByHand.shift)
    seen = np.abs(net_of_shift + ByHand.combined * draw.standard_normal(100_000)) > half
    # The figure is rounded to 0.01 GU.
    assert float(np.mean(seen)) == pytest.approx(0.8, abs=0.015)


def test_the_budget_adds_up_by_hand(report: Page) -> None:
    start = next(k for k, r in enumerate(report.rows) if r and r[0] == "scatter in zone A2, bare")
    scatter, (display, bare, cured, *checks) = (
        report.rows[start : start + 4],
        report.rows[start + 4 : start + 10],
    )
    combined, random, line_bare, line_cured, shift, expanded = report.rows[start + 10 : start + 16]
    assert [r[0] for r in scatter] == [
        f"scatter in zone {zone}, {stage}" for zone in ("A2", "A1") for stage in ("bare", "cured")
    ]
    assert [[*r[1:3], r[6]] for r in scatter] == [["A", "normal", "2"]] * 4
    for row, value in (
        *((r, ByHand.scatter / 2) for r in scatter),
        (display, ByHand.display),
        (bare, ByHand.course_bare),
        (cured, ByHand.course_cured),
        (checks[0], ByHand.check),
        (checks[1], 2 * ByHand.check),
        (checks[2], ByHand.check),
    ):
        assert float(row[5]) == pytest.approx(value, rel=1e-3)
        assert float(row[3]) * float(row[4]) == pytest.approx(value, rel=1e-3)
    assert [r[0] for r in checks] == [f"reading of check {n}, piece T1" for n in (1, 2, 3)]
    assert float(combined[1]) == pytest.approx(ByHand.combined, rel=1e-3)
    assert float(combined[2]) == pytest.approx(ByHand.nu, rel=1e-2)
    factor = float(random[0].split("k = ")[1])
    assert factor == pytest.approx(ByHand.k, abs=1e-3)
    assert float(random[1]) == pytest.approx(factor * ByHand.combined, rel=1e-3)
    assert line_bare[:5] == [
        "steady drift of the meter, bare", "known, not corrected", "+0.1000", "−0.3529", "−0.03529",
    ]  # fmt: skip
    assert line_cured[4] == "0"
    assert float(shift[1].replace("−", "-")) == pytest.approx(ByHand.shift, rel=1e-3)
    assert float(expanded[1]) == pytest.approx(
        factor * ByHand.combined + abs(ByHand.shift), rel=1e-3
    )


def test_the_budget_names_the_lines_that_dominate_and_marks_them(report: Page) -> None:
    start = next(k for k, r in enumerate(report.rows) if r and r[0] == "scatter in zone A2, bare")
    lines = report.rows[start : start + 10]
    squares = {r[0]: float(r[5]) ** 2 for r in lines}
    whole, made, marked = sum(squares.values()), 0.0, set()
    for name, square in sorted(squares.items(), key=lambda item: -item[1]):
        if made >= 0.9 * whole:
            break
        made, marked = made + square, {*marked, name}
    assert {r[0] for r in lines if r[7].startswith("●")} == marked
    assert "% of the variance. Less of it helps most." in report.text
    assert "coatbench results small --check-budgets" in report.text


def test_the_answer_says_who_by_how_much_how_sure_and_what_could_have_been_seen(
    report: Page,
) -> None:
    assert "At cured: Brine Shield is better than the control." in report.text
    assert (
        "Brine Shield, cured: better than the control. Net change against the control +3.20 GU, "
        "95 % interval +2.82 to +3.58 GU. The smallest difference this run could have seen is "
        "0.62 GU. This is about the zones read: one stands for Brine Shield and one for the "
        "control."
    ) in report.text


def test_the_checks_stand_with_what_was_read_certified_and_allowed(report: Page) -> None:
    tiles = [r for r in report.rows if r[:1] == ["T1 (gloss tile)"] and len(r) == 10]
    # U: two equal readings leave the certificate 0.3/2 and the display 0.1/sqrt(12), times 1.96.
    expanded = f"{1.96 * math.hypot(0.15, 0.1 / math.sqrt(12)):.2f}"
    assert [r[1:9] for r in tiles] == [
        ["20°", "93.20 (2 ×)", "93.2 ± 0.3 GU", "0.00", expanded, "1.0 GU", "0.00 of 0.4",
         "● passed"],
        ["20°", "93.30 (2 ×)", "93.2 ± 0.3 GU", "+0.10", expanded, "1.0 GU", "0.00 of 0.4",
         "● passed"],
        ["20°", "93.30 (2 ×)", "93.2 ± 0.3 GU", "+0.10", expanded, "1.0 GU", "0.00 of 0.4",
         "● passed"],
    ]  # fmt: skip
    assert [r[2:] for r in report.rows if r[:2] == ["T1 (gloss tile)", "20°"] and len(r) == 9] == [
        ["93.2 ± 0.3 GU", "2", "Harbour Metrology", "–", "2026-01-31", "2030-01-31", "–"]
    ]


def test_every_reading_stands_with_all_its_tags(report: Page, yard: Yard) -> None:
    stored = yard.readings("role = 'run'")
    rows = [r for r in report.rows if len(r) == 13][1:]
    assert [int(r[0]) for r in rows] == [s["reading_id"] for s in stored]
    first = stored[0]
    assert rows[0] == [
        str(first["reading_id"]), "2026-05-04 08:00:07", "gloss20", "A1", "bare", "1",
        "80.1 GU at 20°", "yes", "80.1 (GU)", "shore, SH-0417", "bracketed",
        "check 1, passed 2026-05-04 08:00:04; closed by check 2, passed 2026-05-04 08:00:21",
        f"{first['connection_id']}:{first['raw_start']}–{first['raw_end']}",
    ]  # fmt: skip
