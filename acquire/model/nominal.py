"""What a reference piece is meant to be, from its maker's paper: no value that anything is held to.

A finding of plausibility compares a certificate with it (`acquire.calibration.plausibility`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum


class WeightClass(StrEnum):
    """Accuracy classes of weights (OIML R 111-1:2004, 3.2) up to 50 kg."""

    E1 = "E1"
    E2 = "E2"
    F1 = "F1"
    F2 = "F2"
    M1 = "M1"
    M2 = "M2"
    M3 = "M3"


@dataclass(frozen=True, slots=True)
class Nominal:
    """Nominal figures of a piece; None or empty where the bench file says nothing.

    `mass_g` is a weight's mass in grams as engraved, `gravity_m_s2` the acceleration where the
    bench stands. `values` has a nominal value by channel, in the unit its quantity is kept in.
    """

    refractive_index: Decimal | None = None
    index_wavelength_nm: Decimal | None = None
    mass_g: Decimal | None = None
    weight_class: WeightClass | None = None
    gravity_m_s2: Decimal | None = None
    values: Mapping[str, Decimal] = field(default_factory=dict)
