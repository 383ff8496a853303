"""A spectrum as a fact: what a driver may give, and that its values are kept."""

from __future__ import annotations

import struct
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from acquire.driverapi.fit import misfit
from acquire.driverapi.guard import Guard
from acquire.errors import DriverError
from acquire.model import (
    EvenGrid,
    Flag,
    Instant,
    Quantity,
    Reading,
    Spectrum,
    SpectrumType,
)
from acquire.store.rows import SpectrumRow
from tests.yard import Yard

AT = Instant(10**18, 10**12)
VALUES = struct.pack("<3f", 1.5, 50.0, float("inf"))
GOOD = Spectrum(
    Quantity.TRANSMITTANCE,
    "percent",
    VALUES,
    SpectrumType.BINARY32,
    EvenGrid(315.0, 0.5),
    AT,
    b"spectrum",
    0,
    8,
    7,
)
BAND = Reading(
    Quantity.TRANSMITTANCE, "315-400", Decimal("12.5"), "percent", "12.5", AT, b"spectrum", 0, 8
)


def test_a_spectrum_fits_with_either_grid() -> None:
    assert misfit(GOOD) == ""
    assert misfit(replace(GOOD, wavelengths=(315.0, 316.5, 400.0))) == ""


@pytest.mark.parametrize(
    ("wrong", "why"),
    [
        ({"values": VALUES[:-1]}, "no bytes of binary32"),
        ({"values": b""}, "0 points"),
        ({"values": bytes(4 * 16_385)}, "16385 points"),
        ({"values": [1.0]}, "no bytes of binary32"),
        ({"type": "binary32"}, "no SpectrumType"),
        ({"wavelengths": EvenGrid(315.0, 0.0)}, "an even grid from"),
        ({"wavelengths": EvenGrid(float("nan"), 1.0)}, "an even grid from"),
        ({"wavelengths": EvenGrid(315, 1)}, "other than floats"),
        ({"wavelengths": EvenGrid(315.0, 1e300)}, "an even grid from"),
        ({"wavelengths": (315.0, 316.0)}, "2 wavelengths of 3 points"),
        ({"wavelengths": (315.0, 315.0, 316.0)}, "do not rise"),
        ({"wavelengths": [315.0, 316.0, 317.0]}, "no tuple"),
        ({"wavelengths": (315.0, 316.0, float("inf"))}, "finite floats"),
        ({"flags": frozenset((Flag.OVER_RANGE,))}, "a range flag"),
        ({"press": -1}, "no count"),
        ({"unit": None}, "no str"),
        ({"raw": b"short"}, "5 raw bytes from 0 to 8"),
    ],
)
def test_a_spectrum_that_cannot_be_is_told_why(wrong: dict[str, Any], why: str) -> None:
    assert why in misfit(replace(GOOD, **wrong))


def test_bands_share_the_bytes_of_their_spectrum_and_noise_does_not() -> None:
    guard = Guard("head", AT)
    visible = BAND._replace(channel="380-780")
    assert guard.facts([GOOD, BAND, visible], b"spectrum", AT) == [GOOD, BAND, visible]
    with pytest.raises(DriverError):
        guard.facts([BAND], b"", AT)
    with pytest.raises(DriverError, match="two readings of channel"):
        Guard("head", AT).facts([GOOD, BAND, BAND], b"spectrum", AT)


def test_the_values_of_a_spectrum_are_kept_to_the_bit(yard: Yard) -> None:
    (row,) = (row for row in yard.take_in("shore", GOOD) if isinstance(row, SpectrumRow))
    assert (row.numbers, row.type) == (VALUES, "binary32")
    assert (row.raw_start, row.raw_end) == (GOOD.start, GOOD.end)
