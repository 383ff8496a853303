"""The dark and the open beam that a check of a head read in counts. Pure; any thread."""

from __future__ import annotations

from dataclasses import dataclass

from acquire.report.record.spectra import SpectrumRecord, is_one_grid

FEWEST = 2
"""So many presses of a piece tell its scatter."""


@dataclass(frozen=True, slots=True)
class BeamRecord:
    """What a check read of its dark and of its open beam, in counts; voids are left out."""

    check_id: int
    dark: tuple[SpectrumRecord, ...]
    open: tuple[SpectrumRecord, ...]

    @property
    def why_not(self) -> str:
        """Why nothing can be reduced by it; empty where it can."""
        for name, several in (("dark", self.dark), ("open beam", self.open)):
            if len(several) < FEWEST:
                return f"check {self.check_id} has fewer than {FEWEST} spectra of its {name}"
        if not is_one_grid((*self.dark, *self.open)):
            return f"the spectra of check {self.check_id} lie on different wavelengths"
        return ""
