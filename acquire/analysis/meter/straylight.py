"""Stray light in the budgets of films: a known shift of every reading, and how well it is known.

A part s of the open beam reaches the detector whatever a sample stops
(`acquire.analysis.transmission.stray`), so that a reading of r percent is too large by s (100 - r):
nothing on a bright slide, and much of what is read of a dark one. Spectra have it taken off. A
reading stays as the head sent it, so in results it is a known shift that is left in, as the drift
is, and the doubt of s is one error of all readings. Pure; any thread.
"""

from __future__ import annotations

from typing import NamedTuple

from acquire.analysis.meter.common import Common
from acquire.analysis.samples.sample import Sample
from acquire.analysis.scale import PERCENT
from acquire.analysis.transmission.stray import stray_part
from acquire.model.plan import StrayLight

STRAY_LIGHT = "stray light of the head"
"""The name of its lines, as the subject of a sentence."""


class Part(NamedTuple):
    """The part of the open beam that no sample stops, and its standard uncertainty."""

    size: float
    u: float


def part_of(known: StrayLight) -> Part:
    """From what the head reads with a sample that stops all light, b = s/(1 + s)."""
    size = stray_part(float(known.blocked_percent) / PERCENT)
    # ds/db of s = b/(1 - b).
    return Part(size, float(known.u_percent) / PERCENT * (1 + size) ** 2)


def in_readings(known: StrayLight) -> Common:
    """What it does to readings, which are in percent of the open beam."""
    part = part_of(known)
    return Common(
        STRAY_LIGHT,
        PERCENT * part.u,
        f"The plan has the head read {known.blocked_percent} % (u {known.u_percent} %) where a "
        "sample stops all light; c is the part of the beam that is missing in the readings, over "
        "what was read where the result is a ratio. One error of all readings.",
        _missing,
        found=PERCENT * part.size,
        source=f"{STRAY_LIGHT}, as the plan has it,",
    )


def _missing(sample: Sample) -> float:
    """The part of the beam that is missing in a reading."""
    return 1 - sample.value / PERCENT
