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
    """The uncertainty of a net change, from the readings and the times of the yard's clock.

    `net` is the change: 3.2 GU as it was read, or what it would be if A2 had read otherwise cured.
    """

    scatter = 0.1 * math.sqrt(4 / 3)
    """Four means of three readings."""
    display = 0.05 / math.sqrt(3) * math.sqrt(4)
    """Half a step of 0.1, once for each of four means."""

    def __init__(self, net: float = 3.2) -> None:
        # Bare: check 1 reads the tile at 1 and 2 s, zone A1 is read at 7, 9, 11 s, A2 at 13, 15,
        # 17 s, check 2 reads the tile at 18 and 19 s. Cured: 17 s later, the zones as before.
        p = np.array([5.5, 7.5, 9.5, 11.5, 13.5, 15.5]) / 17
        w = np.array([-1, -1, -1, 1, 1, 1]) / 3
        bare = np.array([80.1, 80.2, 80.3, 81.0, 81.1, 81.2])
        cured = np.array([79.9, 80.0, 80.1, 84.0, 84.1, 84.2])
        cured[3:] += net - 3.2
        # The error runs from the trap (0 GU) to the tile (93.2 GU): so much less of what it is
        # there at each reading below.
        h_bare, h_cured = (bare - 93.2) / 93.2, (cured - 93.2) / 93.2
        g_bare, g_cured = -w @ h_bare, w @ h_cured
        gl_bare, gl_cured = -(w * p) @ h_bare, (w * p) @ h_cured
        self.lever = 6 / 17
        """The zones lie 6 s of 17 s apart."""
        # Tile: 93.2 as certified, then 93.3 twice; trap: 0.0. So a drift of 0.1 in the bare stage,
        # which lifts the bare reading of A2, and a gain of 0.1 in 93.2 in the cured one.
        self.of_drift = -0.1 * self.lever
        self.of_gains = 0.1 * gl_bare, 0.1 * g_cured
        self.shift = self.of_drift + sum(self.of_gains)
        # A step of the drift between any two readings, held against the straight line; between the
        # zones it would count most, in full but for the line.
        effects = -w * (1 + h_bare)
        line = effects @ p
        self.course_bare = 0.1 * max(abs(effects[k:].sum() - line) for k in range(7)) / math.sqrt(3)
        self.course_cured = 0.0
        # Equal readings at each check leave half a step of the display for it. Check 2 closes the
        # bare stage and opens the cured one, and the zones were read in the same order: it counts
        # twice.
        half = 0.05 / math.sqrt(3)
        self.tile = half * np.abs([
            self.lever + g_bare - gl_bare,
            -2 * self.lever + gl_bare + g_cured - gl_cured,
            self.lever + gl_cured,
        ])  # fmt: skip
        self.trap = half * np.abs([g_bare - gl_bare, gl_bare + g_cured - gl_cured, gl_cured])
        self.certificates = net / 93.2 * 0.15, net / 93.2 * 0.025
        """U of 0.3 and 0.05 GU with k = 2, by the part that the change is of the tile."""
        lines = [self.course_bare, *self.tile, *self.trap, *self.certificates]
        known = math.fsum(u**2 for u in lines)
        self.combined = math.sqrt(self.scatter**2 + self.display**2 + known)
        self.nu = self.combined**4 / (self.scatter**4 / 8)
        self.k = math.sqrt(Z**2 + (T2**2 - Z**2) * (self.scatter**2 / 4) / self.combined**2)
        """One of the four means counts with its own two degrees of freedom."""
        self.expanded = self.k * self.combined + abs(self.shift)


