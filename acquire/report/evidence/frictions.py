"""From the readings of a measure with a sled to what its coefficients are made of.

A gauge that holds peaks gives static coefficients; one that streams has a pull in its trace behind
each reading, and gives static and kinetic ones of it. What has no pull is named and is in neither.
Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.gaugezero import Zero, less_zero, zero_off
from acquire.analysis.meter.friction import Friction, FrictionKind
from acquire.analysis.samples.sample import Sample
from acquire.analysis.slickness.effects import Effects, Series, effects_of
from acquire.analysis.slickness.pull import Pull
from acquire.model import Measure, SledCorrection
from acquire.report.evidence.pulls import FoundPull, Pulls, pulls_of
from acquire.report.record.record import TrialRecord

ZERO_OFF = "gauge zero off (the plan does not want it)"


@dataclass(frozen=True, slots=True)
class FrictionFacts:
    """What stands behind the coefficients of one kind.

    `pulls` are those of traces, None for a gauge that holds peaks. `lacking` says of readings (by
    number) that are in no result why they are not. `figures` has the coefficient of every reading
    that has one, left-out ones included. `effects` is what dwell and first pull do to the static
    coefficient, None for the kinetic one.
    """

    friction: Friction
    pulls: Pulls | None
    lacking: Mapping[int, str]
    figures: Mapping[int, float]
    effects: Effects | None


@dataclass(frozen=True, slots=True)
class Way:
    """Readings and brackets as the analysis takes them; `facts` is None without a sled."""

    samples: tuple[Sample, ...]
    brackets: tuple[Bracket, ...]
    facts: FrictionFacts | None = None

    @property
    def friction(self) -> Friction | None:
        return None if self.facts is None else self.facts.friction


def ways_of(
    record: TrialRecord,
    measure: Measure,
    samples: Sequence[Sample],
    brackets: Sequence[Bracket],
    zeros: Mapping[int, Zero],
) -> tuple[Way, ...]:
    """Without a sled the readings as they are; else a way for each kind of coefficient.

    `zeros` is what the gauge read with no load, by the place of the bracket.
    """
    if measure.sled is None:
        return (Way(tuple(samples), tuple(brackets)),)
    pulls = pulls_of(record, measure)
    if not pulls.found:
        return (_held(record, measure, samples, brackets, zeros),)
    if SledCorrection.ZERO in measure.sled.corrections:
        # Each pull is without its own zero, so what the checks found counts without theirs.
        brackets = tuple(
            less_zero(b, zeros[place]) if place in zeros else b for place, b in enumerate(brackets)
        )
    return tuple(_of_traces(measure, samples, brackets, pulls, k) for k in FrictionKind)


# -- a gauge that holds peaks ----------------------------------------------------------------------


def _held(
    record: TrialRecord,
    measure: Measure,
    samples: Sequence[Sample],
    brackets: Sequence[Bracket],
    zeros: Mapping[int, Zero],
) -> Way:
    assert measure.sled is not None
    zero, off = ZERO_OFF, None
    if SledCorrection.ZERO in measure.sled.corrections:
        off = zero_off(samples, brackets, zeros)
        zero = (
            "gauge zero on (what the checks read with no load is taken off each reading, in a "
            "straight line from check to check)"
            if off is not None
            else "gauge zero wanted and off (not every reading lies under a check that read a "
            "piece of no load)"
        )
    taken, around = off if off is not None else (tuple(samples), tuple(brackets))
    friction = Friction(
        measure.sled,
        FrictionKind.STATIC,
        zero,
        "Each force is a peak that the gauge held: the largest of the pull. Whether a later peak "
        "exceeded the first one is not known of it.",
    )
    figures = _figures(friction, {s.reading_id: s.value for s in taken})
    # Of what is left out no zero is known: it is shown as it was read.
    left = {
        r.id: float(r.value)
        for r in record.readings
        if r.measure == measure.id and r.id not in figures and r.value is not None
    }
    return Way(
        taken,
        around,
        FrictionFacts(
            friction, None, {}, _figures(friction, left) | figures, _effects(taken, figures, {})
        ),
    )


# -- a gauge that streams --------------------------------------------------------------------------


def _of_traces(
    measure: Measure,
    samples: Sequence[Sample],
    brackets: Sequence[Bracket],
    pulls: Pulls,
    kind: FrictionKind,
) -> Way:
    assert measure.sled is not None
    is_zero_off = SledCorrection.ZERO in measure.sled.corrections
    friction = Friction(
        measure.sled,
        kind,
        "gauge zero on (each pull's own, read in its trace with the line slack before and behind "
        "it)"
        if is_zero_off
        else ZERO_OFF,
        _SOURCES[kind],
        of_traces=True,
    )
    forces = {
        f.reading_id: _force(f, f.pull, kind, is_zero_off=is_zero_off)
        for f in pulls.found.values()
        if f.pull is not None
    }
    taken = tuple(replace(s, value=forces[s.reading_id]) for s in samples if s.reading_id in forces)
    lacking = {
        s.reading_id: _lacking(pulls.found.get(s.reading_id))
        for s in samples
        if s.reading_id not in forces
    }
    figures = _figures(friction, forces)
    effects = _effects(taken, figures, pulls.found) if kind is FrictionKind.STATIC else None
    return Way(taken, tuple(brackets), FrictionFacts(friction, pulls, lacking, figures, effects))


_SOURCES = {
    FrictionKind.STATIC: "Each force is the first peak of its pull in the stored trace: a later "
    "peak, which may exceed it, is none. Where it fell between two samples the rise and the slip "
    "around it say how high it was; a pull with too few samples on its rise for that is told, and "
    "reads low. What is left in doubt of a single peak (noise, zero, where between two samples it "
    "was) differs from pull to pull and is in their scatter. How a slip begins may shift all of "
    "them to one side, by up to a fifth of what the force gains from one sample to the next.",
    FrictionKind.KINETIC: "Each force is the mean over the steady window of its pull in the stored "
    "trace. The doubt of a single mean (noise, zero, stick-slip) is in the scatter of the pulls.",
}


def _force(found: FoundPull, pull: Pull, kind: FrictionKind, *, is_zero_off: bool) -> float:
    if kind is FrictionKind.STATIC:
        return pull.peak_n if is_zero_off else pull.peak_n + pull.zero_n
    if is_zero_off:
        return pull.steady.mean_n
    # The zero was taken off along the window; as it came is the mean of the samples themselves.
    first, last = (found.sample_at(t) for t in (pull.steady.start_s, pull.steady.end_s))
    here = found.trace.force_n[first - found.trace.first : last + 1 - found.trace.first]
    return float(here.mean())


def _lacking(found: FoundPull | None) -> str:
    if found is None:
        return "no samples are stored at its place, so that no pull is found in a trace"
    return found.lacking


# -- both ------------------------------------------------------------------------------------------


def _figures(friction: Friction, forces: Mapping[int, float]) -> dict[int, float]:
    found = {}
    for number, force in forces.items():
        try:
            found[number] = friction.slope(force).mu
        except ValueError:
            continue  # told among the rules, by `acquire.analysis.meter.friction.brought`
    return found


def _effects(
    samples: Sequence[Sample], figures: Mapping[int, float], found: Mapping[int, FoundPull]
) -> Effects | None:
    """Dwell and first pull over all zones and stages; None where nothing was pulled."""
    lanes: dict[tuple[str, str], list[Sample]] = {}
    for s in sorted(samples, key=lambda s: (s.at_s, s.reading_id)):
        if s.reading_id in figures:
            lanes.setdefault((s.zone, s.stage), []).append(s)
    if not lanes:
        return None
    return effects_of(
        [
            Series(
                [figures[s.reading_id] for s in lane],
                [_contact(found.get(s.reading_id)) for s in lane],
                zone,
            )
            for (zone, _), lane in lanes.items()
        ]
    )


def _contact(found: FoundPull | None) -> float | None:
    """How long the sled stood before it broke free; None where the trace does not say."""
    contact = None if found is None or found.pull is None else found.pull.contact_s
    return contact if contact is not None and contact > 0 else None
