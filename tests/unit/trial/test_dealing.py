"""How products come onto zones: fair, and the same again from the same seed."""

from __future__ import annotations

import hashlib
import itertools
from collections import Counter
from dataclasses import replace

import pytest
from scipy.stats import chi2

from acquire.model import Design
from acquire.settings import config_dir, load_plan
from acquire.trial.chance import Chance
from acquire.trial.dealing import (
    Blocks,
    Grid,
    Place,
    blocks_of,
    dealt,
    design_for,
    row_letters,
    zone_name,
)
from acquire.trial.redrawn import is_as_drawn

FOUR = ("none", "gull", "tern", "wader")
ONE = ("",)


def is_even(counts: Counter[object], cells: int) -> bool:
    """Whether counts could come of equal chances: chi-square at one in a thousand."""
    expected = counts.total() / cells
    squares = sum((counts[c] - expected) ** 2 for c in counts) + (cells - len(counts)) * expected**2
    return bool(squares / expected < chi2.ppf(0.999, cells - 1))


def test_the_first_number_is_that_of_the_rule_as_it_is_written() -> None:
    digest = hashlib.sha256(b"coatbench draw 1/7/random/0").digest()
    assert Chance(7, "random").below(1000) == int.from_bytes(digest[:8], "big") % 1000


def test_a_layout_is_the_same_for_ever() -> None:
    zones = dealt(FOUR, "none", Grid(ONE, 2, 2), Design.RANDOM, 1)
    assert [z.treatment for z in zones] == ["tern", "wader", "gull", "none"]
    with pytest.raises(ValueError, match="1 to 2"):
        Chance(1, "x").below(0)


def test_numbers_and_orders_are_as_likely_as_each_other() -> None:
    chance = Chance(2026, "test")
    assert is_even(Counter(chance.below(7) for _ in range(3500)), 7)
    orders = Counter(tuple(Chance(k, "test").shuffled("abc")) for k in range(1200))
    assert is_even(orders, 6)


def test_every_treatment_is_as_likely_in_every_place_of_every_design() -> None:
    for design, grid in (
        (Design.RANDOM, Grid(ONE, 2, 2)),
        (Design.COMPLETE_BLOCKS, Grid(ONE, 2, 4)),
        (Design.LATIN_SQUARE, Grid(ONE, 4, 4)),
    ):
        found: Counter[object] = Counter()
        for seed in range(400):
            zones = dealt(FOUR, "none", grid, design, seed)
            found.update([zones[1].treatment])
        assert is_even(found, 4), design


def test_three_treatments_reach_all_twelve_squares_alike() -> None:
    squares = Counter(
        tuple(z.treatment for z in dealt("abc", "a", Grid(ONE, 3, 3), Design.LATIN_SQUARE, seed))
        for seed in range(1200)
    )
    assert len(squares) == 12
    assert is_even(squares, 12)


def test_a_square_has_every_treatment_once_in_each_row_and_column() -> None:
    zones = dealt(FOUR, "none", Grid(("P1", "P2"), 4, 4), Design.LATIN_SQUARE, 3)
    for panel, line in itertools.product(("P1", "P2"), range(1, 5)):
        here = [z for z in zones if z.panel == panel]
        assert {z.treatment for z in here if z.row == line} == set(FOUR)
        assert {z.treatment for z in here if z.column == line} == set(FOUR)
    # Each panel has a square of its own.
    first, second = ([z.treatment for z in zones if z.panel == p] for p in ("P1", "P2"))
    assert first != second


def test_a_block_has_every_treatment_equally_often() -> None:
    for grid in (Grid(ONE, 3, 4), Grid(ONE, 4, 2), Grid(("P1", "P2"), 2, 2), Grid(ONE, 2, 8)):
        zones = dealt(FOUR, "none", grid, Design.COMPLETE_BLOCKS, 5)
        for block in {z.block for z in zones}:
            counts = Counter(z.treatment for z in zones if z.block == block)
            assert set(counts) == set(FOUR)
            assert len(set(counts.values())) == 1


def test_the_design_is_the_one_that_holds_most_against_the_place() -> None:
    assert design_for(Grid(ONE, 4, 4), 4) is Design.LATIN_SQUARE
    assert design_for(Grid(ONE, 3, 4), 4) is Design.COMPLETE_BLOCKS
    assert blocks_of(Grid(ONE, 3, 4), 4) == Blocks(True, 1, 3)
    assert blocks_of(Grid(ONE, 4, 2), 4) == Blocks(True, 2, 2)
    # Columns of four where rows have three.
    assert blocks_of(Grid(ONE, 4, 3), 4) == Blocks(False, 1, 3)
    # Two rows together, and panels where nothing smaller does.
    assert blocks_of(Grid(ONE, 4, 3), 6) == Blocks(True, 2, 2)
    assert blocks_of(Grid(("a", "b", "c"), 2, 3), 6) == Blocks(True, 2, 3)
    # One block alone is none.
    assert design_for(Grid(ONE, 2, 3), 6) is Design.RANDOM
    assert design_for(Grid(ONE, 3, 3), 4) is Design.RANDOM


def test_what_is_over_goes_to_the_control_first() -> None:
    zones = dealt(FOUR, "none", Grid(ONE, 3, 3), Design.RANDOM, 9)
    counts = Counter(z.treatment for z in zones)
    assert counts == {"none": 3, "gull": 2, "tern": 2, "wader": 2}


def test_what_does_not_fit_is_refused() -> None:
    with pytest.raises(ValueError, match="3 zones for 4"):
        dealt(FOUR, "none", Grid(ONE, 1, 3), Design.RANDOM, 1)
    with pytest.raises(ValueError, match="Latin"):
        dealt(FOUR, "none", Grid(ONE, 4, 3), Design.LATIN_SQUARE, 1)
    with pytest.raises(ValueError, match="blocks"):
        dealt(FOUR, "none", Grid(ONE, 3, 3), Design.COMPLETE_BLOCKS, 1)


def test_zones_are_named_by_row_and_column_and_by_panel_where_there_are_several() -> None:
    assert zone_name(Place("", 1, 1)) == "A1"
    assert zone_name(Place("P2", 2, 12)) == "P2-B12"
    assert [row_letters(r) for r in (26, 27, 52, 53)] == ["Z", "AA", "AZ", "BA"]


def test_a_plan_tells_whether_its_zones_are_those_of_its_draw() -> None:
    plan = load_plan(config_dir() / "boatyard" / "trial.toml")
    assert is_as_drawn(plan) is True
    a, b, *rest = plan.zones
    swapped = replace(a, treatment=b.treatment), replace(b, treatment=a.treatment), *rest
    assert is_as_drawn(replace(plan, zones=swapped)) is False
    assert is_as_drawn(replace(plan, layout=None)) is None
    unplaced = replace(a, row=None, column=None), b, *rest
    assert is_as_drawn(replace(plan, zones=unplaced)) is None