BY_HAND = ByHand()


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
    expanded = BY_HAND.expanded
    assert u == f"{expanded:.2f}" == "0.37"
    assert interval == f"+{3.2 - expanded:.2f} to +{3.2 + expanded:.2f}"
    # Two-sided p of Student's t at 2 degrees of freedom is about 1/t^2 far out.
    size = (3.2 - abs(BY_HAND.shift)) / BY_HAND.combined
    by_hand = (ByHand.scatter**2 / 4 / BY_HAND.combined**2) / (size**2 - 13)
    assert p == f"{by_hand:.4f}" == "0.0003"
    # Drawn at random: four scatters of 2 degrees of freedom each, the largest with its t. What the
    # meter's gain does is that of a change of just this size.
    draw = np.random.default_rng(5)
    so_small = ByHand(float(visible))
    known = so_small.combined**2 - so_small.scatter**2
    scatters = (ByHand.scatter / 2) ** 2 * draw.chisquare(2, (4, 100_000)) / 2
    z, t = 1.960, 4.303
    half = np.sqrt(z**2 * (known + scatters.sum(axis=0)) + (t**2 - z**2) * scatters.max(axis=0))
    net_of_shift = float(visible) - 2 * abs(so_small.shift)
    seen = np.abs(net_of_shift + so_small.combined * draw.standard_normal(100_000)) > half
    # The figure is rounded to 0.01 GU.
    assert float(np.mean(seen)) == pytest.approx(0.8, abs=0.015)


def test_the_budget_adds_up_by_hand(report: Page) -> None:
    start = next(k for k, r in enumerate(report.rows) if r and r[0] == "scatter in zone A2, bare")
    scatter, (display, bare, cured), tile, trap, certificates = (
        report.rows[start + first : start + last]
        for first, last in ((0, 4), (4, 7), (7, 10), (10, 13), (13, 15))
    )
    combined, random, line_bare, line_cured, *gains, shift, expanded = (
        report.rows[start + 15 : start + 23]
    )  # fmt: skip
    assert [r[0] for r in scatter] == [
        f"scatter in zone {zone}, {stage}" for zone in ("A2", "A1") for stage in ("bare", "cured")
    ]
    assert [[*r[1:3], r[6]] for r in scatter] == [["A", "normal", "2"]] * 4
    for row, value in (
        *((r, ByHand.scatter / 2) for r in scatter),
        (display, ByHand.display),
        (bare, BY_HAND.course_bare),
        (cured, BY_HAND.course_cured),
        *zip(tile, BY_HAND.tile, strict=True),
        *zip(trap, BY_HAND.trap, strict=True),
        *zip(certificates, BY_HAND.certificates, strict=True),
    ):
        assert float(row[5]) == pytest.approx(value, rel=1e-3)
        assert float(row[3]) * float(row[4]) == pytest.approx(value, rel=1e-3)
    for rows, piece in ((tile, "T1"), (trap, "Z0")):
        assert [r[0] for r in rows] == [f"reading of check {n}, piece {piece}" for n in (1, 2, 3)]
    assert [r[0] for r in certificates] == [
        "certificate of the reference piece T1", "certificate of Z0",
    ]  # fmt: skip
    assert float(combined[1]) == pytest.approx(BY_HAND.combined, rel=1e-3)
    assert float(combined[2]) == pytest.approx(BY_HAND.nu, rel=1e-2)
    factor = float(random[0].split("k = ")[1])
    assert factor == pytest.approx(BY_HAND.k, abs=1e-3)
    assert float(random[1]) == pytest.approx(factor * BY_HAND.combined, rel=1e-3)
    assert line_bare[:5] == [
        "steady drift of the meter, bare", "known, not corrected", "+0.1000", "−0.3529", "−0.03529",
    ]  # fmt: skip
    assert line_cured[4] == "0"
    assert [r[0] for r in gains] == ["steady drift of the gain, bare", "gain of the meter, cured"]
    for row, value in zip(gains, BY_HAND.of_gains, strict=True):
        assert float(row[4].replace("−", "-")) == pytest.approx(value, rel=1e-3)
    assert float(shift[1].replace("−", "-")) == pytest.approx(BY_HAND.shift, rel=1e-3)
    assert float(expanded[1]) == pytest.approx(
        factor * BY_HAND.combined + abs(BY_HAND.shift), rel=1e-3
    )


def test_the_budget_names_the_lines_that_dominate_and_marks_them(report: Page) -> None:
    start = next(k for k, r in enumerate(report.rows) if r and r[0] == "scatter in zone A2, bare")
    lines = report.rows[start : start + 15]
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
        "95 % interval +2.83 to +3.57 GU. The smallest difference this run could have seen is "
        "0.60 GU. This is about the zones read: one stands for Brine Shield and one for the "
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
