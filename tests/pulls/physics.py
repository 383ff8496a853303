"""A block on a surface, a spring to it, and a hand that moves the spring's end. Nothing of ours.

The equation of motion is stepped through: while the block stands, the line's force may grow up to
the static friction, which grows with the logarithm of the time of contact; while it moves, spring,
damper and kinetic friction act on its mass. Time steps of a quarter of a millisecond or less.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

FINEST_HZ = 4000.0


@dataclass
class Block:
    """SI units throughout; `ageing` is the share that static friction gains with each decade."""

    mass_kg: float
    static: float
    kinetic: float
    ageing: float
    stiffness: float
    damping: float
    ripple: tuple[tuple[float, float, float], ...] = ()
    """Of the kinetic coefficient along the path: share, wave number (1/m), phase."""
    gravity: float = 9.80665


@dataclass
class Hand:
    """How the line's end moves: a speed that sets in over `rise_s`, with tremor on it.

    `pauses` are stretches (s from the start) in which it stands still.
    """

    speed: float
    rise_s: float
    tremor: tuple[tuple[float, float, float], ...] = ()
    """Amplitude (m/s), frequency (Hz), phase."""
    pauses: tuple[tuple[float, float], ...] = ()


@dataclass
class Course:
    """What really happened: the line's force at each sample, and the moments in seconds."""

    force: list[float] = field(default_factory=list)
    broke_s: float | None = None
    peak: float = 0.0
    """The largest force from the start up to the end of the first slip."""
    peak_s: float = 0.0
    end_s: float = 0.0
    slides: list[float] = field(default_factory=list)
    """Times at which the force was one of steady sliding, as first and last."""


def pulled(
    block: Block,
    hand: Hand,
    rate_hz: float,
    rests_s: float,
    slide_s: float,
    strengths: tuple[float, ...],
    give_up: float | None = None,
    tension: float = 0.0,
) -> Course:
    """Pull until it slid for `slide_s`, or give up at the share `give_up` of what holds it.

    `strengths` are factors of the static friction, one for each time it sticks, over and over.
    `tension` is the force in the line to begin with.
    """
    sub = max(1, math.ceil(FINEST_HZ / rate_hz))
    dt = 1 / (rate_hz * sub)
    weight = block.mass_kg * block.gravity
    course = Course()
    out = course.force
    stretch = tension / block.stiffness
    velocity = path = t = 0.0
    stuck, stuck_s, sticks = True, rests_s, 0
    strength = strengths[0]
    peak_open = True
    k, c, m = block.stiffness, block.damping, block.mass_kg
    step = 0
    while True:
        force = k * stretch
        if step % sub == 0:
            out.append(force)
        step += 1
        if peak_open and force > course.peak:
            course.peak, course.peak_s = force, t
        holds = weight * block.static * (1 + block.ageing * math.log10(1 + stuck_s)) * strength
        if give_up is not None and force >= give_up * holds:
            break
        if course.broke_s is not None and t - course.broke_s >= slide_s:
            break
        v_hand = hand.speed * min(1.0, t / hand.rise_s) if hand.rise_s > 0 else hand.speed
        for a, f, p in hand.tremor:
            v_hand += a * math.sin(2 * math.pi * f * t + p)
        for a_s, b_s in hand.pauses:
            if course.broke_s is not None and a_s <= t - course.broke_s < b_s:
                v_hand = 0.0
        t += dt
        if stuck:
            stuck_s += dt
            stretch = max(0.0, stretch + v_hand * dt)
            if force >= holds:
                stuck = False
                if course.broke_s is None:
                    course.broke_s = t
            continue
        mu = block.kinetic
        for share, wave, phase in block.ripple:
            mu += block.kinetic * share * math.sin(wave * path + phase)
        pull = force + c * (v_hand - velocity)
        velocity += (pull - weight * mu) / m * dt
        if velocity <= 0:
            velocity, stuck, stuck_s = 0.0, True, 0.0
            sticks += 1
            strength = strengths[sticks % len(strengths)]
            peak_open = False
        if peak_open and force < 0.5 * (course.peak + weight * block.kinetic):
            peak_open = False
        stretch = max(0.0, stretch + (v_hand - velocity) * dt)
        path += velocity * dt
    course.end_s = t
    return course
