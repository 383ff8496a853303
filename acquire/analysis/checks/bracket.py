"""The opening and closing check around readings, and which readings they hold.

Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from acquire.analysis.budget.uncertainty import Combined, welch_satterthwaite
from acquire.analysis.checks.bend import Bend
from acquire.analysis.checks.meterscale import EXACT, Beside, Rise, kinks_of
from acquire.analysis.samples.sample import Sample
from acquire.model import DriftCorrection


class Places(NamedTuple):
    """Where the readings of a list are in it: by stage and channel, and by their numbers."""

    samples: Sequence[Sample]
    by_stage: dict[tuple[str, str], list[int]]
    by_id: dict[int, int]

    @classmethod
    def of(cls, samples: Sequence[Sample]) -> Places:
        by_stage: dict[tuple[str, str], list[int]] = {}
        for place, sample in enumerate(samples):
            by_stage.setdefault((sample.stage, sample.channel), []).append(place)
        by_id = {sample.reading_id: place for place, sample in enumerate(samples)}
        return cls(samples, by_stage, by_id)


@dataclass(frozen=True, slots=True)
class Bracket:
    """One opening check and, once it was made, its closing check.

    All figures are in the measure's unit and of the reference piece nearest to the readings (for
    gloss the high tile): `drift` is closing minus opening reading of the piece, `tile_u` the
    standard uncertainty of its certificate, `opening_deviation` the opening reading minus the
    certified value. None means not known (yet). `opening_doubt` and `closing_doubt` say how well
    the piece was read at each (`reading_doubt`), its certificate left aside, and `opening_step` and
    `closing_step` by which step of the display, 0 where none is known. `channel` is empty where the
    figures hold for all channels. `is_broken` is set where the meter was re-adjusted
    before the next check, so that none can close these readings. `piece` is the reference piece,
    `certified` its certified value, and `opening_check` and `closing_check` are the numbers of both
    checks: brackets that share a check share its error. `closing_as` is what became of
    a closing check that closed nothing (undecided, broken off) and tells the drift all the same;
    empty for one that the gate goes by. `is_unconfirmed` is set where no passed check has closed
    these readings, whether their drift is told or not. `correction` says what was taken off the
    readings for what these checks found. `between` names checks between the two that closed
    nothing, with what they found, and `off_line` says which of them shows that the drift was no
    straight line, as a part of a sentence. `bends` say what these checks found of the meter's scale
    between its ends. `foot` is what they found at zero, or at the piece that stands for it
    (`acquire.analysis.checks.meterscale`), None where they did not ask, or where that was taken off
    the readings and off the other figures: `zero_off` then names the piece of it, which is in all
    doubts, and `is_zero_open` is set where the closing check did not read it. `beside` is what they
    found at all further pieces. `closing_piece` is the piece that told the drift, where that is
    another one than `piece`. Raises ValueError where the closing lies before the opening.
    """

    stage: str
    opening_at_s: float
    closing_at_s: float | None
    drift: float | None
    tile_u: float
    channel: str = ""
    opening_deviation: float | None = None
    is_broken: bool = False
    opening_doubt: Combined = EXACT
    closing_doubt: Combined = EXACT
    piece: str = ""
    certified: float | None = None
    opening_check: int | None = None
    closing_check: int | None = None
    correction: DriftCorrection = DriftCorrection.NONE
    between: str = ""
    off_line: str = ""
    bends: tuple[Bend, ...] = ()
    foot: Beside | None = None
    beside: tuple[Beside, ...] = ()
    closing_piece: str = ""
    zero_off: str = ""
    is_zero_open: bool = False
    closing_as: str = ""
    is_unconfirmed: bool = False
    opening_step: float = 0.0
    closing_step: float = 0.0

    def __post_init__(self) -> None:
        if self.closing_at_s is not None and self.closing_at_s < self.opening_at_s:
            raise ValueError(
                f"the closing check at {self.closing_at_s} s lies before the opening check at "
                f"{self.opening_at_s} s"
            )

    @property
    def is_corrected(self) -> bool:
        return self.correction is not DriftCorrection.NONE

    @property
    def is_foot_open(self) -> bool:
        """Whether the closing check told a drift and did not read at zero beside it."""
        if self.foot is not None:
            return self.foot.drift is None and self.drift is not None
        return self.is_zero_open

    @property
    def rise(self) -> Rise | None:
        """How the error of the meter runs along its scale; None where these checks do not tell it.

        Of what was taken off the readings only that is in it which it left. Of a meter whose zero
        nobody read it is how the error runs if it reads right there or, where its gain was taken
        off, if all that was found was the same at all readings.
        """
        if self.certified is None or self.opening_deviation is None:
            return None
        # What another piece told of the drift says nothing of how this one moved beside it.
        moved = self.drift if self.closing_piece in ("", self.piece) else None
        own = Beside(self.piece, self.certified, self.opening_deviation, moved, self.tile_u)
        # What was read at zero and taken off leaves a meter that is right there.
        foot = self.foot or Beside("", 0.0, 0.0, 0.0, 0.0)
        is_of_one = self.foot is None and not self.zero_off
        span = self.certified - foot.certified
        if span == 0 or (self.foot is None and span < 0):
            return None
        kinks = kinks_of(own, foot, self.beside) if self.beside and not is_of_one else ()
        found, drift = self.opening_deviation, self.drift or 0.0
        if self.correction is DriftCorrection.GAIN and is_of_one:
            # Of an offset d that was taken for a gain d (1 - y / c) is left in a reading y.
            found, drift = -found, -drift
        elif self.correction is DriftCorrection.GAIN:
            if not kinks and self.foot is None:
                return None
            # It is right at the reference piece, and at the foot by what was in proportion.
            found *= foot.certified / self.certified
            drift *= foot.certified / self.certified
        return Rise(
            span,
            found - foot.deviation,
            drift - (foot.drift or 0.0) if self.drift is not None else 0.0,
            self.certified,
            None if self.is_foot_open else self.certified,
            kinks,
            is_of_one,
        )

    @property
    def checks_named(self) -> str:
        """Both checks as they begin a sentence."""
        opening = "Opening check" if self.opening_check is None else f"Check {self.opening_check}"
        closing = "closing check" if self.closing_check is None else f"check {self.closing_check}"
        return f"{opening} and {closing}{f' ({self.closing_as})' if self.closing_as else ''}"

    def holds(self, sample: Sample) -> bool:
        """Whether the reading was taken between these checks, at this stage and channel."""
        return (
            sample.stage == self.stage
            and self.channel in ("", sample.channel)
            and self.opening_at_s <= sample.at_s
            and (self.closing_at_s is None or sample.at_s <= self.closing_at_s)
        )

    def held(self, of: Places) -> list[int]:
        """The places of the readings that it `holds`."""
        closing = math.inf if self.closing_at_s is None else self.closing_at_s
        return [
            place
            for (stage, channel), places in of.by_stage.items()
            if stage == self.stage and self.channel in ("", channel)
            for place in places
            if self.opening_at_s <= of.samples[place].at_s <= closing
        ]

    def position(self, at_s: float) -> float:
        """Where a moment lies: 0 at the opening, 1 at the closing; 0 without a closing.

        A moment that a clock put outside counts as the nearer end.
        """
        return self.positions([at_s])[0]

    def positions(self, moments: Sequence[float]) -> tuple[float, ...]:
        """As `position` of many moments, in their order."""
        if self.closing_at_s is None or self.closing_at_s == self.opening_at_s:
            return (0.0,) * len(moments)
        opening, lasting = self.opening_at_s, self.closing_at_s - self.opening_at_s
        return tuple([min(1.0, max(0.0, (at - opening) / lasting)) for at in moments])


def reading_doubt(spread: float, count: int, resolution: float) -> Combined:
    """How well a check read its piece: scatter of the mean and the display, each once.

    `spread` is the standard deviation of the `count` readings; of a single one only the display
    is known. `resolution` is the step of the display.
    """
    display = resolution / math.sqrt(12)
    if count < 2:
        return Combined(display, math.inf)
    return welch_satterthwaite([spread / math.sqrt(count), display], [count - 1, math.inf])


def bracket_of(sample: Sample, brackets: Iterable[Bracket]) -> Bracket | None:
    """The bracket that holds the reading; of several the one opened last. None without one."""
    return max((b for b in brackets if b.holds(sample)), key=lambda b: b.opening_at_s, default=None)


def brackets_of(
    samples: Sequence[Sample], brackets: Sequence[Bracket]
) -> tuple[Bracket | None, ...]:
    """As `bracket_of` for each of many readings, in their order; asks each bracket once."""
    of = Places.of(samples)
    found: list[Bracket | None] = [None] * len(samples)
    # Of several opened at once the first stands, as above: so it has the last word here.
    for bracket in sorted(reversed(brackets), key=lambda b: b.opening_at_s):
        for place in bracket.held(of):
            found[place] = bracket
    return tuple(found)
