"""How a driver behaves besides what bytes mean: units, neighbours, lost links, rates, memory.

Part of the conformance kit. Each call gives, in plain words, what is wrong. Memory is counted by
the interpreter (`tracemalloc`), of everything that is alive meanwhile. Pure else; one thread.
"""

from __future__ import annotations

import gc
import random
import tracemalloc
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import NamedTuple

from acquire.driverapi.answered import answered
from acquire.driverapi.capture import Capture, Step, worded
from acquire.driverapi.driver import Driver, Due
from acquire.driverapi.feeding import START, TROUBLES, Feeder, Make, feed, said, whole
from acquire.driverapi.fit import shown
from acquire.driverapi.guard import OUT_OF_PLACE
from acquire.driverapi.needs import LinkNeeds, Needs, Parity
from acquire.driverapi.spoiling import Chunk, Spoiler, Spoilt
from acquire.driverapi.stretches import joined
from acquire.model import Instant, Reading, Samples, Spectrum
from acquire.model.fact import RAW_COUNTS
from acquire.units import units_of

MOST_SENDS = 1000
LOOKED_AT_S = 10
"""So long is counted what a driver sends to a device that does not answer."""
COUNTED_ON = (
    "; places are counted from the opening of the connection and go on after lost, which forgets "
    "bytes and not how many came"
)
PAIRS = 3
PAIR_BYTES = 200
LEAST_HALF_BYTES = 8_192
MOST_HALF_BYTES = 1 << 17
"""Counting memory is slow: so much takes some seconds, within the time of a stage."""
MEMORY_CHUNK_BYTES = 512
RATE_LEEWAY = 1.1
"""A device's own clock may run a little fast."""


