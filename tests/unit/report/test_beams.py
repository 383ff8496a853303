"""Spectra in counts: what the checks before and after make of them, and what is said of it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import cast

import numpy as np
import pytest

from acquire.analysis.transmission.definition import Vector
from acquire.analysis.transmission.spectrum import Scan, transmittance_spectrum
from acquire.model.plan import StrayLight
from acquire.report.evidence.beamwords import reduced_words
from acquire.report.record.beamrecord import BeamRecord
from acquire.report.record.beams import Reduction
from acquire.report.record.record import ReadingRecord
from acquire.report.record.spectra import SpectrumRecord

X = 300.0 + 10.0 * np.arange(12)
LIGHT = np.linspace(4000, 30_000, 12)
TRUE = np.linspace(0.01, 0.9, 12)
HOUR_NS = 3_600_000_000_000


class _Reading:
    """What a reduction asks of a reading."""

    check_id: int | None = 1
    closing_check_id: int | None = 2
    adjusted_id: int | None = None

    def __init__(self, **other: int | None) -> None:
        for name, value in other.items():
            setattr(self, name, value)


def reading(**other: int | None) -> ReadingRecord:
    return cast(ReadingRecord, _Reading(**other))


def counts(number: int, values: Vector, at_ns: int) -> SpectrumRecord:
    numbers = np.asarray(values, "<f8").tobytes()
    return SpectrumRecord(number, at_ns, "count", "binary64", 300.0, 10.0, None, numbers)


def beam(check: int, at_ns: int, dark: float, lamp: float, stray: float = 0.0) -> BeamRecord:
    """Three presses of each; their scatter cancels in the mean."""
    rows = []
    for place, level in enumerate((np.full(12, dark), dark + LIGHT * lamp * (1 + stray))):
        several = (
            counts(100 * check + 10 * place + i, level + off, at_ns)
            for i, off in enumerate((-2, 0, 2))
        )
        rows.append(tuple(several))
    return BeamRecord(check, *rows)


BEAMS = {1: beam(1, 0, 300, 1.0), 2: beam(2, 4 * HOUR_NS, 340, 0.9)}
# A quarter of the way: lamp 0.975 and dark 310.
SLIDE = counts(7, 310 + 0.975 * LIGHT * TRUE, HOUR_NS)


def test_lamp_and_dark_that_drifted_between_two_checks_are_taken_off() -> None:
    reduction = Reduction(BEAMS)
    found = reduction.of(reading(), SLIDE)
    assert found is not None
    assert found.is_there.all()
    assert found.values == pytest.approx(TRUE, rel=1e-12)
    assert set(found.doubts) == {
        "dark of check 1", "dark of check 2", "open beam of check 1", "open beam of check 2",
    }  # fmt: skip
    assert reduction.takes_off_drift
    (said,) = reduced_words(reduction, None)
    assert said == (
        "1 spectrum in counts: (counts − dark)/(open beam − dark) at each wavelength, dark and "
        "open beam in a straight line from check 1 to check 2; the light of the open beam changed "
        "by −10.00 % between them."
    )


@pytest.mark.parametrize(
    ("other", "why"),
    [
        ({"closing_check_id": None}, "no check closed it"),
        ({"adjusted_id": 5}, "the head was re-adjusted before it was closed"),
        ({"closing_check_id": 3}, "check 3 has no dark and no open beam in counts"),
    ],
)
def test_without_a_second_open_beam_the_first_stands_alone_and_it_is_said(
    other: dict[str, int | None], why: str
) -> None:
    reduction = Reduction(BEAMS)
    found = reduction.of(reading(**other), SLIDE)
    assert found is not None
    assert found.values == pytest.approx((10 + 0.975 * LIGHT * TRUE) / LIGHT, rel=1e-12)
    assert not reduction.takes_off_drift
    (said,) = reduced_words(reduction, None)
    assert f"of check 1 alone, since {why}: what lamp and dark drifted" in said


@pytest.mark.parametrize(
    ("beams", "why"),
    [
        ({}, "check 1 has no dark and no open beam in counts"),
        (
            {1: replace(BEAMS[1], dark=BEAMS[1].dark[:1])},
            "check 1 has fewer than 2 spectra of its dark",
        ),
        (
            {1: replace(BEAMS[1], dark=tuple(replace(s, step_nm=9.0) for s in BEAMS[1].dark))},
            "the spectra of check 1 lie on different wavelengths",
        ),
    ],
)
def test_counts_without_dark_and_open_beam_are_no_transmittance(
    beams: dict[int, BeamRecord], why: str
) -> None:
    reduction = Reduction(beams)
    assert reduction.of(reading(), SLIDE) is None
    assert list(reduced_words(reduction, None)) == [
        f"1 spectrum in counts could not be used: {why}."
    ]


def test_light_that_goes_round_the_slide_is_taken_off_and_said() -> None:
    stray = 0.02
    beams = {i: beam(i, (i - 1) * 4 * HOUR_NS, 300, 1.0, stray) for i in (1, 2)}
    slide = counts(7, 300 + LIGHT * (TRUE + stray), HOUR_NS)
    found = Reduction(beams, (stray, 0.001)).of(reading(), slide)
    assert found is not None
    assert found.values == pytest.approx(TRUE, abs=1e-12)
    assert found.common["stray light"] == pytest.approx(((TRUE + stray) / (1 + stray) - 1) * 0.001)
    said = list(reduced_words(Reduction(beams), StrayLight(Decimal("1.96"), Decimal("0.1"))))
    assert said[0].startswith("Stray light was taken off: the head reads 1.96 % (u 0.1 %)")


def test_a_point_without_light_or_over_the_range_has_no_figure() -> None:
    dim = tuple(
        replace(s, numbers=np.where(X == 310, 301.0, s.values).astype("<f8").tobytes())
        for s in BEAMS[1].open
    )
    over = SLIDE.values.copy()
    over[5] = np.inf
    beams = BEAMS | {1: replace(BEAMS[1], open=dim)}
    found = Reduction(beams).of(reading(closing_check_id=None), counts(7, over, HOUR_NS))
    assert found is not None
    assert X[~found.is_there].tolist() == [310.0, 350.0]


def test_what_is_owed_to_each_scan_is_its_own_pull_on_the_result() -> None:
    """By moving one count of each array, with a dark before and a dark after."""
    rng = np.random.default_rng(3)
    ones = np.ones(12)
    scans = {
        "sample": Scan("sample", 310 + LIGHT * TRUE, ones, 25.0),
        "dark": Scan("dark", 300 + rng.normal(0, 3, 12), ones, 0.0),
        "before": Scan("before", 300 + LIGHT, ones, 0.0),
        "after": Scan("after", 340 + 0.9 * LIGHT, ones, 100.0),
        "dark_after": Scan("dark after", 340 + rng.normal(0, 3, 12), ones, 100.0),
    }

    def made(moved: str = "") -> tuple[Vector, dict[str, Vector]]:
        with_one = {n: replace(s, values=s.values + (n == moved)) for n, s in scans.items()}
        last = with_one.pop("dark_after")
        found = transmittance_spectrum(X, **with_one, dark_after=last)
        return found.values, dict(found.doubts)

    plain, doubts = made()
    for name, one in scans.items():
        assert made(name)[0] - plain == pytest.approx(doubts[one.name], rel=2e-3)
