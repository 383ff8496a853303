"""The conformance kit: holds a driver family against its interface and against captures.

For whoever writes a driver, in their own tests:

    assert violations(FAMILY, profile, [capture(tomllib.loads(text), "name")]) == []

Every capture is fed whole, without anybody asking `due`, byte by byte, cut at random places,
glued, and with the head of another message behind it; then the driver gets bytes that mean
nothing. Whatever is done, the facts must be the same and cover the stream in order. Of a device
whose bytes mean something only as answers (`is_asked`) the driver is always asked what is due where
the capture says that something was sent, as a replayed tape asks it. Pure; random places come from
a seed.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import deepcopy
from itertools import pairwise
from typing import NamedTuple

from acquire.driverapi.capture import Capture, Step, worded
from acquire.driverapi.driver import Driver, Due, Family
from acquire.driverapi.guard import Guard
from acquire.driverapi.needs import Needs, UsbNeeds
from acquire.driverapi.registry import faults_of
from acquire.driverapi.stretches import joined, raw_of
from acquire.errors import CoatbenchError, DriverError
from acquire.model import Fact, Instant, Samples
from acquire.wire.transfer import Description, Pipe, Status, record

START = Instant(1_750_000_000_000_000_000, 1_000_000_000_000)
RANDOM_CUTS = 20
JUNK_BYTES = 4096
MOST_SENDS = 1000


def violations(
    family: Family,
    profile: Mapping[str, object],
    captures: Sequence[Capture],
    source: str = "profile",
    seed: int = 1,
    *,
    is_asked: bool = False,
) -> list[str]:
    """Every way in which a family with this profile breaks the interface; empty if none."""
    found = list(faults_of(family, getattr(family, "name", "")))
    if found:
        return found
    before = deepcopy(profile)
    try:
        needs = family.needs(profile, source)
        if not isinstance(needs, Needs):
            found.append("needs gives no LinkNeeds, no UsbNeeds and no TypedNeeds")
        if not isinstance(family.driver(profile, source), Driver):
            return [*found, "driver gives no Driver"]
    except Exception as trouble:
        return [*found, f"the profile is refused: {trouble!r}"]
    make = lambda: family.driver(profile, source)  # noqa: E731 - a name for one line
    randomness = random.Random(seed)  # noqa: S311 - places to cut, not a secret
    for one in captures:
        found += [f"{one.name}: {wrong}" for wrong in _against(make, one, randomness, is_asked)]
    junk = _junk_bytes(randomness)
    if isinstance(needs, UsbNeeds):
        junk += _junk_records(randomness)
    found += [f"junk: {wrong}" for wrong in _junk(make, junk)]
    found += [f"due: {wrong}" for wrong in _schedule(make)]
    if profile != before:
        found.append("the profile was changed")
    return found


class _Fed(NamedTuple):
    """What came of feeding: the facts, and those of the end."""

    facts: list[Fact]
    last: list[Fact]


def _run(
    make: Callable[[], Driver],
    steps: Sequence[Step],
    cut: Callable[[bytes], list[bytes]],
    *,
    asks_due: bool = True,
    is_asked: bool = False,
) -> _Fed:
    """Feed a conversation as a session does. Raises `DriverError` on unfit facts."""
    driver, guard, now = make(), Guard("under test", START), START
    guard.bytes(driver.opening(now), "opening")
    facts: list[Fact] = []
    for number, step in enumerate(steps):
        ns = round(step.after_s * 1e9)
        now = Instant(now.utc_ns + ns, now.mono_ns + ns)
        # What was sent first are the words of `opening`.
        if asks_due or (is_asked and number and step.sent and not step.takes):
            guard.bytes(driver.due(now).send, "due")
        if step.takes:
            guard.bytes(driver.take(now), "take")
        for chunk in cut(step.received):
            facts += guard.facts(driver.feed(chunk, now), chunk, now)
    return _Fed(facts, guard.facts(driver.lost(now), b"", now))


def _against(
    make: Callable[[], Driver], one: Capture, randomness: random.Random, is_asked: bool
) -> Iterator[str]:
    def anywhere(data: bytes) -> list[bytes]:
        places = sorted(randomness.randrange(len(data) + 1) for _ in range(randomness.randrange(9)))
        edges = [0, *places, len(data)]
        return [data[a:b] for a, b in pairwise(edges)]

    def whole(data: bytes) -> list[bytes]:
        return [data]

    def by_byte(data: bytes) -> list[bytes]:
        return [data[i : i + 1] for i in range(len(data))]

    # Glued as far as time allows: what came at one moment comes in one chunk.
    glued: list[Step] = []
    for step in one.steps:
        if glued and not step.after_s and not step.takes:
            last = glued.pop()
            sent, received = last.sent + step.sent, last.received + step.received
            glued.append(last._replace(sent=sent, received=received))
        else:
            glued.append(step)
    ways = [
        ("fed whole", one.steps, whole, True),
        ("with nobody asking due", one.steps, whole, False),
        ("byte by byte", one.steps, by_byte, True),
        ("glued", glued, whole, True),
        *(("cut at random", one.steps, anywhere, True) for _ in range(RANDOM_CUTS)),
    ]
    for how, steps, cut, asks_due in ways:
        try:
            fed = _run(make, steps, cut, asks_due=asks_due, is_asked=is_asked)
        except DriverError as error:
            yield f"{how}: {error.got or error}"
            continue
        except Exception as trouble:
            yield f"{how}: raised {trouble!r}"
            continue
        yield from (f"{how}: {wrong}" for wrong in _unlike(one, fed))
    yield from _tail(make, one)


def _unlike(one: Capture, fed: _Fed) -> Iterator[str]:
    facts = joined(fed.facts + fed.last)
    got = [worded(fact) for fact in facts]
    for index, expected in enumerate(one.facts):
        if index >= len(got) or got[index] != expected:
            shown = got[index] if index < len(got) else "nothing"
            yield f"fact {index}: got {shown}, wanted {expected}"
            return
    if len(got) > len(one.facts):
        yield f"got {got[len(one.facts)]} beyond what the capture means"
    yield from _displaced(one.received, facts)


def _displaced(stream: bytes, facts: Sequence[Fact]) -> Iterator[str]:
    for fact in facts:
        raw = raw_of(fact)
        if stream[fact.start : fact.end] != raw and not isinstance(fact, Samples):
            yield f"raw {raw!r} is not what was received from {fact.start} to {fact.end}"


def _tail(make: Callable[[], Driver], one: Capture) -> Iterator[str]:
    """The head of a message behind a capture is kept until it is ended or the link is lost."""
    stream = one.received
    first = next((fact.raw for fact in one.facts if fact.what == "reading" and fact.raw), b"")
    head = first[: len(first) // 2]
    if not head:
        return
    try:
        fed = _run(make, [*one.steps, Step(0.0, b"", head)], lambda data: [data])
    except Exception as trouble:
        yield f"with a tail: {trouble!r}"
        return
    rest = b"".join(raw_of(fact) for fact in (fed.facts + fed.last)[len(one.facts) :])
    if rest != head:
        yield f"with a tail: {head!r} was waiting, {rest!r} came out when the link was lost"
    yield from _displaced(stream + head, fed.facts + fed.last)


def _junk_bytes(randomness: random.Random) -> list[tuple[str, bytes]]:
    return [
        ("random bytes", randomness.randbytes(JUNK_BYTES)),
        ("zeros", bytes(JUNK_BYTES)),
        ("ones", b"\xff" * JUNK_BYTES),
        ("line ends", b"\r\n" * (JUNK_BYTES // 2)),
        ("digits", b"0123456789" * (JUNK_BYTES // 10)),
    ]


def _junk_records(randomness: random.Random) -> list[tuple[str, bytes]]:
    """What a USB link hands over is whole records: junk is what is in them."""

    def some(count: int) -> bytes:
        return b"".join(
            record(
                randomness.choice(list(Pipe)),
                randomness.randbytes(randomness.randrange(40)),
                randomness.choice(list(Status)),
            )
            for _ in range(count)
        )

    device = Description(0, 0x01, 0x82, 0x83, 2, 64, "")
    return [
        ("random records", some(200)),
        ("random records of an open device", record(Pipe.OPENED, device.to_bytes()) + some(200)),
        ("a record that is none behind some", some(20) + b"\xee" * JUNK_BYTES),
    ]


def _junk(make: Callable[[], Driver], junk: list[tuple[str, bytes]]) -> Iterator[str]:
    for name, data in junk:
        at_once = [Step(0.0, b"", data)]
        try:
            one = _run(make, at_once, lambda chunk: [chunk])
            other = _run(
                make, at_once, lambda chunk: [chunk[i : i + 7] for i in range(0, len(chunk), 7)]
            )
        except DriverError as error:
            yield f"{name}: {error.got or error}"
            continue
        except Exception as trouble:
            yield f"{name}: raised {trouble!r}"
            continue
        yield from (f"{name}: {wrong}" for wrong in _displaced(data, one.facts + one.last))
        if [worded(f) for f in joined(one.facts + one.last)] != [
            worded(f) for f in joined(other.facts + other.last)
        ]:
            yield f"{name}: other facts when it came in other chunks"


def _schedule(make: Callable[[], Driver]) -> Iterator[str]:
    """Asked when it wants to be asked, `due` goes forward in time and does not flood the line."""
    try:
        driver, now = make(), START
        driver.opening(now)
        if type(driver.take(now)) is not bytes:
            yield "take gives no bytes"
        for _ in range(MOST_SENDS):
            due = driver.due(now)
            if type(due) is not Due or type(due.send) is not bytes:
                yield f"gives {due!r}"
                return
            if due.again is None:
                return
            if due.again.mono_ns < now.mono_ns:
                yield "wants to be asked in the past"
                return
            if due.again.mono_ns == now.mono_ns and not due.send:
                yield "wants to be asked again at once without having sent anything"
                return
            now = due.again
        if now.mono_ns - START.mono_ns < 1_000_000_000:
            yield f"sends {MOST_SENDS} times within a second"
        driver.lost(now)
    except CoatbenchError as error:
        yield str(error)
    except Exception as trouble:
        yield f"raised {trouble!r}"
