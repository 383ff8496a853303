"""Light through a slide onto a row of detector points: lamp, glass, film, dark, noise. Pure.

All of it is a model of our own: a lamp with a weak ultraviolet end, glass that begins to let
light through near 320 nm, a film on it that takes or gives a little, a detector that counts.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

FULL_COUNTS = 65535.0
OPEN_COUNTS = 48000.0
READ_NOISE_COUNTS = 4.0
COUNTS_PER_SHOT = 0.05
"""Share of the counts that is their variance: a detector that takes twenty photons for a count."""


@dataclass(frozen=True)
class Grid:
    """The wavelengths of the detector's points; by default they reach over all three bands."""

    first_nm: float = 300.0
    step_nm: float = 1.0
    points: int = 1101

    def wavelengths_nm(self) -> list[float]:
        return [self.first_nm + self.step_nm * i for i in range(self.points)]


@dataclass(frozen=True)
class Film:
    """What a coating does to the light of its slide: `clear` far from its own edge, less below it.

    A film of low index lets a little more through than bare glass: `clear` above 1.
    """

    clear: float = 1.0
    edge_nm: float = 0.0
    edge_width_nm: float = 6.0

    def passes(self, wavelength_nm: float) -> float:
        return self.clear * _edge(wavelength_nm, self.edge_nm, self.edge_width_nm)


@dataclass(frozen=True)
class Slide:
    """What lies in the beam. Without glass it is the open beam; `clear` 0 is a shutter.

    Soda-lime glass reflects about 8 % and absorbs below about 320 nm (common practice, no source).
    """

    name: str
    clear: float = 0.92
    edge_nm: float = 320.0
    edge_width_nm: float = 5.0
    film: Film | None = None

    def passes(self, wavelength_nm: float) -> float:
        """The share of the open beam that comes through."""
        bare = self.clear * _edge(wavelength_nm, self.edge_nm, self.edge_width_nm)
        return bare * self.film.passes(wavelength_nm) if self.film else bare


OPEN = Slide("open", clear=1.0, edge_nm=0.0)
SHUTTER = Slide("dark", clear=0.0, edge_nm=0.0)
BLANK = Slide("blank")


class Beam:
    """Lamp and detector. `lamp` is its brightness, 1 when new; `dark_counts` the detector's own."""

    def __init__(self, grid: Grid, seed: str) -> None:
        if not 256 <= grid.points <= 4096:
            raise ValueError(f"points: got {grid.points}, wanted 256 to 4096")
        self.grid = grid
        self.lamp = 1.0
        self.lamp_per_press = 1.0
        self.dark_counts = 300.0
        self.dark_per_press = 0.0
        self.stray = 0.0
        """Light that goes round the slide, a part of the open beam, at every wavelength."""
        self._seed = seed
        self._nm = grid.wavelengths_nm()
        self._lamp_shape = [_lamp(nm) for nm in self._nm]
        self._open: list[float] = []
        self._dark = 0.0
        self.adjust()

    def adjust(self) -> None:
        """Take the open beam of now for 100 % and the dark of now for 0."""
        whole = OPEN_COUNTS * self.lamp * (1 + self.stray)
        self._open = [whole * shape for shape in self._lamp_shape]
        self._dark = self.dark_counts

    def age(self) -> None:
        """One press goes by."""
        self.lamp *= self.lamp_per_press
        self.dark_counts += self.dark_per_press

    def look(self, slide: Slide, press: int) -> list[float]:
        """Percent of the open beam at every point; infinity where the detector is saturated.

        The same seed and press give the same noise, however many there were before.
        """
        return [
            100.0 * (counts - self._dark) / reference
            for counts, reference in zip(self.counts(slide, press), self._open, strict=True)
        ]

    def counts(self, slide: Slide, press: int) -> list[float]:
        """What the detector counts at every point, its dark among it; infinity as with `look`."""
        noise = random.Random(f"{self._seed}|{press}")
        found = []
        for nm, shape in zip(self._nm, self._lamp_shape, strict=True):
            light = OPEN_COUNTS * self.lamp * shape * (slide.passes(nm) + self.stray)
            sd = math.sqrt(READ_NOISE_COUNTS**2 + COUNTS_PER_SHOT * light)
            counts = light + self.dark_counts + noise.gauss(0.0, sd)
            found.append(math.inf if counts >= FULL_COUNTS else counts)
        return found

    @property
    def kept_dark(self) -> list[float]:
        """The dark of the last `adjust` in counts, the mean of so many that it has no noise."""
        return [self._dark] * len(self._nm)

    @property
    def kept_open(self) -> list[float]:
        """The open beam of the last `adjust` in counts, with its dark; without noise, too."""
        return [light + self._dark for light in self._open]

    def band(self, percent: list[float], low_nm: float, high_nm: float) -> float:
        """The plain mean over a band; nan where the points do not reach over it."""
        if self._nm[0] > low_nm or self._nm[-1] < high_nm:
            return math.nan
        inside = [p for nm, p in zip(self._nm, percent, strict=True) if low_nm <= nm <= high_nm]
        return sum(inside) / len(inside)


def _edge(wavelength_nm: float, edge_nm: float, width_nm: float) -> float:
    if edge_nm <= 0:
        return 1.0
    # Bounded, so that far from the edge nothing overflows.
    return 1.0 / (1.0 + math.exp(min(60.0, (edge_nm - wavelength_nm) / width_nm)))


def _lamp(wavelength_nm: float) -> float:
    """Brightness by wavelength, 1 at its best: a hump in the red over an ultraviolet floor."""
    hump = math.exp(-(((wavelength_nm - 650.0) / 220.0) ** 2))
    return 0.08 + 0.92 * hump
