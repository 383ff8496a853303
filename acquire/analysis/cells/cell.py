"""All readings of one zone at one stage: the smallest unit of a result.

Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from acquire.analysis.checks.bracket import Bracket, brackets_of
from acquire.analysis.checks.holding import Holding, holding_of
from acquire.analysis.samples.repeatability import Repeatability
from acquire.analysis.samples.sample import Sample
from acquire.analysis.samples.summary import Summary, summarise

_Held = tuple[Sample, Bracket | None]


@dataclass(frozen=True, slots=True)
class Cell:
    """One zone at one stage. `samples` are in the order of their time; `summary` follows them.

    `holdings` says under which checks they were read, in the order of time. `is_relative` where
    `summary` and `holdings` are of the logarithm of the mean (`acquire.analysis.cells.relative`):
    `per_unit` is then what one unit of the readings does to it, 1 over their mean; else 1.
    """

    zone: str
    treatment: str
    stage: str
    samples: tuple[Sample, ...]
    holdings: tuple[Holding, ...]
    summary: Summary
    per_unit: float = 1.0
    is_relative: bool = False

    @property
    def n(self) -> int:
        return len(self.samples)

    @property
    def mean(self) -> float | None:
        return self.summary.mean

    @property
    def flagged(self) -> Sample | None:
        """The reading that Grubbs' test calls an outlier. It counts all the same."""
        outlier = self.summary.outlier
        return self.samples[outlier.suspect] if outlier is not None and outlier.is_outlier else None


def gather(
    zones: Sequence[tuple[str, str]],
    stages: Sequence[str],
    samples: Iterable[Sample],
    brackets: Sequence[Bracket],
    resolution: float,
    known: Repeatability | None = None,
) -> tuple[Cell, ...]:
    """A cell for every zone and stage, zone by zone, empty ones included.

    `zones` are pairs of zone and treatment in the order of the plan. Samples of other zones or
    stages are not taken: the plan says what belongs to a trial. Their order does not matter.
    `known` is the scatter that a study found, for flags alone.
    """
    known_places = [(zone, stage) for zone, _ in zones for stage in stages]
    places: dict[tuple[str, str], list[_Held]] = {place: [] for place in known_places}
    everything = list(samples)
    shown = [s.value if s.shown is None else s.shown for s in everything]
    middle = math.fsum(shown) / max(1, len(shown))
    for one in zip(everything, brackets_of(everything, brackets), strict=True):
        place = places.get((one[0].zone, one[0].stage))
        if place is not None:
            place.append(one)
    cells = []
    for zone, treatment in zones:
        for stage in stages:
            held = sorted(places[zone, stage], key=_in_time)
            here = tuple(sample for sample, _ in held)
            cells.append(
                Cell(
                    zone,
                    treatment,
                    stage,
                    here,
                    _holdings(held, middle),
                    summarise([s.value for s in here], resolution, known),
                )
            )
    return tuple(cells)


def brackets_in(cells: Iterable[Cell]) -> tuple[Bracket, ...]:
    """The checks under which the readings of `cells` were taken, each once."""
    found = {id(h.bracket): h.bracket for c in cells for h in c.holdings if h.bracket is not None}
    return tuple(found.values())


def _in_time(held: _Held) -> tuple[float, int]:
    return held[0].at_s, held[0].reading_id


def _holdings(held: Sequence[_Held], middle: float) -> tuple[Holding, ...]:
    """`middle` is what the meter showed on average, from which an error that grows is counted."""
    places: dict[tuple[int, str], tuple[Bracket | None, list[Sample]]] = {}
    if held and all([bracket is held[0][1] for _, bracket in held]) and held[0][1] is not None:
        places[0, ""] = (held[0][1], [sample for sample, _ in held])
    else:
        for sample, bracket in held:
            # By identity: there is one object for each pair of checks.
            key = (id(bracket), sample.stretch if bracket is None else "")
            if key not in places:
                places[key] = (bracket, [])
            places[key][1].append(sample)
    return tuple(
        [
            holding_of(own, bracket, stretch, len(held), middle)
            for (_, stretch), (bracket, own) in places.items()
        ]
    )
