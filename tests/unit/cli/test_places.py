"""The lists of places and of readings: tables on a terminal, whole lines through a pipe."""

from __future__ import annotations

from datetime import UTC

import pytest
from rich.cells import cell_len

from acquire.cli.listing import listed
from acquire.cli.places import place_rows, readings_rows
from acquire.store import StoreReader
from tests.yard import Yard


@pytest.fixture
def yard(yard: Yard) -> Yard:
    yard.check("shore")
    yard.begin()
    return yard


def fill(yard: Yard, *values: str) -> None:
    for value in values:
        yard.clock.advance(1)
        yard.press("shore", value)


def listed_readings(yard: Yard, **options: object) -> list[tuple[str, ...]]:
    with StoreReader(yard.bench.store) as store:
        return readings_rows(store, UTC, **options)  # type: ignore[arg-type]


def test_a_place_is_told_with_its_state_and_the_numbers_that_void_takes(yard: Yard) -> None:
    fill(yard, "80.1")
    yard.act(yard.acts.runs.skip)
    reply = yard.act(lambda _: yard.acts.runs.targets(None, None, None))
    assert place_rows(reply) == [
        ("zone", "replicate", "treatment", "state", "readings"),
        ("A1", "1", "untreated", "filled", "5: 80.1 GU at 20°"),
        ("A2", "1", "Brine Shield", "skipped", ""),
        ("A1", "2", "untreated", "next", ""),
        ("A2", "2", "Brine Shield", "open", ""),
    ]


def test_readings_are_told_by_number_with_what_became_of_them(yard: Yard) -> None:
    fill(yard, "80.1", "80.2")
    yard.act(lambda at: yard.acts.readings.void(6, "dust", at))
    yard.plug("deck")
    yard.press("deck", "12.0")
    rows = listed_readings(yard)
    assert rows[0] == ("number", "at", "meter", "value", "place", "state", "why")
    assert [row[0] for row in rows[1:]] == ["1", "2", "3", "4", "5", "6", "7"]
    assert rows[1][2:] == ("shore", "93.2 GU at 20°", "piece T1, check 1", "check", "")
    assert rows[5][2:] == ("shore", "80.1 GU at 20°", "gelcoat bare A1 1", "counts", "")
    assert rows[6][2:] == ("shore", "80.2 GU at 20°", "gelcoat bare A2 1", "void", "dust")
    assert rows[7][2:] == (
        "deck", "12.0 GU at 20°", "", "loose", "no run is open for this instrument",
    )  # fmt: skip
    assert rows[5][1] == "05-04 08:00:06"


def test_loose_readings_and_those_of_a_trial_are_told_alone_and_the_latest_where_there_are_many(
    yard: Yard,
) -> None:
    fill(yard, "80.1", "80.2")
    yard.plug("deck")
    yard.press("deck", "12.0")
    assert [row[0] for row in listed_readings(yard, loose=True)[1:]] == ["7"]
    assert [row[0] for row in listed_readings(yard, trial="gelcoat")[1:]] == ["5", "6"]
    assert [row[0] for row in listed_readings(yard, trial="gelcoat", stage="cured")[1:]] == []
    assert [row[0] for row in listed_readings(yard, latest=2)[1:]] == ["6", "7"]


def test_an_assigned_reading_counts_and_a_suspect_one_does_not(yard: Yard) -> None:
    fill(yard, "80.1")
    yard.act(lambda at: yard.acts.runs.finish("", at))
    fill(yard, "80.2")
    yard.act(
        lambda at: yard.acts.readings.assign(
            6, "gelcoat", None, "A2", "bare", 1, "pressed late", at
        )
    )
    states = [row[4:] for row in listed_readings(yard, trial="gelcoat")[1:]]
    assert states == [
        ("gelcoat bare A1 1", "counts", ""),
        ("gelcoat bare A2 1", "counts", "assigned: pressed late"),
    ]
    yard.check("shore", tile="95.6")
    states = [row[5:] for row in listed_readings(yard, trial="gelcoat")[1:]]
    assert states[0] == ("suspect", "check 2 after it found the meter outside its limit")


ROWS = [("zone", "state", "why"), ("A1", "open", ""), ("A22", "void", "a hair under the meter")]


def test_a_table_fits_its_terminal_and_cuts_nothing() -> None:
    assert listed(ROWS, 80) == [
        "zone  state  why",
        "A1    open",
        "A22   void   a hair under the meter",
    ]
    assert listed(ROWS, 30) == [
        "zone  state  why",
        "A1    open",
        "A22   void   a hair under the",
        "             meter",
    ]
    assert listed(ROWS, 24) == [
        "zone  state  why",
        "A1    open",
        "A22   void",
        "      a hair under the",
        "      meter",
    ]
    assert listed(ROWS, 10) == [
        "zone",
        "  state",
        "  why",
        "A1  open",
        "A22  void",
        "  a hair",
        "  under",
        "  the",
        "  meter",
    ]


def test_through_a_pipe_each_row_is_a_line_of_cells_with_tabs_between() -> None:
    assert listed(ROWS, None) == [
        "zone\tstate\twhy",
        "A1\topen\t",
        "A22\tvoid\ta hair under the meter",
    ]


def test_columns_stand_below_each_other_whatever_signs_are_in_them() -> None:
    # Two columns for an emoji or an ideograph: Unicode Standard Annex 11, East Asian Width.
    rows = [("code", "product", "zones"), ("12", "Seal \N{SEAL}", "A1"), ("7", "\u8239 wax", "A2")]
    assert [cell_len(line[: line.index(word)]) for line, word in zip(
        listed(rows, 80), ("zones", "A1", "A2"), strict=True
    )] == [15, 15, 15]  # fmt: skip
