"""A whole trace at random, by its seed: pulls, rests, knocks, tries given up, and a gauge.

The gauge adds an offset, a zero that wanders, noise, the step of its digits, and the end of its
range. Everything is drawn; a bench that samples seldom pulls slowly, as it must.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from tests.pulls.knocks import Knock, knocks_on, struck
from tests.pulls.physics import Block, Course, Hand, pulled


@dataclass
class TruePull:
    """Moments in seconds of the trace, forces in newton above the zero, without noise.

    `peak_n` is the largest force up to the end of the first slip, `sampled_n` the largest of it
    at the moments of the samples, `rise_n` what it gained from one to the next before that.
    `whole` is false for one that the gauge's range cut off,
    `hidden` true for one whose peak a knock fell on. `struck` has the moments and sizes (N) of the
    knocks while the sled slid, without spikes of one sample.
    """

    onset_s: float
    peak_s: float
    peak_n: float
    sampled_n: float
    rise_n: float
    end_s: float
    kinetic_n: float
    dwell_s: float | None
    whole: bool
    hidden: bool = False
    struck: list[tuple[float, float]] = field(default_factory=list)


@dataclass
class TrueTrace:
    seed: int
    rate_hz: float
    weight_n: float
    range_n: float
    force_n: NDArray[np.float64]
    pulls: list[TruePull] = field(default_factory=list)
    others: list[tuple[str, float, float]] = field(default_factory=list)
    """What is none: a word and from when to when."""


class _Tape:
    """Forces put one behind the other, by samples."""

    def __init__(self, rate_hz: float) -> None:
        self.rate_hz = rate_hz
        self.parts: list[NDArray[np.float64]] = []
        self.size = 0

    def put(self, force: NDArray[np.float64]) -> None:
        self.parts.append(force)
        self.size += force.size

    def rest(self, seconds: float, level: float = 0.0) -> None:
        self.put(np.full(max(1, round(seconds * self.rate_hz)), level))

    @property
    def now_s(self) -> float:
        return self.size / self.rate_hz


def drawn(seed: int) -> TrueTrace:
    """The trace of this seed: 10 to 10,000 samples a second, one to eight pulls."""
    chance = random.Random(f"pulls|{seed}")
    rate = _log(chance, 10, 10_000)
    block, hand = _bench(chance, rate)
    weight = block.mass_kg * block.gravity
    holds = weight * block.static
    tape = _Tape(rate)
    true = TrueTrace(seed, rate, weight, holds * 5, np.empty(0))
    tape.rest(chance.uniform(1.2, 3))
    still_since: float | None = None
    tension = 0.0
    knocks: list[tuple[float, float]] = []
    hits = random.Random(f"knocks|{seed}")
    more: list[Knock] = []
    for number in range(chance.randint(1, 8)):
        if chance.random() < 0.2 and tension == 0.0:
            _try(chance, tape, true, block, hand)
            tape.rest(_rest(chance, rate))
        if hits.random() < 0.25 and tension == 0.0:
            more += (_held if hits.random() < 0.5 else _glided)(hits, tape, true, block, hand)
            tape.rest(_rest(hits, rate))
        strengths = tuple(
            max(0.6, chance.gauss(1.08 if number == 0 and i == 0 else 1.0, 0.02)) for i in range(40)
        )
        begun = tape.now_s
        slide = max(chance.uniform(0.6, 4), 12 / rate)
        tremor = _tremor(chance, hand.speed)
        pauses = ((0.4 * slide, 0.4 * slide + 0.3),) if chance.random() < 0.08 else ()
        moved = Hand(hand.speed, hand.rise_s, tremor, pauses)
        dwell = 5.0 if still_since is None else begun - still_since
        course = pulled(block, moved, rate, dwell, slide, strengths, tension=tension)
        force = np.array(course.force)
        if chance.random() < 0.12 and slide > 1:
            at = begun + (course.broke_s or 0) + chance.uniform(0.5, 0.8) * slide
            knocks.append((at, chance.uniform(0.1, 0.6) * holds))
        tape.put(force)
        true.pulls.append(_truth(course, begun, force, rate, still_since))
        more += knocks_on(hits, true.pulls[-1].peak_s - begun, slide, begun, holds, rate)
        still_since = begun + course.end_s
        tension = chance.uniform(0.08, 0.3) * weight * block.kinetic
        if chance.random() > 0.15:
            tension = 0.0
        tape.put(_released(chance, float(force[-1]), rate, tension))
        if tension:
            tape.rest(max(_rest(chance, rate), 0.9), tension)
            if number == 7:
                tension = 0.0
        else:
            begin = tape.now_s
            tape.rest(_rest(chance, rate))
            for _ in range(chance.choice((0, 0, 0, 1, 2))):
                span = tape.now_s - begin
                at = begin + chance.uniform(0.25, 0.8) * span
                knocks.append((at, chance.choice((-1, 1)) * _log(chance, 0.1, 2.5) * holds))
                true.others.append(("knock", at, at + 0.3))
    tape.rest(chance.uniform(1.0, 2.5))
    clean = np.concatenate(tape.parts)
    for at, size in knocks:
        _knock(chance, clean, rate, at, size)
    for knock in more:
        struck(clean, rate, knock)
    for pull in true.pulls:
        pull.hidden = any(knock.hides(pull.peak_s, rate) for knock in more)
        pull.struck = [
            (at, size)
            for at, size in (*knocks, *((k.at_s, k.size_n) for k in more if k.length_s))
            if pull.peak_s + 0.1 <= at < pull.end_s
        ]
    return _read(chance, true, clean)


def _bench(chance: random.Random, rate: float) -> tuple[Block, Hand]:
    mass = chance.uniform(0.1, 0.5)
    kinetic = _log(chance, 0.08, 0.5)
    static = kinetic * chance.uniform(1.08, 1.7)
    slowest = max(0.15, 15 / rate)
    loading = _log(chance, slowest, max(2.5, 3 * slowest))
    speed = _log(chance, 0.5e-3, 15e-3)
    stiffness = static * mass * 9.80665 / (loading * speed)
    # A very soft or very hard line is another speed.
    stiffness = min(5000.0, max(20.0, stiffness))
    speed = static * mass * 9.80665 / (loading * stiffness)
    damping = chance.uniform(0.1, 0.9) * 2 * math.sqrt(stiffness * mass)
    ripple = tuple(
        (chance.uniform(0, 0.03), 2 * math.pi / _log(chance, 2e-3, 50e-3), chance.uniform(0, 6.28))
        for _ in range(3)
    )
    block = Block(mass, static, kinetic, chance.uniform(0, 0.08), stiffness, damping, ripple)
    return block, Hand(speed, chance.uniform(0, 0.3) * loading)


def _tremor(chance: random.Random, speed: float) -> tuple[tuple[float, float, float], ...]:
    """Of a hand: 4 to 12 Hz, up to a little more than the speed itself, in half of all pulls."""
    if chance.random() < 0.5:
        return ()
    return tuple(
        (chance.uniform(0.05, 0.6) * speed, chance.uniform(4, 12), chance.uniform(0, 6.28))
        for _ in range(2)
    )


def _rest(chance: random.Random, rate: float) -> float:
    return max(_log(chance, 0.8, 8), 9 / rate)


def _try(chance: random.Random, tape: _Tape, true: TrueTrace, block: Block, hand: Hand) -> None:
    """The line is pulled, not enough, held for a moment or not at all, and let go."""
    begun = tape.now_s
    course = pulled(
        block, Hand(hand.speed, hand.rise_s, _tremor(chance, hand.speed)), tape.rate_hz, 3.0,
        1.0, (1.0,), give_up=chance.uniform(0.25, 0.9),
    )  # fmt: skip
    force = np.array(course.force)
    tape.put(force)
    if chance.random() < 0.4:
        tape.rest(chance.uniform(0.05, 1.0), float(force[-1]))
    tape.put(_released(chance, float(force[-1]), tape.rate_hz, 0.0))
    true.others.append(("try", begun, tape.now_s))


def _held(
    hits: random.Random, tape: _Tape, true: TrueTrace, block: Block, hand: Hand
) -> list[Knock]:
    """The line is pulled, not enough, held for seconds, struck or not, and let go."""
    begun = tape.now_s
    course = pulled(
        block, hand, tape.rate_hz, 3.0, 1.0, (1.0,), give_up=hits.uniform(0.25, 0.9)
    )  # fmt: skip
    force = np.array(course.force)
    tape.put(force)
    since = tape.now_s
    tape.rest(max(hits.uniform(0.8, 4.0), 8 / tape.rate_hz), float(force[-1]))
    knocks = _some(hits, since, tape.now_s, block.mass_kg * block.gravity * block.static)
    tape.put(_released(hits, float(force[-1]), tape.rate_hz, 0.0))
    true.others.append(("held", begun, tape.now_s))
    return knocks


def _glided(
    hits: random.Random, tape: _Tape, true: TrueTrace, block: Block, hand: Hand
) -> list[Knock]:
    """A wet surface: the sled slides as soon as the line pulls with the kinetic force.

    There is no first peak, so that force alone does not tell it from a line that is held.
    """
    begun = tape.now_s
    wet = replace(block, static=block.kinetic, ageing=0.0, ripple=())
    wet.damping = 2 * math.sqrt(block.stiffness * block.mass_kg)
    course = pulled(wet, hand, tape.rate_hz, 3.0, hits.uniform(0.8, 4.0), (1.0,))
    force = np.array(course.force)
    if force.max() > 1.01 * block.mass_kg * block.gravity * block.kinetic:
        # A hand that is fast on a stiff line: the sled's own inertia makes a first peak.
        return []
    tape.put(force)
    slid = begun + (course.broke_s or 0.0)
    knocks = _some(hits, slid + 0.3, tape.now_s, block.mass_kg * block.gravity * block.static)
    tape.put(_released(hits, float(force[-1]), tape.rate_hz, 0.0))
    true.others.append(("glide", begun, tape.now_s))
    return knocks


def _some(hits: random.Random, begin_s: float, end_s: float, holds: float) -> list[Knock]:
    """No knock, one or two between two moments."""
    return [
        Knock.drawn(hits, begin_s + hits.uniform(0.1, 0.85) * (end_s - begin_s), holds)
        for _ in range(hits.choice((0, 1, 1, 2)))
    ]


def _released(
    chance: random.Random, force: float, rate: float, tension: float
) -> NDArray[np.float64]:
    """From a force down to the tension that is left."""
    if chance.random() < 0.5:
        fall = chance.uniform(0.02, 0.06)
        t = np.arange(1, max(2, round(8 * fall * rate))) / rate
        return tension + (force - tension) * np.exp(-t / fall)
    n = max(2, round(chance.uniform(0.05, 0.2) * rate))
    return np.linspace(force, tension, n)


def _knock(
    chance: random.Random, clean: NDArray[np.float64], rate: float, at_s: float, size: float
) -> None:
    """The bench is struck: half a wave, or a ring that dies out."""
    first = round(at_s * rate)
    t = np.arange(max(1, round(0.3 * rate))) / rate
    if chance.random() < 0.4:
        length = chance.uniform(0.008, 0.04)
        wave = np.where(t < length, np.sin(np.pi * t / length), 0.0)
    else:
        wave = np.exp(-t / chance.uniform(0.008, 0.04)) * np.cos(
            2 * np.pi * chance.uniform(15, 60) * t
        )
    n = min(wave.size, clean.size - first)
    clean[first : first + n] += size * wave[:n]


def _truth(
    course: Course, begun: float, force: NDArray[np.float64], rate: float, still: float | None
) -> TruePull:
    assert course.broke_s is not None
    until = round((course.peak_s + 0.001) * rate) + 1
    settled = min(force.size - 1, round((course.peak_s + 0.1) * rate))
    steady = force[settled:]
    highest = int(np.argmax(force[:until]))
    # The step to the highest one may be a slip already.
    rise = float(force[highest - 1] - force[highest - 2]) if highest > 1 else float(force[highest])
    # The largest sample up to a little behind the peak: where the slip is not over yet.
    return TruePull(
        begun, begun + course.peak_s, course.peak, float(force[highest]), rise,
        begun + course.end_s, float(steady.mean()),
        None if still is None else begun - still, True,
    )  # fmt: skip


def _read(chance: random.Random, true: TrueTrace, clean: NDArray[np.float64]) -> TrueTrace:
    """What the gauge makes of the force."""
    rate = true.rate_hz
    smallest = min(p.peak_n for p in true.pulls)
    density = _log(chance, 0.1e-3, 1.5e-3)
    noise = min(density * math.sqrt(rate / 1000), 0.02 * smallest)
    draw = np.random.default_rng(true.seed)
    t = np.arange(clean.size) / rate
    length = t[-1]
    wander = chance.uniform(-1, 1) * 0.008 * true.weight_n * t / max(60.0, length)
    wander += (
        0.003
        * true.weight_n
        * chance.random()
        * np.sin(2 * np.pi * t / chance.uniform(40, 120) + chance.uniform(0, 6.28))
    )
    seen = clean + wander + noise * draw.standard_normal(clean.size)
    if chance.random() < 0.08:
        true.range_n = chance.uniform(0.85, 0.97) * max(p.peak_n for p in true.pulls)
    seen = np.clip(seen, -true.range_n, true.range_n)
    offset = chance.uniform(-0.05, 0.05)
    for pull in true.pulls:
        a, b = round(pull.onset_s * rate), round(pull.end_s * rate) + 1
        pull.whole = bool((seen[a:b] < true.range_n).all())
    step = chance.choice((0.1e-3, 0.2e-3, 0.5e-3, 1e-3))
    step = step if step < 0.004 * smallest else 0.1e-3
    # The range is that of the cell, in front of the tare.
    true.force_n = np.round((seen + offset) / step) * step
    true.range_n = float(np.round((true.range_n + offset) / step) * step)
    return true


def _log(chance: random.Random, low: float, high: float) -> float:
    return math.exp(chance.uniform(math.log(low), math.log(high)))
