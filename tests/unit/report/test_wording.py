"""Moments, counts and lists as a reader meets them; the lines for a terminal."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.errors import NotFound
from acquire.report import summary_lines
from acquire.report.record.loading import load_trial
from acquire.report.sections.panel import panel_maps
from acquire.report.words.wording import (
    counted,
    listed,
    numbered,
    said_moment,
    span,
    tied,
)
from acquire.visible import shortened
from tests.unit.reported import full, plan_text, read_stage, small
from tests.yard import Yard

NOON_NS = 1_777_896_000_000_000_000
"""2026-05-04 12:00:00 UTC."""
HOUR_NS = 3600 * 1_000_000_000


def test_numbers_of_neighbours_are_joined() -> None:
    assert numbered([7, 3, 4, 5, 9, 10]) == "3–5, 7, 9, 10"
    assert numbered([1]) == "1"


def test_lists_end_in_and_and_long_ones_in_a_count() -> None:
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert listed(list("abcdefghij"), most=4) == "a, b, c and 7 more"


def test_counts_agree_with_their_nouns() -> None:
    assert [counted(n, "reading") for n in (0, 1, 2)] == ["no reading", "1 reading", "2 readings"]


def test_moments_are_said_without_asking_the_locale() -> None:
    assert said_moment(NOON_NS) == "4 May 2026, 12:00:00 UTC"
    assert span(NOON_NS, NOON_NS + 10**9) == "4 May 2026, 12:00 UTC"
    assert span(NOON_NS, NOON_NS + HOUR_NS) == "4 May 2026, 12:00 to 13:00 UTC"
    assert span(NOON_NS, NOON_NS + 24 * HOUR_NS) == "4 May 2026, 12:00 to 5 May 2026, 12:00 UTC"


def test_long_names_are_cut_by_the_columns_they_take() -> None:
    assert shortened("Slipway wax", 20) == "Slipway wax"
    assert shortened("Slipway wax", 7) == "Slipway…"
    assert shortened("船底塗料", 4) == "船底…"


def test_a_figure_stays_with_its_unit() -> None:
    assert tied("by 0.1 GU at 95 %, not GU alone") == "by 0.1\u00a0GU at 95\u00a0%, not GU alone"


def test_zones_are_set_by_letter_and_number_where_their_names_say_so(tmp_path: Path) -> None:
    names = {"none": "Untreated", "x": "Slipway wax"}

    def mapped(folder: str, zones: dict[str, str]) -> list[tuple[str, int, int]]:
        (tmp_path / folder).mkdir()
        yard = Yard(tmp_path / folder)
        yard.plug("shore")
        yard.check("shore")
        yard.begin("bare", text=plan_text(names, zones))
        record = load_trial(yard.bench.store, "gelcoat-1")
        yard.close()
        return [(c.zone, c.row, c.column) for c in panel_maps(record)[0].cells]

    assert mapped("grid", {"B2": "none", "A1": "x", "A2": "x"}) == [
        ("B2", 2, 2),
        ("A1", 1, 1),
        ("A2", 1, 2),
    ]
    assert mapped("named", {"bow": "none", "A1": "x"}) == [("bow", 0, 0), ("A1", 0, 0)]
    assert mapped("clash", {"A1": "none", "a1": "x"}) == [("A1", 0, 0), ("a1", 0, 0)]
    assert mapped("sparse", {"A1": "none", "H9": "x"}) == [("A1", 1, 1), ("H9", 2, 2)]


def test_the_lines_for_a_terminal_say_the_same_as_the_page(tmp_path: Path) -> None:
    yard = small(tmp_path)
    lines = summary_lines(yard.bench.store, "small")
    yard.close()
    assert lines == [
        "Two zones of gelcoat (trial small)",
        "",
        "Gloss at 20° (measure gloss20)",
        "  At cured: Brine Shield is better than the control.",
        "  ▲ Brine Shield, cured: better than the control. Net change against the control "
        "+3.20 GU, 95 % interval +2.83 to +3.57 GU. The smallest difference this run could have "
        "seen is 0.60 GU. This is about the zones read: one stands for Brine Shield and one for "
        "the control.",
        "  The intervals take the meter's scale to be straight from Z0 to T1: no check around "
        "these readings read a third piece, which near the level of the zones would tell how far "
        "it is bent. What the meter is off by beside that is in no interval; it counts in full in "
        "the mean of a zone, and in a change by a part of the change.",
        "",
        "12 of 12 planned readings count.",
        "All of them lie between two passed checks.",
        "Results describe the tested specimens under the tested conditions.",
    ]


def test_the_lines_say_what_is_left_out(tmp_path: Path) -> None:
    yard = full(tmp_path)
    lines = summary_lines(yard.bench.store, "gelcoat-1")
    yard.close()
    text = "\n".join(lines)
    assert (
        "10 suspect readings are left out of the results: the check after them found the meter "
        "outside its limit." in text
    )
    assert "1 reading of the zones was taken out by a person, with a reason (void)." in text
    assert "2 loose readings came around its runs and count for nothing." in text


def test_many_treatments_are_cut_in_the_terminal_and_counted(tmp_path: Path) -> None:
    names = {"none": "Untreated"} | {f"t{k}": f"Wax {k}" for k in range(14)}
    zones = {f"Z{k}": n for k, n in enumerate(names)}
    text = plan_text(names, zones, stages=("bare", "cured"), replicates=2)
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    for stage in ("bare", "cured"):
        read_stage(yard, stage, text, [("80.1", "80.2")] * len(zones))
    lines = summary_lines(yard.bench.store, "gelcoat-1")
    yard.close()
    assert "  … and 2 more treatments: see the report" in lines


def test_an_unknown_trial_is_answered_with_those_there_are(tmp_path: Path) -> None:
    yard = small(tmp_path)
    with pytest.raises(NotFound, match=r"there is no trial 'none'.*wanted small"):
        summary_lines(yard.bench.store, "none")
    yard.close()
