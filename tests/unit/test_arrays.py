"""Spectra and traces in the store: whole, compact, and with the target they belong to."""

from __future__ import annotations

import struct
from array import array
from decimal import Decimal

import pytest

from acquire.model import (
    EvenGrid,
    Fact,
    Instant,
    Quantity,
    Samples,
    Spectrum,
    SpectrumType,
)
from tests.yard import Yard


def samples(at: Instant, first: int, *counts: int, unit: str = "newton") -> Samples:
    return Samples(
        Quantity.FORCE, "", unit, Decimal("0.001"), Decimal(1000), first,
        array("i", counts).tobytes(), at, 10 * first, 10 * (first + len(counts)),
    )  # fmt: skip


def give(yard: Yard, *facts: Fact) -> None:
    yard.take_in("shore", *facts)


def blocks(yard: Yard) -> list[tuple[int, int, list[int]]]:
    codes = {1: "b", 2: "h", 4: "i"}
    return [
        (row["trace_id"], row["first"], list(array(codes[row["width"]], row["counts"])))
        for row in yard.writer.query("SELECT * FROM trace_block ORDER BY id")
    ]


def test_stretches_that_follow_one_another_are_one_trace(yard: Yard) -> None:
    at = yard.clock.now()
    give(yard, samples(at, 0, 1, 2), samples(at, 2, 3))
    give(yard, samples(at, 3, 4))
    assert blocks(yard) == [(1, 0, [1, 2]), (1, 2, [3]), (1, 3, [4])]
    (trace,) = yard.writer.query("SELECT * FROM trace")
    assert (trace["unit"], trace["step"], trace["rate_hz"]) == ("newton", "0.001", "1000")


def test_a_missing_sample_or_another_unit_begins_a_trace_of_its_own(yard: Yard) -> None:
    at = yard.clock.now()
    give(yard, samples(at, 0, 1), samples(at, 2, 2), samples(at, 3, 3, unit="gram_force"))
    assert [trace for trace, _, _ in blocks(yard)] == [1, 2, 3]


@pytest.mark.parametrize(
    ("counts", "width"),
    [
        ((127, -128), 1), ((128,), 2), ((-129,), 2), ((32767, -32768), 2), ((32768,), 4),
        ((2**31 - 1, -(2**31)), 4),
    ],
)  # fmt: skip
def test_counts_take_the_fewest_bytes_that_hold_them_all(
    yard: Yard, counts: tuple[int, ...], width: int
) -> None:
    give(yard, samples(yard.clock.now(), 0, *counts))
    assert yard.writer.query("SELECT width FROM trace_block")[0]["width"] == width
    assert blocks(yard) == [(1, 0, list(counts))]


def test_samples_of_a_run_bear_the_target_that_is_next_and_count_for_nothing(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    give(yard, samples(yard.clock.now(), 0, 1))
    (block,) = yard.writer.query("SELECT * FROM trace_block")
    assert (block["run_id"], block["zone"], block["stage"], block["replicate"]) == (
        1, "A1", "bare", 1,
    )  # fmt: skip
    assert yard.readings("role = 'run'") == []


@pytest.mark.parametrize("grid", [EvenGrid(300.0, 5.0), (300.0, 305.0, 312.5)])
def test_a_spectrum_is_kept_as_it_was_sent(yard: Yard, grid: EvenGrid | tuple[float, ...]) -> None:
    numbers = struct.pack("<3f", 12.5, float("nan"), 90.25)
    give(
        yard,
        Spectrum(
            Quantity.TRANSMITTANCE, "percent", numbers, SpectrumType.BINARY32, grid,
            yard.clock.now(), b"x" * 12, 0, 12, 7,
        ),
    )  # fmt: skip
    (row,) = yard.writer.query("SELECT * FROM spectrum")
    assert (row["numbers"], row["type"], row["press"]) == (numbers, "binary32", 7)
    if isinstance(grid, EvenGrid):
        assert (row["start_nm"], row["step_nm"], row["grid_nm"]) == (300.0, 5.0, None)
    else:
        assert (row["start_nm"], row["step_nm"]) == (None, None)
        assert struct.unpack("<3d", row["grid_nm"]) == grid
