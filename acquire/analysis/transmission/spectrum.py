"""Transmittance over wavelength with its doubt, which remembers the readings it came from.

A head reads dark, open beam and slides as arrays of counts. Every array is a source of doubt with
a name; its points scatter independently of one another. A spectrum keeps, for each source, what
one standard uncertainty of it does at each point. Spectra that share a dark, an open beam or a
blank share the source, so that it cancels in ratios and is not added twice (GUM 5.2.2, first
order). It is the bookkeeping of `meter`, in arrays, some hundred times faster for 2,048 points.

A point without a figure (over range, no light, a blank that passes too little) is not there: its
place in `values` holds 0 and `is_there` is False. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.transmission.beam import light_ratio, position
from acquire.analysis.transmission.coverage import rising, spread
from acquire.analysis.transmission.definition import Vector
from acquire.analysis.transmission.film import LEAST_BLANK
from acquire.analysis.transmission.stray import without_stray

LEAST_LIGHT = 10.0
"""The open beam must be this many of its standard uncertainties above the dark, else a point has
no figure. A setting (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Scan:
    """Counts of one array: `values` (n,), standard uncertainty `u` (n,) of each, the moment.

    `name` tells it from every other scan whose results it meets. Not finite is over range.
    """

    name: str
    values: Vector
    u: Vector
    at_s: float = 0.0


def scan(name: str, repeats: Vector, at_s: float = 0.0) -> Scan:
    """The mean of repeated arrays (r, n) and its standard uncertainty, s/sqrt(r) at each point.

    Raises ValueError below two repeats: the scatter of one array is not known.
    """
    rows = np.asarray(repeats, dtype=np.float64)
    if rows.ndim != 2 or rows.shape[0] < 2:
        raise ValueError(f"{name}: at least two arrays in rows are wanted, got shape {rows.shape}")
    is_there = np.isfinite(rows).all(axis=0)
    known = np.where(is_there, rows, 0.0)
    u = known.std(axis=0, ddof=1) / np.sqrt(rows.shape[0])
    return Scan(name, np.where(is_there, known.mean(axis=0), np.inf), u, at_s)


@dataclass(frozen=True, slots=True, eq=False)
class Spectrum:
    """`values` at `wavelength_nm`, parts of 1, where `is_there`; all of shape (n,).

    `doubts` has for each source what one standard uncertainty does at each point, independent from
    point to point; `common` the same of sources whose one error moves all points together.
    `source` is where it comes from, for messages.
    """

    wavelength_nm: Vector
    values: Vector
    is_there: NDArray[np.bool_]
    doubts: Mapping[str, Vector] = field(default_factory=dict)
    common: Mapping[str, Vector] = field(default_factory=dict)

    def u(self) -> Vector:
        """Standard uncertainty at each point (n,)."""
        parts = [*self.doubts.values(), *self.common.values()]
        return np.sqrt(np.sum(np.square(parts), axis=0)) if parts else np.zeros_like(self.values)

    def at(self, wavelength_nm: float) -> float | None:
        """The value on the straight line between both neighbours; None where one is not there."""
        x = self.wavelength_nm
        if not x[0] <= wavelength_nm <= x[-1]:
            return None
        factors = spread(x, np.array([wavelength_nm]), np.ones(1))
        return None if (factors[~self.is_there] != 0).any() else float(factors @ self.values)


def spectrum(name: str, wavelength_nm: Vector, values: Vector, u: Vector | None = None) -> Spectrum:
    """A spectrum that is read ready-made (n,), with its uncertainty; not finite is missing.

    `name` tells its doubt from that of every other reading. Raises ValueError for a grid that does
    not rise, for another shape, or for an uncertainty that is negative or not finite.
    """
    x = rising(wavelength_nm)
    figures = _like(x, name, values)
    is_there = np.isfinite(figures)
    doubts: dict[str, Vector] = {}
    if u is not None:
        doubts[name] = np.where(is_there, _like(x, name, u), 0.0)
        _check_doubt(doubts[name])
    return Spectrum(x, np.where(is_there, figures, 0.0), is_there, doubts)


def transmittance_spectrum(
    wavelength_nm: Vector, sample: Scan, dark: Scan, before: Scan, after: Scan | None,
    *, dark_after: Scan | None = None, least_light: float = LEAST_LIGHT,
) -> Spectrum:  # fmt: skip
    """T of a slide at each point, by the equation of `beam`, with what it owes to each scan.

    A dark read with the open beam after (`dark_after`) makes a straight line of the dark as well.
    Without `after` the open beam before stands for the sample's: what drifted since is not known
    and in no doubt. Points over range, and points whose open beam is not `least_light` of its
    uncertainties above the dark, have no figure. Raises ValueError for a grid that does not rise,
    arrays of other shapes, two scans of one name, or a sample outside its open beams.
    """
    x = rising(wavelength_nm)
    part = 0.0 if after is None else position(before.at_s, after.at_s, sample.at_s)
    # Each with what a count of it does to the dark, and to the open beam, at the sample's moment.
    late = 0.0 if dark_after is None or after is None else part
    given = (
        (sample, 0.0, 0.0), (dark, 1 - late, 0.0), (before, 0.0, 1 - part),
        (dark_after, late, 0.0), (after, 0.0, part),
    )  # fmt: skip
    scans = tuple(s for s, _, _ in given if s is not None)
    shares = tuple((d, b) for s, d, b in given if s is not None)
    if len({s.name for s in scans}) < len(scans):
        raise ValueError(f"each scan wants a name of its own, got {[s.name for s in scans]}")
    counts = [_like(x, s.name, s.values) for s in scans]
    us = [_like(x, s.name, s.u) for s in scans]
    for u in us:
        _check_doubt(u)
    is_there = np.isfinite(counts).all(axis=0)
    known = [np.where(is_there, c, 0.0) for c in counts]
    s = known[0]
    d = sum((share * c for (share, _), c in zip(shares, known, strict=True)), np.zeros_like(s))
    beam = sum((share * c for (_, share), c in zip(shares, known, strict=True)), np.zeros_like(s))
    u_light = np.sqrt(sum(((p - q) * u) ** 2 for (p, q), u in zip(shares[1:], us[1:], strict=True)))
    is_there = is_there & (beam - d > 0) & (beam - d >= least_light * u_light)
    light = np.where(is_there, beam - d, 1.0)
    t = np.where(is_there, light_ratio(s, d, d + light), 0.0)
    owed = (1 / light, *(((t - 1) * p - t * q) / light for p, q in shares[1:]))
    return Spectrum(
        x, t, is_there,
        {one.name: np.where(is_there, c * u, 0.0)
         for one, c, u in zip(scans, owed, us, strict=True)},
    )  # fmt: skip


def corrected(read: Spectrum, stray: float, u_stray: float = 0.0) -> Spectrum:
    """Stray light taken off (`stray`): its part of the open beam, one for all points.

    The uncertainty of the part moves all points together. Raises ValueError as `without_stray`,
    or for a negative `u_stray`.
    """
    if not u_stray >= 0:
        raise ValueError(f"an uncertainty of 0 or more is wanted, got {u_stray}")
    values = np.where(read.is_there, without_stray(read.values, stray), 0.0)
    name = "stray light"
    common = {source: c * (1 + stray) for source, c in read.common.items()}
    own = np.where(read.is_there, (read.values - 1) * u_stray, 0.0)
    common[name] = common.get(name, np.zeros_like(own)) + own
    doubts = {source: c * (1 + stray) for source, c in read.doubts.items()}
    return Spectrum(read.wavelength_nm, values, read.is_there, doubts, common)


def film_spectrum(
    sample: Spectrum, blank: Spectrum, *, least_blank: float = LEAST_BLANK
) -> Spectrum:
    """The ratio sample / blank at each point; what both share cancels.

    Points where the blank lets less than `least_blank` through have no figure. Raises ValueError
    where both are not on the same grid.
    """
    _same_grid((sample, blank))
    is_there = sample.is_there & blank.is_there & (blank.values >= least_blank)
    below = np.where(is_there, blank.values, 1.0)
    ratio = np.where(is_there, sample.values / below, 0.0)

    def combined(over: Mapping[str, Vector], under: Mapping[str, Vector]) -> dict[str, Vector]:
        nothing = np.zeros_like(ratio)
        return {
            source: np.where(
                is_there,
                (over.get(source, nothing) - ratio * under.get(source, nothing)) / below,
                0,
            )
            for source in {**over, **under}
        }

    return Spectrum(
        sample.wavelength_nm, ratio, is_there,
        combined(sample.doubts, blank.doubts), combined(sample.common, blank.common),
    )  # fmt: skip


def difference_spectrum(first: Spectrum, second: Spectrum) -> Spectrum:
    """`first` less `second` at each point where both are there; what both share cancels.

    Raises ValueError where both are not on the same grid.
    """
    _same_grid((first, second))
    is_there = first.is_there & second.is_there

    def combined(one: Mapping[str, Vector], other: Mapping[str, Vector]) -> dict[str, Vector]:
        nothing = np.zeros_like(first.values)
        return {
            source: np.where(is_there, one.get(source, nothing) - other.get(source, nothing), 0.0)
            for source in {**one, **other}
        }

    return Spectrum(
        first.wavelength_nm, np.where(is_there, first.values - second.values, 0.0), is_there,
        combined(first.doubts, second.doubts), combined(first.common, second.common),
    )  # fmt: skip


def mean_spectrum(spectra: Sequence[Spectrum]) -> Spectrum:
    """The mean at each point where all are there, with what it owes to each source.

    Raises ValueError for none, or for different grids.
    """
    if not spectra:
        raise ValueError("no spectrum to take the mean of")
    _same_grid(spectra)
    is_there = np.logical_and.reduce([s.is_there for s in spectra])
    n = len(spectra)

    def together(maps: Sequence[Mapping[str, Vector]]) -> dict[str, Vector]:
        names = dict.fromkeys(name for one in maps for name in one)
        return {
            name: np.where(is_there, sum(one[name] for one in maps if name in one), 0.0) / n
            for name in names
        }

    values = np.where(is_there, np.mean([s.values for s in spectra], axis=0), 0.0)
    return Spectrum(
        spectra[0].wavelength_nm, values, is_there,
        together([s.doubts for s in spectra]), together([s.common for s in spectra]),
    )  # fmt: skip


def _same_grid(spectra: Sequence[Spectrum]) -> None:
    first = spectra[0].wavelength_nm
    for other in spectra[1:]:
        if not np.array_equal(first, other.wavelength_nm):
            raise ValueError(
                "these spectra lie on different wavelengths; a ratio is taken point by point. "
                "Next: read blank and coated slide with the same settings of the head"
            )


def _check_doubt(u: Vector) -> None:
    if not (np.isfinite(u).all() and (u >= 0).all()):
        raise ValueError("the uncertainties of an array must be finite and not negative")


def _like(x: Vector, name: str, values: Vector) -> Vector:
    found = np.asarray(values, dtype=np.float64)
    if found.shape != x.shape:
        raise ValueError(
            f"{name}: {x.size} figures are wanted, one a wavelength, got {found.shape}"
        )
    return found
