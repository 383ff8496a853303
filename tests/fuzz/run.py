"""Many cases of one profile: figures, faults, what a byte costs and what is left in memory."""

from __future__ import annotations

import gc
import statistics
import time
import tracemalloc
from collections.abc import Callable
from itertools import islice
from random import Random
from typing import NamedTuple

from acquire.driverapi.conformance import START
from acquire.driverapi.spoiling import Spoiler, Spoilt
from acquire.model import Instant
from tests.fuzz.subjects import Subject
from tests.fuzz.trial import LONG_BYTES, Case, Tried, cases, smallest, tried
from tests.fuzz.truth import Truth

MOST_FAULTS = 3
SLOWEST_TIMES = 100
"""A case whose bytes cost so many times what they cost as a rule hangs, or nearly so."""
LONGEST_BYTES = 2_000_000
"""One connection is held open for so many bytes."""
WAITING_BYTES = 3 << 20
"""What a driver may hold back: three times the longest transfer of a USB record."""


class Outcome(NamedTuple):
    """What came of a profile."""

    family: str
    profile: str
    cases: int
    received: int
    values: int
    chance_hits: int
    seconds: float
    slowest_times: float
    kept_bytes: int
    faults: tuple[str, ...]


def run(
    subject: Subject,
    least_bytes: int,
    seed: int,
    *,
    watch: Callable[[str], None] = lambda what: None,
) -> Outcome:
    """Try cases until so many bytes were received. `watch` is told what begins, and how to do it
    again.
    """
    truth = Truth(subject)
    faults: list[str] = []
    received = values = count = 0
    costs: list[float] = []
    began = time.thread_time()
    long_bytes = min(LONG_BYTES, least_bytes // 2)
    for case in cases(seed, subject.family.name, subject.profile, long_bytes):
        watch(again_by(subject, case))
        one = tried(subject, case, truth)
        if _cost(one) > SLOWEST_TIMES * statistics.median(costs or [_cost(one)]):
            # Once more: the processor may have been busy with something else of ours.
            again = tried(subject, case, Truth(subject))
            if _cost(again) > SLOWEST_TIMES * statistics.median(costs):
                one = one._replace(fault=one.fault or "cost far more time than other bytes")
            else:
                one = one._replace(seconds=again.seconds)
        received += max(1, one.received)
        values += one.values
        count += 1
        costs.append(_cost(one))
        if one.fault:
            small = smallest(subject, case)
            fault = tried(subject, small, Truth(subject)).fault or one.fault
            faults.append(f"{fault}\n    again: {again_by(subject, small)}")
        if received >= least_bytes or len(faults) == MOST_FAULTS:
            break
    kept = 0
    # One that fails on bytes by themselves fails on many together, too.
    if not faults:
        watch(f"one long connection with seed {seed}")
        kept = kept_bytes(subject, seed, min(least_bytes // 4, LONGEST_BYTES))
    if kept > WAITING_BYTES:
        faults.append(f"{kept} bytes were kept of a connection")
    return Outcome(
        subject.family.name,
        subject.profile,
        count,
        received,
        values,
        truth.chance_hits,
        time.thread_time() - began,
        max(costs) / statistics.median(costs),
        kept,
        tuple(faults),
    )


def again_by(subject: Subject, case: Case) -> str:
    """The command that tries a case again."""
    return f"python -m tests.fuzz --only {subject.profile} --case {case.label}"


def kept_bytes(subject: Subject, seed: int, most_bytes: int) -> int:
    """What one long connection keeps in memory, above what its beginning needed."""
    randomness = Random(f"{seed}/{subject.profile}/kept")
    spoiler = Spoiler(subject.conversations, randomness, is_records=subject.is_records)
    driver, now = subject.driver(), START
    driver.opening(now)
    before, fed = 0, 0
    tracemalloc.start()
    try:
        while fed < most_bytes:
            spoilt = randomness.choice(list(Spoilt))
            for chunk in islice(spoiler.chunks(spoilt, most_bytes // 8), 4000):
                ns = round(chunk.after_s * 1e9)
                now = Instant(now.utc_ns + ns, now.mono_ns + ns)
                driver.due(now)
                driver.feed(chunk.data, now)
                fed += len(chunk.data) + 1
            before = before or tracemalloc.get_traced_memory()[0]
        gc.collect()
        return max(0, tracemalloc.get_traced_memory()[0] - before)
    finally:
        tracemalloc.stop()


def _cost(one: Tried) -> float:
    """Seconds a byte; what a connection and a chunk cost by themselves counts as bytes."""
    return one.seconds / (one.received + 100 * one.chunks + 2000)
