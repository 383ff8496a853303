"""Shares kept where zones were not read at a count: told or refused in words. Invented data."""

from __future__ import annotations

import numpy as np
import pytest

from acquire.analysis.durability.washresult import WashResult
from tests.unit.wash_bench import STAGES, only, washed

_GAIN = 1.1
_LAST = STAGES.index("wash-20")


def _hardly_shown(seed: int, unread: tuple[str, ...]) -> WashResult | None:
    """Three zones each, read once to 0.1; gains of 1.1 that wear off, beside zones 0.2 apart."""
    draw = np.random.default_rng(seed)
    readings = {}
    for name, half_life in (("control", None), ("wax", 6.0), ("seal", 9.0)):
        for k in (1, 2, 3):
            gains = [0.0 if half_life is None else _GAIN * 0.5 ** (n / half_life)
                     for n in (0, 5, 10, 20)]  # fmt: skip
            row = [round(80 + g + float(draw.normal(0, 0.2)), 1) for g in (0.0, *gains)]
            if f"{name}{k}" in unread:
                row = row[:_LAST]
            readings |= {(f"{name}{k}", s): [level] for s, level in zip(STAGES, row, strict=False)}
    return washed(readings, resolution=0.1)


@pytest.mark.parametrize(
    ("seed", "unread"), [(9, ("wax3",)), (26, ("wax3", "control3")), (24, ("seal3", "control3"))]
)
def test_a_share_that_no_bound_is_found_for_is_told_in_words(
    seed: int, unread: tuple[str, ...]
) -> None:
    """The fewer zones of a later count leave the first gain in doubt that all of them show."""
    found = _hardly_shown(seed, unread)
    whole = [kept for name in ("wax", "seal") for _, kept in only(found, name).wear.kept]
    assert len(whole) == 2 * 3
    open_ = [kept for kept in whole if kept.low is None or kept.high is None]
    assert any("known too badly to bound its share" in kept.lacking for kept in open_)
    assert all(kept.lacking for kept in open_)
    assert all(-100 < kept.low < kept.high < 100 for kept in whole if kept.low and kept.high)
