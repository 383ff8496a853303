"""The results once more, with the meter's drift between its checks taken off each reading.

Opening and closing check read the same piece of certified value c as x0 and x1. At a reading's
position p between them (0 to 1) the piece would have read x = (1 - p) x0 + p x1, if the meter
drifted in a straight line. A reading r is corrected by offset, r - (x - c), or by gain, r c / x
(`acquire.analysis.checks.drift`). That is the value that JCGM 100:2008 (GUM), 3.2.4, would have: a
known shift taken off, and the doubt of it in its place.

Rule. A stage is corrected whole or not at all. Where one reading that counts there has no passed
closing check with the same piece (none yet, the meter was re-adjusted before it, no check at all),
the stage stays as it was read, and a sentence says why; corrected and uncorrected readings never
meet in one mean or difference. Nothing is extrapolated. The results come from the same functions
as those of the readings as read (`acquire.analysis.results`). Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from acquire.analysis.cells.onesided import OneSided
from acquire.analysis.checks.bracket import Bracket, bracket_of
from acquire.analysis.checks.drift import Check, gain_corrected, offset_corrected
from acquire.analysis.meter.friction import Friction
from acquire.analysis.results import NO_NAMES, NOWHERE, MeasureResult, measure_results
from acquire.analysis.samples.repeatability import NOTHING, Lent
from acquire.analysis.samples.sample import Sample
from acquire.model import DriftCorrection, Measure, Plan


class CorrectedReading(NamedTuple):
    """`value` is `read` plus `correction`, in the measure's unit, at `position` between checks."""

    read: float
    value: float
    position: float
    bracket: Bracket

    @property
    def correction(self) -> float:
        return self.value - self.read


class Correction(NamedTuple):
    """The readings of one measure at one channel, corrected by `how` where they can be.

    `samples` and `brackets` are what `acquire.analysis.results` takes, of the `stages` alone that
    are corrected; `readings` the same by number. `why_not` says for each stage with readings that
    stays as it was read why that is so, as a part of a sentence.
    """

    how: DriftCorrection
    stages: tuple[str, ...]
    samples: tuple[Sample, ...]
    brackets: tuple[Bracket, ...]
    why_not: Mapping[str, str]
    readings: Mapping[int, CorrectedReading]


class CorrectedMeasure(NamedTuple):
    """A correction and the results of it.

    `result` holds the stages that could be corrected, with comparisons where the bare stage is one
    of them; it is None where there is none.
    """

    correction: Correction
    result: MeasureResult | None


def correct(
    measure: Measure, channel: str, samples: Iterable[Sample], brackets: Sequence[Bracket]
) -> Correction:
    """Correct the readings of `measure` at one channel by its `drift_correction`.

    `samples` are the readings that count; `brackets` the checks around them. Raises ValueError
    where the measure is not to be corrected.
    """
    how = measure.drift_correction
    if how is DriftCorrection.NONE:
        raise ValueError(f"measure {measure.id} is not to be corrected")
    held = [(s, bracket_of(s, brackets)) for s in samples if s.channel == channel]
    why_not: dict[str, str] = {}
    stages = []
    for stage in measure.stages:
        here = [lacking(b, how) for s, b in held if s.stage == stage]
        if any(here):
            why_not[stage] = _counted([why for why in here if why], len(here), stage)
        elif here:
            stages.append(stage)
    readings: dict[int, CorrectedReading] = {}
    corrected = []
    around: dict[Bracket, Bracket] = {}
    for sample, bracket in held:
        if bracket is not None and sample.stage in stages:
            reading, pull = _corrected(sample, bracket, how)
            readings[sample.reading_id] = reading
            corrected.append(replace(sample, value=reading.value, pull=pull))
            around.setdefault(bracket, replace(bracket, correction=how))
    return Correction(
        how, tuple(stages), tuple(corrected), tuple(around.values()), why_not, readings
    )


def corrected_measure(
    plan: Plan,
    measure: Measure,
    channel: str,
    samples: Iterable[Sample],
    brackets: Sequence[Bracket],
    resolution: float,
    lent: Lent = NOTHING,
    bands: Mapping[str, str] = NO_NAMES,
    friction: Friction | None = None,
    given_up: Iterable[tuple[str, str]] = (),
    one_sided: Mapping[str, OneSided] = NOWHERE,
) -> CorrectedMeasure:
    """The results of `measure` at one channel by its `drift_correction`.

    Forces are corrected as such, before a sled makes coefficients of them.
    Arguments and errors as of `correct` and `acquire.analysis.results.measure_results`.
    """
    found = correct(measure, channel, samples, brackets)
    if not found.stages:
        return CorrectedMeasure(found, None)
    only = replace(measure, channels=(channel,), stages=found.stages)
    (result,) = measure_results(
        plan, only, found.samples, found.brackets, resolution, lent, bands, friction, given_up,
        one_sided,
    )  # fmt: skip
    return CorrectedMeasure(found, result)


def lacking(bracket: Bracket | None, how: DriftCorrection) -> str:
    """Why a reading under these checks cannot be corrected; empty where it can."""
    if bracket is None:
        return "no check"
    if bracket.is_broken:
        return "no closing check before the meter was re-adjusted"
    if bracket.drift is None or bracket.opening_deviation is None or bracket.is_unconfirmed:
        return "no passed closing check"
    if bracket.off_line:
        return bracket.off_line
    if how is DriftCorrection.GAIN and not (bracket.certified and _gains(bracket) > 0):
        return "no reference piece that shows a gain (its certified value is 0)"
    return ""


def _gains(bracket: Bracket) -> float:
    """The lesser of both gains: x/c at the opening and at the closing."""
    assert bracket.certified
    assert bracket.opening_deviation is not None
    assert bracket.drift is not None
    opening = bracket.certified + bracket.opening_deviation
    return min(opening / bracket.certified, (opening + bracket.drift) / bracket.certified)


def _corrected(
    sample: Sample, bracket: Bracket, how: DriftCorrection
) -> tuple[CorrectedReading, float]:
    """The reading, and what one unit of error of its checks does to it."""
    assert bracket.opening_deviation is not None
    assert bracket.drift is not None
    position = bracket.position(sample.at_s)
    certified = bracket.certified or 0.0
    opening = certified + bracket.opening_deviation
    closing = opening + bracket.drift
    if how is DriftCorrection.OFFSET:
        by = offset_corrected(
            Check(sample.value, 0.0, position), certified, 0.0,
            Check(opening, 0.0, 0.0), Check(closing, 0.0, 1.0),
        )  # fmt: skip
        value, pull = by.value, 1.0
    else:
        found = gain_corrected(sample.value, certified, opening, closing, position)
        # y = r c / x: an error of x counts -y / x times, that of an offset -1 times.
        value, pull = found.value, found.value / (found.gain * certified)
    return CorrectedReading(sample.value, value, position, bracket), pull


def _counted(reasons: Sequence[str], total: int, stage: str) -> str:
    """Why a stage is not corrected, of how many of its readings."""
    if reasons == [reasons[0]] * total:
        whole = "the only reading" if total == 1 else f"all {total} readings"
        verbs = "counts has" if total == 1 else "count have"
        return f"{whole} at {stage} that {verbs} {reasons[0]}"
    parts = [
        f"{reasons.count(why)} {'has' if reasons.count(why) == 1 else 'have'} {why}"
        for why in dict.fromkeys(reasons)
    ]
    return f"of {total} readings at {stage} that count, {' and '.join(parts)}"
