"""The spectra behind the readings of a trial, as the store keeps them, and what bands they are of.

A head that sends spectra has a reading of each of its bands made of the same bytes, so a reading
and its spectrum stand at the same place of the same connection. Any thread, with its own reader.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from acquire.analysis.transmission.bandnames import METERS_OWN, band_name
from acquire.analysis.transmission.definition import Band, Definition, Rule, Vector, Weights
from acquire.analysis.transmission.spectrum import Spectrum, spectrum
from acquire.model.fact import RAW_COUNTS
from acquire.report.record.placing import MINE
from acquire.store.reader import StoreReader

_PARTS = {"percent": 0.01, "one": 1.0, RAW_COUNTS: 1.0}
"""What a unit of a transmittance is in parts of 1; counts stay counts."""
_TYPES = {"binary32": "<f4", "binary64": "<f8"}
_SAME_NM = 1e-6
_ALIKE = 1e-6

_READINGS = f"""
SELECT id, connection_id, at_utc_ns, raw_start, raw_end FROM reading
WHERE quantity = 'transmittance' AND id IN ({MINE}) ORDER BY id
"""  # noqa: S608 - our own names
# What stands before the numbers in a row is read without them, the rest of rows that are wanted.
_CHECKED = """
SELECT id, connection_id, at_utc_ns, raw_start, raw_end FROM reading
WHERE quantity = 'transmittance' AND id IN ({})
"""
_PLACES = "SELECT id, connection_id, at_utc_ns FROM spectrum WHERE connection_id = ?"
_ROWS = """
SELECT raw_start, raw_end, id, at_utc_ns, unit, type, start_nm, step_nm, grid_nm, numbers
FROM spectrum WHERE id IN ({})
"""
_MOST_VARIABLES = 500


@dataclass(frozen=True)
class SpectrumRecord:
    """One spectrum as stored: floats of `type`, least significant byte first, in `unit`.

    The wavelengths are `start_nm` and `step_nm`, or `grid_nm` (binary64).
    """

    id: int
    at_utc_ns: int
    unit: str
    type: str
    start_nm: float | None
    step_nm: float | None
    grid_nm: bytes | None
    numbers: bytes

    @property
    def is_counts(self) -> bool:
        """Whether it is raw counts, which mean nothing without dark and open beam."""
        return self.unit == RAW_COUNTS

    @cached_property
    def values(self) -> Vector:
        """Parts of 1, or counts, shape (n,); not finite where the head sent no figure."""
        found = np.frombuffer(self.numbers, _TYPES[self.type]).astype(np.float64)
        return found * _PARTS[self.unit]

    @cached_property
    def wavelength_nm(self) -> Vector:
        """Shape (n,)."""
        if self.grid_nm is not None:
            return np.frombuffer(self.grid_nm, "<f8").astype(np.float64)
        assert self.start_nm is not None
        assert self.step_nm is not None
        return self.start_nm + self.step_nm * np.arange(self.values.size, dtype=np.float64)

    def spectrum(self) -> Spectrum:
        """As the analysis takes it; its doubt comes from repeats, not from itself.

        Not of counts: see `acquire.report.record.beams`.
        """
        return spectrum(f"spectrum {self.id}", self.wavelength_nm, self.values)


def spectra_of(reader: StoreReader, trial: str) -> dict[int, SpectrumRecord]:
    """The spectrum of each reading of a trial that was made of one, by the reading's number."""
    return _of(reader, reader.rows(_READINGS, (trial,)))


def spectra_behind(reader: StoreReader, readings: Sequence[int]) -> dict[int, SpectrumRecord]:
    """The spectrum of each of these readings that was made of one."""
    rows: list[sqlite3.Row] = []
    for start in range(0, len(readings), _MOST_VARIABLES):
        portion = readings[start : start + _MOST_VARIABLES]
        rows += reader.rows(_CHECKED.format(", ".join("?" * len(portion))), portion)
    return _of(reader, rows)


