"""What lies in the beam of a band head: nothing, a shutter, a filter, a slide with its film. Pure.

A slide is glass with an edge near 320 nm (the spectral model is that of `simulators.usb.light`) and
a film that takes or gives its own share in each band.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple, Protocol

from simulators.usb.light import BLANK, Slide


class Band(NamedTuple):
    """A band of a head in nanometres. `seen` weighs it as the eye does."""

    low_nm: float
    high_nm: float
    seen: bool = False

    @property
    def name(self) -> str:
        """As ``315-400``, or ``940`` for a lamp of one wavelength."""
        if self.low_nm == self.high_nm:
            return f"{self.low_nm:g}"
        return f"{self.low_nm:g}-{self.high_nm:g}"


UVA = Band(315, 400)
VISIBLE = Band(380, 780)
LUMINOUS = Band(380, 780, seen=True)
INFRARED = Band(780, 1400)
NEAR_INFRARED = Band(940, 940)


class Piece(Protocol):
    """Something to lay into the beam."""

    @property
    def name(self) -> str: ...

    def percent(self, band: Band) -> float:
        """Of the open beam, in this band."""
        ...


@dataclass(frozen=True)
class Flat:
    """A piece known by its value in each band, as a certificate has it; `otherwise` elsewhere."""

    name: str
    otherwise: float = 0.0
    bands: Mapping[str, float] = field(default_factory=dict)

    def percent(self, band: Band) -> float:
        return self.bands.get(band.name, self.otherwise)


@dataclass(frozen=True)
class Coated:
    """A slide, and what its film lets through of each band, as a factor."""

    slide: Slide
    film: Mapping[str, float] = field(default_factory=dict)

    @property
    def name(self) -> str:
        return self.slide.name

    def percent(self, band: Band) -> float:
        return 100 * _mean(self.slide, band) * self.film.get(band.name, 1.0)


OPEN = Flat("open", 100.0)
DARK = Flat("dark", 0.0)
FILTER = Flat("N50", 50.0)
GLASS = Coated(BLANK)


@cache
def _mean(slide: Slide, band: Band) -> float:
    points = range(round(band.low_nm), round(band.high_nm) + 1)
    weights = [_eye(nm) if band.seen else 1.0 for nm in points]
    passed = sum(w * slide.passes(nm) for w, nm in zip(weights, points, strict=True))
    return passed / sum(weights)


def _eye(wavelength_nm: float) -> float:
    """Near enough to V(lambda) for glass, which is flat where the eye sees: 555 nm and 42 nm are
    from memory, and D65 is taken for even.
    """
    return math.exp(-0.5 * ((wavelength_nm - 555) / 42) ** 2)
