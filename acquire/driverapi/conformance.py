"""The conformance kit: holds a driver family against its interface and against captures.

For whoever writes a driver, in their own tests:

    assert violations(FAMILY, profile, [capture(tomllib.loads(text), "name")]) == []

Every capture is fed whole, without anybody asking `due`, byte by byte, cut at random places,
glued, and with the head of another message behind it; then the driver gets bytes that mean
nothing, and with `spoilt_bytes` so many bytes of captures that are spoiled, some of them behind a
checksum that still fits. Whatever is done, the
facts must be the same and cover the stream in order. How a driver behaves besides is looked at in
`acquire.driverapi.conduct`. Of a device whose bytes mean something only as answers (`is_asked`) the
driver is always asked what is due where the capture says that something was sent, as a replayed
tape asks it. Random places come from a seed.

In a process of its own, and with a time limit, all of it is done by `acquire.driverapi.examined`.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import deepcopy
from itertools import pairwise, zip_longest
from typing import NamedTuple

from acquire.driverapi import conduct
from acquire.driverapi.capture import Capture, Step, worded
from acquire.driverapi.driver import Driver, Family
from acquire.driverapi.feeding import (
    START,
    TROUBLES,
    Fed,
    Make,
    by_byte,
    feed,
    glued,
    said,
    whole,
)
from acquire.driverapi.fit import misfit_needs
from acquire.driverapi.junk import junk_bytes, junk_records
from acquire.driverapi.kept import Kept
from acquire.driverapi.needs import LinkNeeds, Needs, UsbNeeds
from acquire.driverapi.outside import Outside
from acquire.driverapi.registry import faults_of
from acquire.driverapi.rules import Finding, Rule
from acquire.driverapi.spoiling import Spoiler, Spoilt
from acquire.driverapi.stretches import joined, raw_of
from acquire.errors import DriverError
from acquire.model import Fact, Samples

__all__ = ["START", "Stage", "stages", "violations"]

RANDOM_CUTS = 20
SPOILT_CONNECTION_BYTES = 2048
SPOILT_STAGE_BYTES = 100_000
"""So that whoever waits sees that it goes on."""
_MOST_BYTES = 40
"""Of a stretch that means something else are shown."""


class Stage(NamedTuple):
    """A part of the examination: what the driver is put through, and what is found then.

    `tries` are the rules that it looks at. `found` does the work, finding by finding.
    """

    name: str
    tries: tuple[Rule, ...]
    found: Iterator[Finding]


def violations(
    family: Family,
    profile: Mapping[str, object],
    captures: Sequence[Capture],
    source: str = "profile",
    seed: int = 1,
    *,
    is_asked: bool = False,
    spoilt_bytes: int = 0,
) -> list[str]:
    """Every way in which a family with this profile breaks the interface; empty if none."""
    return [
        finding.what
        for stage in stages(
            family, profile, captures, source, seed, is_asked=is_asked, spoilt_bytes=spoilt_bytes
        )
        for finding in stage.found
    ]


def stages(
    family: Family,
    profile: Mapping[str, object],
    captures: Sequence[Capture],
    source: str = "profile",
    seed: int = 1,
    *,
    is_asked: bool = False,
    spoilt_bytes: int = 0,
) -> Iterator[Stage]:
    """The whole examination, stage by stage; a stage must be worked off before the next is taken.

    Ends where nothing more can be tried, since the family gives no driver.
    """
    outside = Outside(family)
    number = 0
    for number, stage in enumerate(  # noqa: B007 - it is looked at behind the last
        _stages(family, profile, captures, source, seed, is_asked, spoilt_bytes), 1
    ):
        yield stage._replace(found=outside.over(stage.found))
    if number > 1:
        found = (Finding(Rule.APART, f"apart: {deed}") for deed in outside.reached())
        yield Stage("outside", (Rule.APART,), found)


def _stages(
    family: Family,
    profile: Mapping[str, object],
    captures: Sequence[Capture],
    source: str,
    seed: int,
    is_asked: bool,
    spoilt_bytes: int,
) -> Iterator[Stage]:
    before = deepcopy(profile)
    kept = Kept(family)
    needs: list[Needs] = []
    yield Stage("making", (Rule.INTERFACE,), _making(family, profile, source, needs))
    if not needs:
        return
    kept.made()
    make = lambda: family.driver(profile, source)  # noqa: E731 - a name for one line
    randomness = random.Random(seed)  # noqa: S311 - places to cut, not a secret
    is_records = isinstance(needs[0], UsbNeeds)
    for one in captures:
        found = _against(make, one, randomness, is_asked)
        tries = (Rule.CAPTURES, Rule.BYTES, Rule.ORDER)
        yield Stage(f"capture {one.name}", tries, _named(one.name, found))
        # What is made when it is first wanted is made by now.
        kept.look()
    junk = junk_bytes(randomness) + (junk_records(randomness) if is_records else [])
    yield Stage("junk", (Rule.BYTES, Rule.ORDER), _named("junk", _junk(make, junk)))
    conversations = [one.steps for one in captures]
    messages = sorted({fact.raw for one in captures for fact in one.facts if fact.raw})
    spoiler = Spoiler(conversations, randomness, is_records=is_records, messages=messages)
    for given in range(0, spoilt_bytes, SPOILT_STAGE_BYTES):
        share = min(SPOILT_STAGE_BYTES, spoilt_bytes - given)
        found = _spoilt(make, spoiler, randomness, share)
        yield Stage("spoiled bytes", (Rule.BYTES, Rule.ORDER), _named("spoiled", found))
    kept.look()
    yield from _conduct(make, captures, needs[0], spoiler, spoilt_bytes)
    found = (Finding(Rule.APART, f"apart: {wrong}") for wrong in kept.changed())
    yield Stage("module", (Rule.APART,), found)
    yield Stage("profile", (Rule.INTERFACE,), _unchanged(profile, before))


def _conduct(
    make: Make, captures: Sequence[Capture], needs: Needs, spoiler: Spoiler, spoilt_bytes: int
) -> Iterator[Stage]:
    has_value = any(fact.unit for one in captures for fact in one.facts)
    has_message = any(map(conduct.half_a_message, captures))
    # Without its speed nothing that is sent can be too much for a line.
    is_rated = bool(captures) and not (isinstance(needs, LinkNeeds) and needs.lacks_speed)
    for name, rule, is_tried, found in (
        ("units", Rule.UNITS, has_value, conduct.units(make, captures)),
        ("apart", Rule.APART, True, conduct.apart(make, spoiler)),
        ("lost", Rule.LOST, has_message, conduct.lost(make, captures)),
        ("due", Rule.ASKING, True, conduct.asking(make, captures)),
        ("rates", Rule.RATES, is_rated, conduct.rates(make, captures, needs)),
    ):
        # Without a reading that is known, nothing can show that these are broken.
        tries = (rule,) if is_tried else ()
        yield Stage(name, tries, (Finding(rule, f"{name}: {wrong}") for wrong in found))
    if spoilt_bytes:
        kept = conduct.memory(make, captures, spoilt_bytes, is_records=spoiler.is_records)
        yield Stage(
            "memory", (Rule.MEMORY,), (Finding(Rule.MEMORY, f"memory: {wrong}") for wrong in kept)
        )


def _making(
    family: Family, profile: Mapping[str, object], source: str, good: list[Needs]
) -> Iterator[Finding]:
    """Whether there is a driver at all; then `good` has its needs."""
    rule = Rule.INTERFACE
    if faults := list(faults_of(family, getattr(family, "name", ""))):
        yield from (Finding(rule, fault) for fault in faults)
        return
    try:
        needs = family.needs(profile, source)
        if wrong := misfit_needs(needs):
            yield Finding(rule, f"needs gives no LinkNeeds, UsbNeeds or TypedNeeds: {wrong}")
        if not isinstance(family.driver(profile, source), Driver):
            yield Finding(rule, "driver gives no Driver")
            return
    except TROUBLES as trouble:
        yield Finding(rule, f"the profile is refused: {said(trouble)}")
        return
    good.append(needs)


def _unchanged(profile: object, before: object) -> Iterator[Finding]:
    if profile != before:
        yield Finding(Rule.INTERFACE, "the profile was changed")


def _named(name: str, found: Iterator[Finding]) -> Iterator[Finding]:
    for rule, what in found:
        yield Finding(rule, f"{name}: {what}")


def _failed(how: str, trouble: BaseException) -> Finding:
    rule = Rule.ORDER if isinstance(trouble, DriverError) else Rule.BYTES
    return Finding(rule, f"{how}: {said(trouble)}")


def _anywhere(randomness: random.Random) -> Callable[[bytes], list[bytes]]:
    def cut(data: bytes) -> list[bytes]:
        places = sorted(randomness.randrange(len(data) + 1) for _ in range(randomness.randrange(9)))
        edges = [0, *places, len(data)]
        return [data[a:b] for a, b in pairwise(edges)]

    return cut


def _against(
    make: Make, one: Capture, randomness: random.Random, is_asked: bool
) -> Iterator[Finding]:
    anywhere = _anywhere(randomness)
    ways = [
        ("fed whole", one.steps, whole, True),
        ("with nobody asking due", one.steps, whole, False),
        ("byte by byte", one.steps, by_byte, True),
        ("glued", glued(one.steps), whole, True),
        *(("cut at random", one.steps, anywhere, True) for _ in range(RANDOM_CUTS)),
    ]
    for how, steps, cut, asks_due in ways:
        try:
            fed = feed(make, steps, cut, asks_due=asks_due, is_asked=is_asked)
        except TROUBLES as trouble:
            yield _failed(how, trouble)
            continue
        rule = Rule.CAPTURES if how == "fed whole" else Rule.BYTES
        yield from (Finding(rule, f"{how}: {wrong}") for wrong in _unlike(one, fed))
        facts = joined(fed.facts + fed.last)
        yield from (
            Finding(Rule.ORDER, f"{how}: {wrong}") for wrong in _displaced(one.received, facts)
        )
    yield from _tail(make, one)


def _unlike(one: Capture, fed: Fed) -> Iterator[str]:
    got = [worded(fact) for fact in joined(fed.facts + fed.last)]
    for index, expected in enumerate(one.facts):
        if index >= len(got) or got[index] != expected:
            shown = got[index] if index < len(got) else "nothing"
            yield f"fact {index}: got {shown}, wanted {expected}"
            return
    if len(got) > len(one.facts):
        yield f"got {got[len(one.facts)]} beyond what the capture means"


def _displaced(stream: bytes, facts: Sequence[Fact]) -> Iterator[str]:
    for fact in facts:
        raw = raw_of(fact)
        if stream[fact.start : fact.end] != raw and not isinstance(fact, Samples):
            yield f"raw {raw!r} is not what was received from {fact.start} to {fact.end}"


def _tail(make: Make, one: Capture) -> Iterator[Finding]:
    """The head of a message behind a capture is kept until it is ended or the link is lost."""
    stream = one.received
    head = conduct.half_a_message(one)
    if not head:
        return
    try:
        fed = feed(make, [*one.steps, Step(0.0, b"", head)], whole)
    except TROUBLES as trouble:
        yield _failed("with a tail", trouble)
        return
    rest = b"".join(raw_of(fact) for fact in (fed.facts + fed.last)[len(one.facts) :])
    if rest != head:
        what = f"{head!r} was waiting, {rest!r} came out when the link was lost"
        yield Finding(Rule.LOST, f"with a tail: {what}")
    for wrong in _displaced(stream + head, fed.facts + fed.last):
        yield Finding(Rule.ORDER, f"with a tail: {wrong}")


def _junk(make: Make, junk: list[tuple[str, bytes]]) -> Iterator[Finding]:
    for name, data in junk:
        at_once = [Step(0.0, b"", data)]
        by_sevens = lambda chunk: [chunk[i : i + 7] for i in range(0, len(chunk), 7)]  # noqa: E731
        yield from _alike(name, make, at_once, by_sevens)


def _spoilt(
    make: Make, spoiler: Spoiler, randomness: random.Random, spoilt_bytes: int
) -> Iterator[Finding]:
    given, number = 0, 0
    anywhere = _anywhere(randomness)
    while given < spoilt_bytes:
        spoilt = randomness.choice(list(Spoilt))
        chunks = spoiler.chunks(spoilt, SPOILT_CONNECTION_BYTES)
        steps = glued(Step(c.after_s, b"", c.data, c.takes) for c in chunks)
        yield from _alike(f"{spoilt} {number}", make, steps, anywhere)
        given += sum(len(step.received) for step in steps)
        number += 1


def _alike(
    name: str, make: Make, steps: Sequence[Step], cut: Callable[[bytes], list[bytes]]
) -> Iterator[Finding]:
    """Whatever the bytes mean: fed whole and in other chunks they give the same facts."""
    try:
        one, other = feed(make, steps, whole), feed(make, steps, cut)
    except TROUBLES as trouble:
        yield _failed(name, trouble)
        return
    stream = b"".join(step.received for step in steps)
    for wrong in _displaced(stream, one.facts + one.last):
        yield Finding(Rule.ORDER, f"{name}: {wrong}")
    first, second = (joined(fed.facts + fed.last) for fed in (one, other))
    if wrong := _otherwise(stream, first, second):
        what = f"{name}: other facts when it came in other chunks: {wrong}"
        yield Finding(Rule.BYTES, what)


def _otherwise(stream: bytes, one: Sequence[Fact], other: Sequence[Fact]) -> str:
    """Where two drivers first make something else of the same bytes; empty if they do not."""
    for index, (first, second) in enumerate(zip_longest(one, other)):
        if first is None or second is None or worded(first) != worded(second):
            facts = [fact for fact in (first, second) if fact is not None]
            start, end = min(f.start for f in facts), max(f.end for f in facts)
            shown = stream[start:end]
            cut = " and so on" if len(shown) > _MOST_BYTES else ""
            return (
                f"fact {index}, of bytes {start} to {end} ({shown[:_MOST_BYTES]!r}{cut}): "
                f"whole {_brief(first)}, in chunks {_brief(second)}"
            )
    return ""


def _brief(fact: Fact | None) -> str:
    if fact is None:
        return "nothing"
    one = worded(fact)
    press = "" if one.press is None else f"press {one.press}"
    told = (one.what, one.text, one.unit, one.channel, press, *sorted(one.flags))
    return f"{' '.join(word for word in told if word)} of {len(raw_of(fact))} bytes"
