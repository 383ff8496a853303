"""The bend of a head's scale in the budgets of films (`acquire.analysis.checks.bend`).

A reading stays as the head sent it: what was found of the bend is a known shift that is left in, as
the drift is, and its doubt is one error of all readings of the head. So it cancels between slides
that let as much through, and not between a film and its blank. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import partial

from acquire.analysis.checks.bend import Bend
from acquire.analysis.checks.bracket import Bracket, brackets_of
from acquire.analysis.figures import rounded
from acquire.analysis.meter.common import Common
from acquire.analysis.samples.sample import Sample

BEND = "bend of the head's scale"
"""How the names of its lines begin."""


def is_bend_known(bracket: Bracket | None) -> bool:
    """Whether a check around these readings read a piece between dark and open beam."""
    return bracket is not None and bool(bracket.bends)


def in_readings(
    samples: Sequence[Sample], brackets: Sequence[Bracket], sign: str
) -> tuple[Common, ...]:
    """What it does to readings: an error of each head; none where no check tells of it.

    Of several checks of a head the mean of what they found is taken, and the largest doubt of any,
    or what they differ by where that is more: the certificate is one for all of them, so more
    checks do not make it better known. A reading under a check that does not tell has none.
    """
    around = brackets_of(samples, brackets)
    by_head: dict[str, dict[int, Bend]] = {}
    for bracket in around:
        for bend in bracket.bends if bracket is not None else ():
            by_head.setdefault(bend.head, {})[bend.check] = bend
    # Heads may have been held against one filter, whose error is then one for all: no sum of their
    # shares is more than this factor makes of them as unrelated ones.
    together = math.sqrt(len(by_head))
    found = []
    for head, bends in by_head.items():
        each = list(bends.values())
        least_sure = max(each, key=lambda b: b.u)
        apart = (max(b.found for b in each) - min(b.found for b in each)) / math.sqrt(12)
        u = together * max(least_sure.u, apart)
        of_head = {
            s.reading_id: bracket.bends[0]
            for s, bracket in zip(samples, around, strict=True)
            if bracket is not None and bracket.bends and bracket.bends[0].head == head
        }
        found.append(
            Common(
                BEND if len(by_head) == 1 else f"{BEND}, {head}",
                u,
                _note(each, least_sure, u, sign),
                partial(_effect, of_head),
                nu=least_sure.nu if u == together * least_sure.u else math.inf,
                found=math.fsum(b.found for b in each) / len(each),
                source=f"{BEND}, as found by the checks,",
            )
        )
    return tuple(found)


def _effect(of_head: Mapping[int, Bend], sample: Sample) -> float:
    """Of a reading by the head; none on one by another, or under a check that does not tell."""
    bend = of_head.get(sample.reading_id)
    return 0.0 if bend is None else bend.at(sample.value)


def _note(each: Sequence[Bend], least_sure: Bend, u: float, sign: str) -> str:
    pieces = " and ".join(dict.fromkeys(b.piece for b in each))
    checks = f"check {least_sure.check}" if len(each) == 1 else f"{len(each)} checks"
    return (
        f"How far {pieces} lay off the straight line from dark to open beam, and how sure that is "
        f"(certificate and reading), at {checks}, brought to the middle of the scale "
        f"(u {rounded(u, u)}{sign}). c adds up 4 p (1 − p) of the part p of the beam that was "
        "read, over what was read where the result is a ratio. One error of all readings."
    )
