"""The places of imported figures: by the figures alone, and never behind what may still be less."""

from __future__ import annotations

import base64
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from acquire.report.points.alltime import PastEntry, PastGroup, past_groups
from acquire.report.points.alltimelines import past_lines, past_tables
from acquire.store.work_rows import PastResultRow
from acquire.trial.past import MOST_RESULTS
from tests.unit.test_past import LIVES
from tests.unit.test_score_acts import ask
from tests.yard import Yard


def _rows(folder: Path, csv: str, mapping: str = LIVES) -> list[tuple[str, str, str]]:
    yard = Yard(folder)
    content = base64.b64encode(csv.encode()).decode()
    ask(yard, "import_past", file="past.csv", content=content, mapping=mapping)
    yard.close()
    groups = past_groups(yard.bench.store)
    (table,) = past_tables(groups)
    assert "“=” is a shared one: no difference is tested" in past_lines(groups)[0]
    return [(row[0], row[1], row[2]) for row in table.rows[1:]]


def test_equal_figures_share_a_place(tmp_path: Path) -> None:
    assert _rows(tmp_path, "P,Washes\nTern,20\nGrebe,12\nGull,20\n") == [
        ("1=", "Tern", "20"),
        ("1=", "Gull", "20"),
        ("3", "Grebe", "12"),
    ]


def test_nothing_is_ahead_of_a_life_that_had_not_ended(tmp_path: Path) -> None:
    assert _rows(tmp_path, "P,Washes\nTern,30\nGrebe,>20\nGull,25\nKnot,20\n") == [
        ("1=", "Tern", "30"),
        ("2", "Gull", "25"),
        ("1=", "Grebe", "at least 20"),
        ("3", "Knot", "20"),
    ]


def test_where_less_is_better_the_least_is_first(tmp_path: Path) -> None:
    mapping = LIVES.replace("washes", "points") + "higher_is_better = false\n"
    assert _rows(tmp_path, "P,Washes\nTern,3\nGrebe,1.5\n", mapping) == [
        ("1", "Grebe", "1.5"),
        ("2", "Tern", "3"),
    ]


def _group(values: list[tuple[int, bool]]) -> PastGroup:
    entries = tuple(
        PastEntry("f", PastResultRow(k, 1, k, "t", "p", "f", "washes", "", "", str(v), "one", None,
                                     "{}"), float(v), None, least)
        for k, (v, least) in enumerate(values, 1)
    )  # fmt: skip
    return PastGroup("f", "washes", "", "", "one", True, (), entries)


@given(st.lists(st.tuples(st.integers(0, 9), st.booleans()), min_size=1, max_size=12))
def test_a_place_counts_those_that_are_surely_ahead(values: list[tuple[int, bool]]) -> None:
    ahead = [1 if least else 1 + sum(o > v for o, _ in values) for v, least in values]
    told = [f"{place}=" if ahead.count(place) > 1 else str(place) for place in ahead]
    assert _group(values).places() == told


def test_the_largest_file_has_its_places_at_once() -> None:
    """Every pair held against each other would be more than a thousand million."""
    found = _group([(k // 2, False) for k in range(MOST_RESULTS)]).places()
    assert (found[0], found[-1]) == (f"{MOST_RESULTS - 1}=", "1=")
