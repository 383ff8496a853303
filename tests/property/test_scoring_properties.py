"""What must hold for points whatever the readings and the scorecard are."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.analysis.scoring.scored import TrialScore, as_text
from acquire.model.scorecard import Base
from tests.unit.analysis.bench import Readings, has_nan
from tests.unit.score_bench import change, product, scored

ZONES = ("control", "wax", "seal1", "seal2")
PLACES = tuple((zone, stage) for stage in ("bare", "applied") for zone in ZONES)
DRAWS = 200
shown = st.integers(0, 1200).map(lambda v: v / 10)
tables = st.fixed_dictionaries({p: st.lists(shown, min_size=2, max_size=4) for p in PLACES})
ragged = st.fixed_dictionaries({p: st.lists(shown, max_size=3) for p in PLACES})
bases = st.sampled_from(list(Base))
few = settings(max_examples=6, deadline=None, derandomize=True)


def totals(found: TrialScore) -> dict[str, tuple[float | None, float | None, float | None]]:
    return {p.treatment: (p.total, p.low, p.high) for p in found.products}


def close(one: TrialScore, other: TrialScore, factor: float = 1.0) -> None:
    first, second = totals(one), totals(other)
    assert first.keys() == second.keys()
    for treatment, figures in first.items():
        for a, b in zip(figures, second[treatment], strict=True):
            assert (a is None) == (b is None)
            if a is not None and b is not None:
                assert factor * a == pytest.approx(b, rel=1e-6, abs=1e-6)


@given(readings=ragged, base=bases, is_bound=st.booleans())
@few
def test_no_readings_make_a_figure_that_is_none(
    readings: Readings, base: Base, *, is_bound: bool
) -> None:
    found = scored(
        readings,
        change(base=base, shown=is_bound, floor="0" if is_bound else None),
        draws=DRAWS,
        resolution=0.1,
    )
    assert not has_nan(found)
    assert "NaN" not in as_text(found)
    for p in found.products:
        assert (
            (p.total is None) == bool(p.missing) == any(i.why and i.points is None for i in p.items)
        )


@given(readings=tables, shift=st.integers(-50, 50), base=bases)
@few
def test_a_level_that_all_readings_share_changes_no_points(
    readings: Readings, shift: int, base: Base
) -> None:
    moved = {place: [v + shift for v in values] for place, values in readings.items()}
    item = change(base=base)
    close(
        scored(readings, item, draws=DRAWS, resolution=0.1),
        scored(moved, item, draws=DRAWS, resolution=0.1),
    )


@given(readings=tables)
@few
def test_the_order_of_items_and_products_changes_no_total(readings: Readings) -> None:
    items = (change("a", "2"), change("b", "1", base=Base.BARE), change("c", "3", floor="0"))
    readings = {place: readings[place] for place in PLACES}
    # The stages keep their order, for the first of them is the bare one.
    turned = sorted(PLACES, key=lambda p: (p[1] != "bare", -ZONES.index(p[0])))
    ordered = {place: readings[place] for place in turned}
    first = scored(readings, *items, draws=DRAWS)
    close(first, scored(readings, *reversed(items), draws=DRAWS))
    again = scored(ordered, *items, draws=DRAWS)
    close(first, again)


@given(readings=tables, factor=st.integers(2, 9))
@few
def test_points_of_another_size_make_totals_of_that_size(readings: Readings, factor: int) -> None:
    one = scored(readings, change("a", "2", floor="-3", ceiling="7"), draws=DRAWS)
    many = scored(
        readings,
        change("a", str(2 * factor), floor=str(-3 * factor), ceiling=str(7 * factor)),
        draws=DRAWS,
    )
    close(one, many, factor)
    close(one, scored(readings, change("a", "2", floor="-3", ceiling="7", weight=str(factor)),
                      draws=DRAWS), factor)  # fmt: skip


@given(readings=tables, bounds=st.tuples(*[st.integers(-20, 20)] * 4).filter(lambda b: b[0] < b[1]))
@few
def test_a_higher_floor_or_ceiling_never_lowers_points(
    readings: Readings, bounds: tuple[int, int, int, int]
) -> None:
    floor, ceiling, more, _ = bounds
    lower = scored(readings, change(floor=str(floor), ceiling=str(ceiling)), draws=DRAWS)
    raised = scored(
        readings,
        change(floor=str(floor + abs(more)), ceiling=str(ceiling + abs(more) + 1)),
        draws=DRAWS,
    )
    for p in lower.products:
        if p.total is None:
            continue
        other = product(raised, p.treatment)
        assert other.total is not None
        assert p.low is not None
        assert other.low is not None
        assert other.total >= p.total
        assert other.low >= p.low - 1e-9
        assert Decimal(floor) <= Decimal(repr(p.total)) <= Decimal(ceiling)
        assert floor <= p.low <= (p.high or 0.0) <= ceiling
