"""Heads that send counts: the dark and the open beam of their checks, and transmittance by them.

A check of such a head reads the pieces of kind dark and open-beam, and the spectra of these presses
are what its counts mean. A reading's counts are reduced by the check that opened its pass and the
one that closed it: dark and open beam each on the straight line between the two, at each point
(`acquire.analysis.transmission.beam`). Where no check closed it, or it cannot, the open beam before
stands alone, and that is said. Any thread, with its own reader.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from acquire.analysis.transmission.spectrum import (
    Scan,
    Spectrum,
    corrected,
    scan,
    transmittance_spectrum,
)
from acquire.model import PieceKind
from acquire.report.record.beamrecord import BeamRecord
from acquire.report.record.checkrecord import CheckRecord
from acquire.report.record.record import ReadingRecord
from acquire.report.record.spectra import SpectrumRecord, is_one_grid, spectra_behind
from acquire.store.reader import StoreReader


def beams_of(
    reader: StoreReader, checks: Sequence[CheckRecord], spectra: Iterable[SpectrumRecord]
) -> dict[int, BeamRecord]:
    """Dark and open beam of each check; empty for trials without spectra in counts."""
    if not any(s.is_counts for s in spectra):
        return {}
    wanted: dict[int, tuple[int, str]] = {}
    for check in checks:
        kinds = {p.piece: p.certificate.kind for p in check.pieces if p.certificate is not None}
        for r in check.readings:
            if not (r.void_reason or r.flags):
                wanted[r.id] = (check.id, kinds.get(r.piece, ""))
    found: dict[tuple[int, str], dict[int, SpectrumRecord]] = {}
    for reading, one in spectra_behind(reader, sorted(wanted)).items():
        if one.is_counts:
            found.setdefault(wanted[reading], {})[one.id] = one

    def of(check: int, kind: PieceKind) -> tuple[SpectrumRecord, ...]:
        several = found.get((check, kind.value), {})
        return tuple(several[i] for i in sorted(several))

    return {
        check: BeamRecord(check, of(check, PieceKind.DARK), of(check, PieceKind.OPEN_BEAM))
        for check in sorted({check for check, _ in found})
    }


class _Read(NamedTuple):
    """One check's arrays as the analysis takes them, on the wavelengths of `grid`."""

    dark: Scan
    open: Scan
    grid: SpectrumRecord


class Reduction:
    """Makes transmittance of stored spectra; remembers what it was made by, to be told.

    `stray` is the part of the open beam that no sample stops, with its standard uncertainty, which
    is taken off spectra of either kind. One measure at one stage; one thread.
    """

    def __init__(
        self, beams: Mapping[int, BeamRecord], stray: tuple[float, float] | None = None
    ) -> None:
        self._beams = beams
        self._stray = stray
        self._read: dict[int, _Read | str] = {}
        self.by: dict[tuple[int, int | None, str], int] = {}
        """How many spectra were reduced by each pair of checks; why the second is none."""
        self.lacking: dict[str, int] = {}
        """How many spectra in counts could not be reduced, by the reason."""

    def of(self, reading: ReadingRecord, one: SpectrumRecord) -> Spectrum | None:
        """The transmittance behind a reading; None where its counts cannot be reduced."""
        found = self._counted(reading, one) if one.is_counts else one.spectrum()
        if isinstance(found, str):
            self.lacking[found] = self.lacking.get(found, 0) + 1
            return None
        return found if self._stray is None else corrected(found, *self._stray)

    @property
    def takes_off_drift(self) -> bool:
        """Whether every spectrum stands between two open beams."""
        return bool(self.by) and all(closing is not None for _, closing, _ in self.by)

    def lamp_change(self, opening: int, closing: int) -> float | None:
        """By what part the light of all points changed between two checks; None where unknown."""
        first, last = self._of_check(opening), self._of_check(closing)
        if isinstance(first, str) or isinstance(last, str):
            return None
        sums = [float((r.open.values - r.dark.values).sum()) for r in (first, last)]
        return sums[1] / sums[0] - 1 if np.isfinite(sums).all() and sums[0] > 0 else None

    def _counted(self, reading: ReadingRecord, one: SpectrumRecord) -> Spectrum | str:
        opening = self._of_check(reading.check_id)
        if isinstance(opening, str):
            return opening
        if not is_one_grid((opening.grid, one)):
            return f"its wavelengths are not those of the dark of check {reading.check_id}"
        closing = self._of_check(reading.closing_check_id)
        why = ""
        if reading.closing_check_id is None:
            why = "no check closed it"
        elif reading.adjusted_id is not None:
            why = "the head was re-adjusted before it was closed"
        elif isinstance(closing, str):
            why = closing
        elif not is_one_grid((opening.grid, closing.grid)):
            why = f"check {reading.closing_check_id} has other wavelengths"
        elif not opening.open.at_s < one.at_utc_ns / 1e9 < closing.open.at_s:
            why = "by its time it does not lie between its checks"
        after = None if why or isinstance(closing, str) else closing
        key = (reading.check_id or 0, after and reading.closing_check_id, why)
        try:
            made = transmittance_spectrum(
                one.wavelength_nm, _sample(one), opening.dark, opening.open,
                after and after.open, dark_after=after and after.dark,
            )  # fmt: skip
        except ValueError as error:
            return str(error)
        self.by[key] = self.by.get(key, 0) + 1
        # One array says nothing of its own scatter: what is in no doubt need not be carried.
        return replace(made, doubts={n: u for n, u in made.doubts.items() if u.any()})

    def _of_check(self, check: int | None) -> _Read | str:
        if check is None:
            return "no check says what its counts mean"
        if check not in self._read:
            beam = self._beams.get(check)
            why = f"check {check} has no dark and no open beam in counts"
            why = why if beam is None else beam.why_not
            self._read[check] = why if beam is None or why else _read(beam)
        return self._read[check]


def _read(beam: BeamRecord) -> _Read:
    def mean(name: str, several: Sequence[SpectrumRecord]) -> Scan:
        at_s = sum(s.at_utc_ns for s in several) / len(several) / 1e9
        rows = np.array([s.values for s in several])
        return scan(f"{name} of check {beam.check_id}", rows, at_s)

    return _Read(mean("dark", beam.dark), mean("open beam", beam.open), beam.open[0])


def _sample(one: SpectrumRecord) -> Scan:
    """Counts of one press; what they scatter by is told by repeats and not by one array."""
    return Scan(f"spectrum {one.id}", one.values, np.zeros_like(one.values), one.at_utc_ns / 1e9)