def _of(reader: StoreReader, readings: Sequence[sqlite3.Row]) -> dict[int, SpectrumRecord]:
    if not readings:
        return {}
    moments = {(row[1], row[2]) for row in readings}
    wanted = {
        row[0]: row[1]
        for connection in sorted({one for one, _ in moments})
        for row in reader.rows(_PLACES, (connection,))
        if (row[1], row[2]) in moments
    }
    found: dict[tuple[int, int, int], SpectrumRecord] = {}
    ids = list(wanted)
    for start in range(0, len(ids), _MOST_VARIABLES):
        portion = ids[start : start + _MOST_VARIABLES]
        for row in reader.rows(_ROWS.format(", ".join("?" * len(portion))), portion):
            found[wanted[row[2]], row[0], row[1]] = SpectrumRecord(*row[2:])
    return {
        reading: one
        for reading, connection, _, begin, end in readings
        if (one := found.get((connection, begin, end))) is not None
    }


def points_of(channel: str, one: SpectrumRecord) -> Definition | None:
    """The mean of all points within a band, limits among them, each with the same weight.

    So a head's readings of bands are made (`config/profiles/usbtmc-head.toml`). None where
    `channel` is no band or fewer than two points lie in it.
    """
    low, _, high = channel.partition("-")
    if not (low.isdecimal() and high.isdecimal()):
        return None
    x = one.wavelength_nm
    here = x[(x >= float(low) - _SAME_NM) & (x <= float(high) + _SAME_NM)]
    if here.size < 2 or not (np.diff(here) > 0).all():
        return None
    step = one.step_nm if one.grid_nm is None else None
    name = f"arithmetic mean at {step:g} nm" if step else f"arithmetic mean of {here.size} points"
    band = Band(float(low), float(high), _word(channel))
    nodes = np.clip(here, band.lower_nm, band.upper_nm)
    return Definition(
        band, Weights(name, Rule.ORDINATES, nodes, np.ones(nodes.size), "the head's own points")
    )


def names_of(
    channels: Iterable[str],
    readings: Sequence[tuple[int, str, float]],
    spectra: Mapping[int, SpectrumRecord],
) -> dict[str, str]:
    """Bands with their weights by channel, as far as the spectra tell them.

    `readings` are number, channel and value in percent. A band is called the mean of its points
    only where every reading of it is just that; else the weights are the meter's own. Of a head
    that sends counts it is, as drivers make it (`drivers/usbtmc/WIRE.md`).
    """
    found: dict[str, str] = {}
    for channel in channels:
        mine = [(spectra.get(i), value) for i, c, value in readings if c == channel]
        names = {_weights(channel, one, value) for one, value in mine}
        found[channel] = band_name(channel, names.pop() if len(names) == 1 else METERS_OWN)
    return found


def _weights(channel: str, one: SpectrumRecord | None, percent: float) -> str:
    definition = points_of(channel, one) if one is not None else None
    if one is None or definition is None or definition.weights is None:
        return METERS_OWN
    if one.is_counts:
        return definition.weights.name
    x = one.wavelength_nm
    band = definition.band
    here = one.values[(x >= band.lower_nm - _SAME_NM) & (x <= band.upper_nm + _SAME_NM)]
    mean = 100 * float(here.mean()) if np.isfinite(here).all() else np.nan
    if not abs(mean - percent) <= _ALIKE * max(1.0, abs(percent)):
        return METERS_OWN
    return definition.weights.name


def is_one_grid(several: Sequence[SpectrumRecord]) -> bool:
    """Whether all lie on the same wavelengths."""
    return all(np.array_equal(a.wavelength_nm, b.wavelength_nm) for a, b in pairwise(several))


def _word(channel: str) -> str:
    """``UVA`` of ``UVA 315-400 nm``; empty for a band of one's own."""
    name = band_name(channel).partition(",")[0]
    return name.removesuffix(f"{channel} nm").strip()
