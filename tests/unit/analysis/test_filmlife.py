"""Wash life of films: a slide's ratio to itself when bare, less the control's, over the washes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.analysis.durability.criterion import criterion_words
from acquire.analysis.durability.ending import Verdict
from acquire.analysis.durability.washresult import WashResult, wash_result
from acquire.analysis.results import measure_results
from acquire.model import EndOfLife, Quantity
from acquire.report.washing.wearwords import gain_words
from tests.unit.analysis.bench import plan_of, quiet, samples_of
from tests.unit.wash_bench import COUNTS, HALF, STAGES, only, readings_of

BAND = "315-400"


def films(
    levels: Mapping[str, Sequence[float | None]], end: EndOfLife | None = HALF
) -> WashResult | None:
    """What slides with these percents say; the control's are named ``control``."""
    readings = readings_of(levels)
    plan, measure = plan_of(list(levels), STAGES, channels=(BAND,), higher_is_better=False,
                            replicates=5)  # fmt: skip
    measure = replace(measure, quantity=Quantity.TRANSMITTANCE, unit="percent", end_of_life=end)
    full = replace(plan, measures=(measure,), washes=tuple(COUNTS))
    brackets = [replace(quiet(s, 1000.0 * i), tile_u=0.0) for i, s in enumerate(STAGES)]
    samples = [
        replace(s, at_s=1000.0 * STAGES.index(s.stage) + s.at_s % 1000)
        for s in samples_of(readings, BAND)
    ]
    (result,) = measure_results(full, measure, samples, brackets, 0.0)
    return wash_result(full, measure, result)


# The lamp's band drifts by a factor that the control shows, too; the film lets 25 %, 35 %, 50 %
# and 80 % of its blank's light through.
CONTROL = [88.0, 88.0 * 1.01, 88.0 * 1.02, 88.0 * 1.01, 88.0]
WAX = [86.0, 86.0 * 1.01 * 0.25, 86.0 * 1.02 * 0.35, 86.0 * 1.01 * 0.50, 86.0 * 0.80]
SOONER = [*WAX[:3], 86.0 * 1.01 * 0.60, 86.0 * 0.80]


def test_what_is_kept_is_the_share_of_the_absorbance_and_the_control_cancels() -> None:
    found = films({"control": CONTROL, "wax": WAX})
    wax = only(found)
    shares = [k.share for _, k in wax.wear.kept]
    wanted = [math.log(t) / math.log(0.25) for t in (0.35, 0.50, 0.80)]
    assert shares == pytest.approx(wanted, rel=1e-9)
    assert found is not None
    assert wax.wear.gain.estimate == pytest.approx(-math.log(0.25))
    said = gain_words(found, wax.wear.gain.estimate or 0, wax.wear.gain.reach or 0)
    assert said.startswith("Before the first wash it let 25.0")
    assert said.endswith("% of its blank's light through.")


def test_a_life_ends_where_a_share_of_the_absorbance_is_lost() -> None:
    (zone,) = only(films({"control": CONTROL, "wax": SOONER})).zones
    assert zone.life is not None
    assert (zone.life.low, zone.life.high) == (5, 10)


def test_a_life_ends_above_a_level_of_the_blanks_light() -> None:
    end = EndOfLife(above=Decimal(60))
    (zone,) = only(films({"control": CONTROL, "wax": WAX}, end)).zones
    assert [x.verdict for x in zone.looks] == [Verdict.PASSED] * 3 + [Verdict.FAILED]
    assert zone.life is not None
    assert (zone.life.low, zone.life.high) == (10, 20)
    # By a straight line of logarithms between 50 % and 80 %.
    assert zone.crossing is not None
    part = math.log(0.6 / 0.5) / math.log(0.8 / 0.5)
    assert zone.crossing.count == pytest.approx(10 + 10 * part, rel=1e-6)
    assert criterion_words(end, "percent", is_film=True) == (
        "A film counts as gone on a slide when it lets above 60 % of the light through that its "
        "blank lets through, by the change since bare of the logarithm of what its slide lets "
        "through, less the change of the control."
    )


def test_a_slide_without_light_or_too_dim_when_bare_has_no_life_and_says_why() -> None:
    dark = [86.0, 0.0, 10.0, 20.0, 40.0]
    dim = [5.0, 2.0, 3.0, 4.0, 5.0]
    for levels in (dark, dim):
        (zone,) = only(films({"control": CONTROL, "wax": levels})).zones
        assert zone.life is None
        assert "no reading that counts, or too little light, at" in zone.lacking
