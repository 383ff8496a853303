"""One connection of a driver, given spoiled bytes: what it may not do, and the least that shows it.

A connection is named by a label ``SPOILT-BYTES-SEED``, and the label alone makes it again.
"""

from __future__ import annotations

import hashlib
import re
import time
from collections.abc import Iterator, Sequence
from random import Random
from typing import NamedTuple

from acquire.driverapi.conformance import START
from acquire.driverapi.guard import Guard
from acquire.driverapi.spoiling import Chunk, Spoiler, Spoilt
from acquire.model import Fact, Instant, Quantity, Reading, Samples, Spectrum
from tests.fuzz.subjects import Subject
from tests.fuzz.truth import Truth

LONG_BYTES = 16_384
SHORTEST_BYTES = 1
"""One conversation, however long it is."""
SHORT_ONES = {"modbus": 12, "usbtmc": 12, "hid": 4}
"""Connections of one conversation for each long one; many where bytes mean something only as
answers to what this connection asked."""
SEEDS_PER_SIZE = 40
_SHARES = (Spoilt.RANDOM, Spoilt.LIGHT, Spoilt.LIGHT, Spoilt.HEAVY, Spoilt.HEAVY, Spoilt.HEAVY)
_LABEL = re.compile(r"(light|heavy|random)-(\d{1,9})-([0-9a-z]{1,32})")


class Case(NamedTuple):
    """A connection to be tried."""

    spoilt: Spoilt
    least_bytes: int
    seed: str

    @property
    def label(self) -> str:
        return f"{self.spoilt}-{self.least_bytes}-{self.seed}"


def case_of(label: str) -> Case:
    """The case that a label names. Raises ValueError if it names none."""
    found = _LABEL.fullmatch(label)
    if found is None:
        raise ValueError(f"{label!r} is no case, such as heavy-256-1f")
    return Case(Spoilt(found[1]), int(found[2]), found[3])


def cases(seed: int, family: str, profile: str, long_bytes: int = LONG_BYTES) -> Iterator[Case]:
    """Cases without end, the same for the same seed."""
    randomness = Random(f"{seed}/{profile}")
    short_ones = SHORT_ONES.get(family, 1)
    while True:
        size = SHORTEST_BYTES if randomness.randrange(short_ones + 1) else long_bytes
        yield Case(randomness.choice(_SHARES), size, f"{randomness.getrandbits(48):012x}")


class Tried(NamedTuple):
    """What came of a case. `fault` is empty where nothing is wrong; `seconds` are of processor."""

    received: int
    values: int
    seconds: float
    fault: str
    chunks: int


def tried(subject: Subject, case: Case, truth: Truth) -> Tried:
    """Give a new driver the bytes of a case."""
    spoiler = Spoiler(
        subject.conversations,
        Random(f"{subject.profile}/{case.label}"),
        is_records=subject.is_records,
    )
    return given(subject, list(spoiler.chunks(case.spoilt, case.least_bytes)), truth)


def given(subject: Subject, chunks: Sequence[Chunk], truth: Truth) -> Tried:
    """Give a new driver these chunks."""
    fed = values = number = 0
    fault = ""
    began = time.thread_time()
    try:
        driver, now = subject.driver(), START
        guard = Guard(subject.family.name, START, Quantity(subject.table["kind"]))
        guard.bytes(driver.opening(now), "opening")
        for number, chunk in enumerate(chunks):  # noqa: B007 - how far it came
            ns = round(chunk.after_s * 1e9)
            now = Instant(now.utc_ns + ns, now.mono_ns + ns)
            guard.tell(now)
            if chunk.takes:
                guard.bytes(driver.take(now), "take")
            else:
                due = driver.due(now)
                guard.bytes(due.send, "due")
                again = guard.again(due.again)
                if again is not None and again.mono_ns < now.mono_ns:
                    raise AssertionError("due wants to be asked in the past")
            facts = guard.facts(driver.feed(chunk.data, now), chunk.data, now)
            fed += len(chunk.data)
            values += _values(facts)
            if fault := next(truth.faults(facts), ""):
                break
        else:
            facts = guard.facts(driver.lost(now), b"", now)
            fault = next(truth.faults(facts), "")
            if not fault and driver.lost(now):
                fault = "lost gave facts a second time"
    except Exception as trouble:
        fault = f"{type(trouble).__name__}: {trouble}"
    return Tried(fed, values, time.thread_time() - began, fault, number + 1)


def smallest(subject: Subject, case: Case) -> Case:
    """The case of fewest bytes found that does something wrong, too; else the case itself."""
    size = SHORTEST_BYTES
    while size < case.least_bytes:
        for number in range(SEEDS_PER_SIZE):
            name = hashlib.sha256(f"{case.label}/{number}".encode()).hexdigest()[:8]
            small = Case(case.spoilt, size, name)
            if tried(subject, small, Truth(subject)).fault:
                return small
        size *= 4
    return case


def _values(facts: Sequence[Fact]) -> int:
    return sum(isinstance(fact, Reading | Samples | Spectrum) for fact in facts)
