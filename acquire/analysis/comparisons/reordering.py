"""What the same readings would have shown had the zones been read in turn.

A measure that reads all of a zone before the next one leaves its zones far apart in time, so that
a drift of the meter looks like a difference between them. The moments of the readings are dealt
out anew, one reading of every zone in turn and each within its own pair of checks; every reading
takes along what a steady drift would have done to it by its new moment, for in turn it is the
scatter that drift shows in. Then the same rules are asked again. Only the reach of the comparisons
is of interest; the figures of the trial stay what they are. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from acquire.analysis.checks.bracket import Bracket, bracket_of
from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.samples.sample import Sample
from acquire.analysis.scale import Scale

WORTH = 2 / 3
"""Advice is given where the smallest visible difference would shrink to this part or less."""


def in_turn(
    samples: Sequence[Sample], zones: Sequence[str], brackets: Sequence[Bracket]
) -> list[Sample]:
    """The samples as they would have been, at the moments of the others under the same checks."""
    rank = {zone: k for k, zone in enumerate(zones)}
    groups: dict[tuple[str, Bracket | None], list[Sample]] = {}
    for sample in sorted(samples, key=lambda s: (s.at_s, s.reading_id)):
        groups.setdefault((sample.stage, bracket_of(sample, brackets)), []).append(sample)
    dealt = []
    for (_, bracket), group in groups.items():
        read: dict[str, int] = {}
        rounds = []
        for sample in group:
            read[sample.zone] = read.get(sample.zone, 0) + 1
            rounds.append((read[sample.zone], rank.get(sample.zone, len(rank)), sample))
        rounds.sort(key=lambda r: r[:2])
        dealt += [
            _moved(sample, moment.at_s, bracket)
            for (_, _, sample), moment in zip(rounds, group, strict=True)
        ]
    return dealt


def _moved(sample: Sample, at_s: float, bracket: Bracket | None) -> Sample:
    drift = (bracket.drift or 0.0) if bracket is not None else 0.0
    later = bracket.position(at_s) - bracket.position(sample.at_s) if bracket is not None else 0.0
    return replace(sample, at_s=at_s, value=sample.value + drift * later)


def on_order(
    found: Sequence[Comparison | Refusal],
    reordered: Sequence[Comparison | Refusal],
    names: dict[str, str],
    scale: Scale,
) -> tuple[str, ...]:
    """A sentence for each stage where another order would have seen clearly less.

    Both come in the same order, treatment by treatment; the one that gains most is named.
    """
    gains: dict[str, tuple[float, Comparison, Comparison]] = {}
    for now, then in zip(found, reordered, strict=True):
        if not (isinstance(now, Comparison) and isinstance(then, Comparison)):
            continue
        if now.smallest_visible <= 0:
            continue
        part = then.smallest_visible / now.smallest_visible
        if part <= WORTH and part < gains.get(now.stage, (1.0,))[0]:
            gains[now.stage] = (part, now, then)
    return tuple(
        f"At {stage} the drift of the meter hides much: the smallest difference this run could "
        f"have seen for {names[now.treatment]} is "
        f"{scale.size(now.smallest_visible, now.budget.expanded)}{scale.suffix}. The same "
        'readings, one of every zone in turn (order = "interleaved" in the trial file), would have '
        "seen "
        f"{scale.size(then.smallest_visible, then.budget.expanded)}{scale.suffix}."
        for stage, (_, now, then) in gains.items()
    )
