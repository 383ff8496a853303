"""Spectra in blocks: their points as they are kept, and the means of bands. Pure; any thread.

The mean of a band is that of all points whose wavelength lies within its limits, the limits among
them, each with the same weight. A band whose limits the wavelengths do not reach on both sides
has no mean, and none that has a point which is no number.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from decimal import Decimal
from itertools import pairwise
from math import fsum, inf, isfinite, isinf, isnan
from typing import NamedTuple

from acquire.driverkit import NO_FLAGS, Heard, Means
from acquire.model import EvenGrid, Flag, SpectrumType
from acquire.model.fact import RAW_COUNTS
from acquire.wire.definite import block_at
from drivers.usbtmc.keptbeam import Kept, KeptBeam
from drivers.usbtmc.profile import SpectrumForm

MOST_POINTS = 16_384
_LONGEST_HEAD = 64
_SAME_NM = 1e-6
"""Wavelengths nearer than this are one: steps such as 0.1 nm do not add up exactly."""
_LONGEST_NM = 100_000.0
_LARGEST_EXPONENT = 30
_FORMS = {4: SpectrumType.BINARY32, 8: SpectrumType.BINARY64}
_FLAGS = {flag: frozenset((flag,)) for flag in (Flag.OVER_RANGE, Flag.UNDER_RANGE)}


class Points(NamedTuple):
    """The values of a spectrum as `acquire.model.Spectrum` has them."""

    values: bytes
    type: SpectrumType


class _Place(NamedTuple):
    """Where a band lies among the points; `why` it cannot be told if it cannot."""

    name: str
    first: int
    behind: int
    why: str


def _sum(values: tuple[float, ...]) -> float:
    """The sum, rounded once; infinite or no number where it, or a value, is not finite."""
    try:
        return fsum(values)
    except (OverflowError, ValueError):
        return inf


class Spectra:
    """Blocks of one form, and the wavelengths of their points."""

    def __init__(self, form: SpectrumForm, unit: str, *, has_counts: bool = False) -> None:
        self._form = form
        self._unit = unit
        self.beam = KeptBeam() if has_counts else None
        """What makes percent of counts; None with a head that sends percent."""
        self.grid: EvenGrid | tuple[float, ...] | None = None
        self._wanted_points: int | None = None
        self._places: tuple[int, list[_Place]] = (0, [])
        self._is_told = False

    def use(self, grid: EvenGrid | tuple[float, ...], points: int | None = None) -> None:
        """The wavelengths from now on; `points` where a spectrum must have so many."""
        self.grid = grid
        self._wanted_points = points
        self._places = (0, [])

    def learn_even(self, start_nm: float, step_nm: float, points: int) -> str:
        """Take an even grid; empty, or why it is none."""
        end_nm = start_nm + step_nm * (points - 1)
        if not (start_nm > 0 and step_nm > 0 and end_nm <= _LONGEST_NM):
            return f"wavelengths from {start_nm!r} nm in steps of {step_nm!r} nm"
        if not 1 <= points <= MOST_POINTS:
            return f"wavelengths of {points} points, wanted 1 to {MOST_POINTS}"
        self.use(EvenGrid(start_nm, step_nm), points)
        return ""

    @property
    def is_ready(self) -> bool:
        """Whether all is known that a spectrum needs to mean something."""
        return self.grid is not None and (self.beam is None or self.beam.is_known)

    @property
    def own_unit(self) -> str:
        """That of the points, which is not that of the bands where the head sends counts."""
        return self._unit if self.beam is None else RAW_COUNTS

    def learn_beam(self, kind: Kept, answer: bytes) -> str:
        """Take the dark or the open beam that the head keeps; empty, or why it is none."""
        found = self._block(answer, 0)
        numbers = found if isinstance(found, str) else self._form.numbers.of(found)
        if isinstance(numbers, str):
            return numbers
        wanted = self._wanted_points
        if not 1 <= len(numbers) <= MOST_POINTS or wanted not in (None, len(numbers)):
            return f"a {kind.value} of {len(numbers)} points, wanted {wanted or 'some'}"
        if any(map(isnan, numbers)):
            return f"a {kind.value} with a point that is no number"
        extremes = self._form.extremes
        assert self.beam is not None
        self.beam.keep(kind, [inf if extremes and n in extremes else n for n in numbers])
        return ""

    def learn_block(self, answer: bytes, scale: tuple[int, int]) -> str:
        """Take a grid that is a block of one wavelength a point; empty, or why it is none."""
        found = self._block(answer, 0)
        if isinstance(found, str):
            return found
        numbers = self._form.numbers.of(found)
        if isinstance(numbers, str):
            return numbers
        if not 1 <= len(numbers) <= MOST_POINTS:
            return f"{len(numbers)} wavelengths, wanted 1 to {MOST_POINTS}"
        if not all(map(isfinite, numbers)):
            return "wavelengths that are no numbers"
        above, below = scale
        grid = tuple(number * above / below for number in numbers)
        rises = all(a < b for a, b in pairwise(grid))
        if not (grid[0] > 0 and grid[-1] <= _LONGEST_NM and rises):
            return "wavelengths that do not rise"
        self.use(grid, len(grid))
        return ""

    def read(self, answer: bytes) -> tuple[dict[str, str], bytes] | str:
        """The groups of the head of an answer and the bytes of its block, or why it has none."""
        place = answer.find(b"#", 0, _LONGEST_HEAD)
        if place < 0:
            return "no block"
        head = self._form.head.fullmatch(answer[:place].decode("latin-1"))
        if head is None:
            return f"{answer[:place].decode('latin-1')!a} in front of the block"
        found = self._block(answer, place)
        return found if isinstance(found, str) else (head.groupdict(), found)

    def points(self, block: bytes) -> Points | str:
        """The points of a block, or why they are none."""
        numbers = self._form.numbers
        count, rest = divmod(len(block), numbers.width_bytes)
        if self.grid is None:
            return "a spectrum whose wavelengths are not known"
        if rest or not 1 <= count <= MOST_POINTS:
            return f"{len(block)} bytes, which are no points of {numbers.width_bytes} bytes"
        if self._wanted_points not in (None, count):
            return f"{count} points of {self._wanted_points} wavelengths"
        if self.beam is not None and (why := self.beam.why_unfit(count)):
            return why
        if numbers.is_real:
            return Points(numbers.little(block), _FORMS[numbers.width_bytes])
        return Points(numbers.scaled(block, *self._form.scale), SpectrumType.BINARY64)

    def bands(self, block: bytes, press: int | None) -> tuple[list[Heard], list[str]]:
        """The means of all bands, and in plain words which have none, and why.

        A band that the wavelengths do not cover is told of once, and not with every spectrum.
        """
        count = len(block) // self._form.numbers.width_bytes
        if self._places[0] != count:
            self._places = (count, self._found(count))
            self._is_told = False
        heard: list[Heard] = []
        refused: list[str] = []
        for name, first, behind, why in self._places[1]:
            if why and self._is_told:
                continue
            one = why or self._mean(block, first, behind, name, press)
            if isinstance(one, str):
                refused.append(f"the band {name} cannot be told: {one}")
            else:
                heard.append(one)
        self._is_told = True
        return heard, refused

    def _mean(
        self, block: bytes, first: int, behind: int, name: str, press: int | None
    ) -> Heard | str:
        numbers, extremes = self._form.numbers, self._form.extremes
        part = block[first * numbers.width_bytes : behind * numbers.width_bytes]
        is_under = is_over = False
        if numbers.is_real:
            values = self._of(part)
            total = _sum(values)
            if not isfinite(total):
                # Only now is it looked for which they are: they are many, and it is rare.
                is_under, is_over = -inf in values, inf in values
        else:
            total = float(numbers.summed(part))
            if extremes is not None:
                lowest, highest = numbers.ends(part)
                is_under, is_over = lowest == extremes[0], highest == extremes[1]
        if is_over or is_under:
            if is_over and is_under:
                return "points above the range and points below it"
            flag = Flag.OVER_RANGE if is_over else Flag.UNDER_RANGE
            text = "over range" if is_over else "under range"
            return Heard(Means.READING, text, None, self._unit, name, press, _FLAGS[flag])
        if self.beam is not None and isfinite(total):
            found = self.beam.percent(self._of(part), first)
            if isinstance(found, str):
                return found
            mean = found
        else:
            above, below = self._form.scale
            try:
                mean = total / (behind - first) * above / below
            except OverflowError:
                return "points beyond all measure"
        if isnan(mean):
            return "a point that is no number"
        if isinf(mean):
            return "points beyond all measure"
        text = repr(mean)
        value = Decimal(text)
        if value and abs(value.adjusted()) > _LARGEST_EXPONENT:
            return "points beyond all measure"
        return Heard(Means.READING, text, value, self._unit, name, press, NO_FLAGS)

    def _of(self, block: bytes) -> tuple[float, ...]:
        found = self._form.numbers.of(block)
        assert not isinstance(found, str)
        return found

    def _found(self, count: int) -> list[_Place]:
        grid = self.grid
        assert grid is not None
        if isinstance(grid, EvenGrid):
            nm: list[float] = [grid.start_nm + grid.step_nm * i for i in range(count)]
        else:
            nm = list(grid)
        places = []
        for name, from_nm, to_nm in ((b.name, b.from_nm, b.to_nm) for b in self._form.bands):
            first, behind = bisect_left(nm, from_nm - _SAME_NM), bisect_right(nm, to_nm + _SAME_NM)
            why = ""
            if nm[0] > from_nm + _SAME_NM or nm[-1] < to_nm - _SAME_NM:
                why = f"the wavelengths go from {nm[0]:g} to {nm[-1]:g} nm"
            elif first == behind:
                why = "no point lies within it"
            places.append(_Place(name, first, behind, why))
        return places

    def _block(self, answer: bytes, place: int) -> bytes | str:
        found = block_at(answer, place)
        if isinstance(found, str):
            return found
        if answer[found.end :] not in self._form.ends:
            wanted = "a line feed" if self._form.ends[0] else "nothing"
            return f"{len(answer) - found.end} bytes behind the block, wanted {wanted}"
        return answer[found.start : found.end]
