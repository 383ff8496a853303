"""A band with its weights: only both together make a number, and the name says both.

The same film gives very different figures by band and by weights, so nothing here hands out a
mean without the name of its definition. Limits of the bands: ultraviolet A and B by IUPAC Gold
Book UT07492 and Directive 2006/25/EC, article 2, which also has visible 380 to 780 nm and
infrared A 780 to 1400 nm; 300 to 380 nm by ISO 9050 and EN 410; 300 to 400 nm as a variant of
ISO 13837 (from memory). Ultraviolet A and visible overlap from 380 to 400 nm. Pure; any thread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]


class Rule(StrEnum):
    """How weights make a mean of a spectrum; between points everything is linear."""

    DENSITY = "density"
    """Integral of weight times transmittance over the integral of the weight, by the trapezoid
    over the points of the spectrum and of the table together and both limits of the band."""
    ORDINATES = "ordinates"
    """Sum of weight times transmittance at the table's own wavelengths, over the sum of weights:
    a table of a standard whose weights have the step in them."""


@dataclass(frozen=True, slots=True, eq=False)
class Weights:
    """A weighting table: `wavelength_nm` rising, `weight` not negative, both of shape (n,).

    `name` is what stands in the name of a result, `source` tells standard and edition. Raises
    ValueError for another shape, or where no weight is above zero.
    """

    name: str
    rule: Rule
    wavelength_nm: Vector
    weight: Vector
    source: str

    def __post_init__(self) -> None:
        x, w = self.wavelength_nm, self.weight
        if x.ndim != 1 or x.shape != w.shape or x.size < (2 if self.rule is Rule.DENSITY else 1):
            raise ValueError(
                f"weights {self.name}: as many weights as wavelengths are wanted, got {w.shape} "
                f"for {x.shape}"
            )
        if not (np.isfinite(x).all() and np.isfinite(w).all() and (np.diff(x) > 0).all()):
            raise ValueError(
                f"weights {self.name}: finite figures at rising wavelengths are wanted; look at "
                "the table for a gap or a line out of order"
            )
        if (w < 0).any() or not (w > 0).any():
            raise ValueError(f"weights {self.name}: weights of 0 or more are wanted, some above 0")
        x.setflags(write=False)
        w.setflags(write=False)


PLAIN = "plain mean"
FINE_NM, FINE_UNTIL_NM = 5.0, 400.0
MIDDLE_NM, MIDDLE_UNTIL_NM = 10.0, 780.0
COARSE_NM = 50.0
"""How far apart two points of a spectrum may lie, where nothing else is said: 5 nm from below
400 nm on, 10 nm from below 780 nm on, as the tables of ISO 9050:1990 (4 and 1) go; 50 nm beyond
(common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Band:
    """Limits in nm, and the word of the trade for them (empty for a band of one's own).

    Raises ValueError where the limits are not finite, above zero and in order.
    """

    lower_nm: float
    upper_nm: float
    word: str = ""

    def __post_init__(self) -> None:
        if not (0 < self.lower_nm < self.upper_nm and math.isfinite(self.upper_nm)):
            raise ValueError(
                f"a band from a lower to a higher wavelength in nm is wanted, got {self.lower_nm:g}"
                f" to {self.upper_nm:g}"
            )

    @property
    def name(self) -> str:
        """``UVA 315-400 nm``."""
        return f"{self.word} {self.lower_nm:g}-{self.upper_nm:g} nm".strip()


@dataclass(frozen=True, slots=True)
class Definition:
    """A band and its weights; without weights the plain mean over wavelength.

    `widest_step_nm` is how far apart two points of a spectrum may lie for a straight line to be
    drawn between them, None for the rule of `FINE_NM`; what lies in a wider step is a gap. Raises
    ValueError where a density does not reach over the whole band, an ordinate lies outside it, or
    the step is not above zero.
    """

    band: Band
    weights: Weights | None = None
    widest_step_nm: float | None = None

    def __post_init__(self) -> None:
        step = self.widest_step_nm
        if step is not None and not (step > 0 and math.isfinite(step)):
            raise ValueError(f"a widest step above 0 nm is wanted, got {step}")
        if self.weights is None:
            return
        x, w = self.weights.wavelength_nm, self.weights.weight
        low, high = self.band.lower_nm, self.band.upper_nm
        if self.weights.rule is Rule.DENSITY:
            if x[0] > low or x[-1] < high:
                raise ValueError(
                    f"{self.name}: the table reaches from {x[0]:g} to {x[-1]:g} nm, short of the "
                    "band; take a table that covers it, or a narrower band"
                )
            if (
                not float(np.interp((low, high), x, w).sum())
                and not w[(x > low) & (x < high)].any()
            ):
                raise ValueError(f"{self.name}: the table has no weight in this band")
            return
        used = x[w > 0]
        if used[0] < low or used[-1] > high:
            raise ValueError(
                f"{self.name}: the table has weights from {used[0]:g} to {used[-1]:g} nm, outside "
                "the band; a table of a standard belongs to its own band"
            )

    @property
    def name(self) -> str:
        """Band and weights: ``UVA 315-400 nm, plain mean``."""
        return f"{self.band.name}, {self.weights.name if self.weights is not None else PLAIN}"


UVB = Band(280, 315, "UVB")
UVA = Band(315, 400, "UVA")
UV_300_380 = Band(300, 380, "UV")
UV_300_400 = Band(300, 400, "UV")
VISIBLE = Band(380, 780, "visible")
NEAR_INFRARED_1400 = Band(780, 1400, "near infrared")
NEAR_INFRARED_2500 = Band(780, 2500, "near infrared")
SOLAR = Band(300, 2500, "solar")
BANDS = (UVB, UVA, UV_300_380, UV_300_400, VISIBLE, NEAR_INFRARED_1400, NEAR_INFRARED_2500, SOLAR)