def half_a_message(one: Capture) -> bytes:
    """The first half of a message that the capture shows to be a reading; empty if none is."""
    raw = next((fact.raw for fact in one.facts if fact.what == "reading" and fact.raw), b"")
    return raw[: len(raw) // 2]


def units(make: Make, captures: Sequence[Capture]) -> Iterator[str]:
    """Every value has a unit of the closed table, and one of its quantity."""
    told: set[str] = set()
    for one in captures:
        try:
            fed = feed(make, one.steps, whole)
        except TROUBLES:
            continue  # told where the captures are looked at
        for fact in fed.facts + fed.last:
            if not isinstance(fact, Reading | Samples | Spectrum) or fact.unit in told:
                continue
            if isinstance(fact, Spectrum) and fact.unit == RAW_COUNTS:
                continue
            if fact.unit not in units_of(fact.quantity):
                told.add(fact.unit)
                known = ", ".join(units_of(fact.quantity))
                yield f"{shown(fact.unit)} of {fact.quantity.value}, which is none of {known}"


def apart(make: Make, spoiler: Spoiler) -> Iterator[str]:
    """Two drivers that are used in turns give what each gives alone, as often as it is made."""
    try:
        if make() is make():
            yield "the same driver is given for two connections"
            return
        for number in range(PAIRS):
            spoilt = (Spoilt.LIGHT, Spoilt.HEAVY, Spoilt.RANDOM)[number % 3]
            one, other = (list(spoiler.chunks(spoilt, PAIR_BYTES)) for _ in range(2))
            alone = [_told(make, one), _told(make, other)]
            if _in_turns(make, one, other) != alone:
                yield "a driver gives other facts while a second one is at work"
                return
            if _told(make, one) != alone[0]:
                yield "a driver gives other facts after another one was used"
                return
    except TROUBLES as trouble:
        yield said(trouble)


def _told(make: Make, chunks: Sequence[Chunk]) -> list[object]:
    feeder = Feeder(make)
    for chunk in chunks:
        feeder.give(chunk)
    return [worded(fact) for fact in joined(feeder.facts + feeder.lost())]


def _in_turns(make: Make, one: list[Chunk], other: list[Chunk]) -> list[list[object]]:
    feeders = (Feeder(make), Feeder(make))
    for index in range(max(len(one), len(other))):
        for feeder, chunks in zip(feeders, (one, other), strict=True):
            if index < len(chunks):
                feeder.give(chunks[index])
    return [[worded(fact) for fact in joined(f.facts + f.lost())] for f in feeders]


def lost(make: Make, captures: Sequence[Capture]) -> Iterator[str]:
    """After `lost` nothing is left: no fact comes twice, and no message is glued over the gap."""
    for one in captures:
        head = half_a_message(one)
        if not head:
            continue
        raw = next(fact.raw for fact in one.facts if fact.what == "reading" and fact.raw)
        try:
            feeder = Feeder(make)
            for step in [*one.steps, Step(0.0, b"", head)]:
                feeder.give(Chunk(step.after_s, step.takes, step.received))
            feeder.lost()
            if again := feeder.lost():
                yield f"{one.name}: {len(again)} facts come when it is lost a second time"
            feeder.facts.clear()
            feeder.feed(raw[len(head) :])
        except TROUBLES as trouble:
            how = said(trouble)
            yield f"{one.name}: {how}{COUNTED_ON if how.startswith(OUT_OF_PLACE) else ''}"
            continue
        if any(isinstance(fact, Reading) and fact.raw == raw for fact in feeder.facts):
            yield f"{one.name}: a message is glued together from before and after a lost link"


class _Start(NamedTuple):
    """A driver from which on nothing comes any more; `after` what that is."""

    after: str
    driver: Driver
    now: Instant


def _starts(make: Make, captures: Sequence[Capture]) -> Iterator[_Start]:
    """Drivers of a device that never spoke, that spoke a byte, and that fell silent."""
    feeder = Feeder(make)
    yield _Start("", feeder.driver, feeder.now)
    feeder = Feeder(make)
    feeder.give(Chunk(0.001, False, b"0"))
    yield _Start("after one byte: ", feeder.driver, feeder.now)
    for one in captures:
        feeder = Feeder(make)
        for step in one.steps:
            feeder.give(Chunk(step.after_s, step.takes, step.received))
        yield _Start(f"after {one.name}: ", feeder.driver, feeder.now)


def asking(make: Make, captures: Sequence[Capture]) -> Iterator[str]:
    """Asked when it wants to be asked, `due` goes forward in time and does not flood the line."""
    try:
        driver = make()
        driver.opening(START)
        if type(driver.take(START)) is not bytes:
            yield "take gives no bytes"
        taking = _Start("after take: ", driver, START)
        for start in (*_starts(make, captures), taking):
            if wrong := _asked(start.driver, start.now):
                yield f"{start.after}{wrong}"
                return
        yield from answered(make, captures)
    except TROUBLES as trouble:
        yield said(trouble)


def _asked(driver: Driver, now: Instant) -> str:
    begun = now
    for _ in range(MOST_SENDS):
        due = driver.due(now)
        if type(due) is not Due or type(due.send) is not bytes:
            return f"gives {shown(due)}"
        if due.again is None:
            break
        if due.again.mono_ns < now.mono_ns:
            return "wants to be asked in the past"
        if due.again.mono_ns == now.mono_ns and not due.send:
            return "wants to be asked again at once without having sent anything"
        now = due.again
    else:
        if now.mono_ns - begun.mono_ns < 1_000_000_000:
            return f"sends {MOST_SENDS} times within a second"
    driver.lost(now)
    return ""


def rates(make: Make, captures: Sequence[Capture], needs: Needs) -> Iterator[str]:
    """What is sent fits the declared line; samples come at the declared rate, and fit it too."""
    line_bytes_per_s = _bytes_per_s(needs)
    try:
        if line_bytes_per_s is not None:
            yield from _flooding(make, captures, line_bytes_per_s)
    except TROUBLES:
        return  # told where `due` is looked at
    for one in captures:
        try:
            found = list(_sampling(make, one, line_bytes_per_s))
        except TROUBLES:
            continue  # told where the captures are looked at
        yield from (f"{one.name}: {wrong}" for wrong in found)


def _bytes_per_s(needs: Needs) -> float | None:
    """What the line carries; None where nobody declared its speed."""
    if not isinstance(needs, LinkNeeds) or needs.baud_rate is None:
        return None
    parity_bits = needs.parity is not Parity.NONE
    return needs.baud_rate / (1 + needs.data_bits + parity_bits + needs.stop_bits)


def _flooding(make: Make, captures: Sequence[Capture], line_bytes_per_s: float) -> Iterator[str]:
    """More is sent to a device that does not answer, or no longer, than its line carries."""
    for start in _starts(make, captures):
        bytes_per_s = _sending(start.driver, start.now)
        if bytes_per_s > line_bytes_per_s:
            yield (
                f"{start.after}{bytes_per_s:.0f} bytes a second are sent on a line that is "
                f"declared to carry {line_bytes_per_s:.0f}"
            )
            return


def _sending(driver: Driver, now: Instant) -> float:
    begun, sent = now, 0
    for _ in range(MOST_SENDS * LOOKED_AT_S):
        due = driver.due(now)
        sent += len(due.send)
        if due.again is None or due.again.mono_ns <= now.mono_ns:
            break
        now = Instant(due.again.utc_ns, due.again.mono_ns)
        if now.mono_ns - begun.mono_ns >= LOOKED_AT_S * 1_000_000_000:
            break
    return sent / max(1.0, (now.mono_ns - begun.mono_ns) / 1e9)


def _sampling(make: Make, one: Capture, line_bytes_per_s: float | None) -> Iterator[str]:
    fed = feed(make, one.steps, whole)
    samples = [fact for fact in joined(fed.facts + fed.last) if isinstance(fact, Samples)]
    declared: dict[str, Decimal] = {}
    for fact in samples:
        if declared.setdefault(fact.channel, fact.rate_hz) != fact.rate_hz:
            yield f"samples at {declared[fact.channel]} and at {fact.rate_hz} a second"
            return
        each = (fact.end - fact.start) / (len(fact.counts) // 4)
        if line_bytes_per_s and each * float(fact.rate_hz) > line_bytes_per_s * RATE_LEEWAY:
            yield (
                f"{fact.rate_hz} samples a second of {each:.1f} bytes on a line that is declared "
                f"to carry {line_bytes_per_s:.0f} bytes a second"
            )
            return
    yield from _too_many([fact for fact in fed.facts if isinstance(fact, Samples)])


def _too_many(stretches: Sequence[Samples]) -> Iterator[str]:
    """More samples came, by the times of the capture, than the declared rate has."""
    first: dict[str, Samples] = {}
    most = max((len(fact.counts) // 4 for fact in stretches), default=0)
    for fact in stretches:
        since = first.setdefault(fact.channel, fact)
        passed_s = fact.at.seconds_since(since.at)
        came = fact.first + len(fact.counts) // 4 - since.first - len(since.counts) // 4
        if passed_s > 0 and came > float(fact.rate_hz) * passed_s * RATE_LEEWAY + most:
            yield f"{came} samples in {passed_s:g} s, declared are {fact.rate_hz} a second"
            return


def memory(
    make: Make, captures: Sequence[Capture], spoilt_bytes: int, *, is_records: bool
) -> Iterator[str]:
    """Of twice as many bytes a driver does not keep twice as much.

    What is kept up to a bound grows, too, until it is full: so where it grew, more bytes decide.
    """
    choice = random.Random(1)  # noqa: S311 - bytes to feed, not a secret
    spoiler = Spoiler([one.steps for one in captures], choice, is_records=is_records)
    # Of random bytes none come again: what is kept of each that was seen is kept of these, too.
    sorts: dict[str, list[bytes] | None] = {
        "the captures over and over": [s.received for one in captures for s in one.steps],
        "random bytes": None,
    }
    if not is_records:
        sorts["an endless line of digits"] = [b"0123456789" * 50]
    least = min(max(LEAST_HALF_BYTES, spoilt_bytes // 8), MOST_HALF_BYTES)
    was_on = tracemalloc.is_tracing()
    if not was_on:
        tracemalloc.start()
    try:
        for name, sort in sorts.items():
            for half in (least, MOST_HALF_BYTES):
                pieces = sort
                if pieces is None:
                    pieces = [c.data for c in spoiler.chunks(Spoilt.RANDOM, 2 * half)]
                kept = _kept(make, pieces, half) if any(pieces) else 0
                if kept <= half * 3 // 4:
                    break
            else:
                yield f"{kept} bytes more are kept after {half} bytes of {name}"
    except TROUBLES as trouble:
        yield said(trouble)
    finally:
        if not was_on:
            tracemalloc.stop()


def _kept(make: Make, pieces: Sequence[bytes], half: int) -> int:
    driver = make()
    driver.opening(START)
    after: list[int] = []
    now = START
    # No `cycle`: it would keep a list of its own, which grows while memory is counted.
    chunks = [
        piece[place : place + MEMORY_CHUNK_BYTES]
        for piece in pieces
        for place in range(0, len(piece), MEMORY_CHUNK_BYTES)
    ]
    number = 0
    for _ in range(2):
        fed = 0
        while fed < half:
            # Bytes of their own, as a line's are: whoever keeps them keeps memory.
            chunk = bytes(bytearray(chunks[number % len(chunks)]))
            number += 1
            now = Instant(now.utc_ns + 1_000_000, now.mono_ns + 1_000_000)
            driver.due(now)
            driver.feed(chunk, now)
            fed += len(chunk)
        gc.collect()
        after.append(tracemalloc.get_traced_memory()[0])
    return after[1] - after[0]
