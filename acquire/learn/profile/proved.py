"""A learned profile held against the bytes it was learned from, by the very driver it is for.

Every press must give the number that was shown, once, and no other reading. A profile of frames is
also held against what it claims: numbers at its limits are read, numbers beyond them and frames in
which a bit is otherwise that never changed are not; a leap of its count ends the check. Pure.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from decimal import Decimal

from acquire.driverapi import Driver
from acquire.driverapi.registry import Registry
from acquire.errors import CoatbenchError, SettingsError
from acquire.learn.frames.frames import Frame
from acquire.learn.numbers.number import EXACT
from acquire.learn.presses.press import Press, half_step
from acquire.model import Fact, Flag, Instant, Notice, NoticeKind, Reading
from acquire.wire import CHECKSUMS, Proof

_APART_NS = 10_000_000_000
_START = Instant(1_750_000_000_000_000_000, 1_000_000_000_000)


def readings(
    family: str, profile: str, presses: Sequence[bytes], registry: Registry
) -> list[list[Reading]]:
    """What a fresh driver makes of presses that are far apart: its readings, repeats left out.

    Raises `CoatbenchError` if the profile has faults.
    """
    return [
        [f for f in here if isinstance(f, Reading) and Flag.REPEAT not in f.flags]
        for here in _facts(family, profile, presses, registry)
    ]


def _facts(
    family: str, profile: str, presses: Sequence[bytes], registry: Registry
) -> list[list[Fact]]:
    """All that a fresh driver tells of presses that are far apart."""
    driver = registry.family(family).driver(tomllib.loads(profile), "the learned profile")
    return _told(driver, presses, _START)[0]


def _told(
    driver: Driver, presses: Sequence[bytes], now: Instant
) -> tuple[list[list[Fact]], Instant]:
    """What a driver tells of presses from a moment on, as newly connected, and when that ended."""
    driver.opening(now)
    facts: list[list[Fact]] = []
    for data in presses:
        now = _later(now)
        here = list(driver.feed(data, now))
        now = _later(now)
        here += driver.feed(b"", now)
        facts.append(here)
    return facts, now


def faults(
    family: str, profile: str, presses: Sequence[Press], registry: Registry,
    rounded: int | None = None,
) -> list[str]:  # fmt: skip
    """Every way in which the profile does not give what was shown; empty if it is proved.

    `rounded`: to so many decimals the display rounds what is read.
    """
    half = Decimal(0) if rounded is None else half_step(rounded)
    try:
        given = readings(family, profile, [press.data for press in presses], registry)
    except CoatbenchError as error:
        # Its own next step is to mend a file, and where in that is no word to a person: none is
        # written.
        faults_of = error.faults if isinstance(error, SettingsError) else []
        return [
            "its driver takes no such profile",
            *(f"got {fault.got}, wanted {fault.wanted}" for fault in faults_of),
        ]
    found = []
    for number, (here, press) in enumerate(zip(given, presses, strict=True), 1):
        channels = [reading.channel for reading in here]
        values: list[Decimal | None] = [reading.value for reading in here]
        is_shown = any(v is not None and abs(v - press.shown) <= half for v in values)
        if not is_shown or len(set(channels)) < len(channels):
            told = ", ".join(reading.text for reading in here) or "no reading"
            found.append(f"press {number} shows {press.shown} and gives {told}")
    return found


def unclaimed(frame: Frame, profile: str, registry: Registry) -> list[str]:
    """Every way in which a profile of frames does not keep to its own claims."""
    limits, step = frame.limits, EXACT.scaleb(Decimal(1), -frame.limits.decimals)
    wanted: list[tuple[bytes, Decimal | None]] = []
    for value in (limits.least - step, limits.least, limits.most, limits.most + step):
        data = frame.number.write(value, frame.example)
        if data is not None:
            data = frame.held.with_signs(data, value)
        if data is not None and frame.number.read(data) == value and _is_held(frame, data):
            wanted.append((data, value if limits.holds(value) else None))
    for place, mask in enumerate(frame.held.masks):
        if mask:
            changed = bytearray(frame.example)
            changed[place] ^= mask & -mask
            wanted.append((bytes(changed), None))
    for place, seen in frame.held.values.items():
        changed = bytearray(frame.example)
        changed[place] = next(value for value in range(256) if value not in seen)
        wanted.append((bytes(changed), None))
    for place, plus, minus in frame.held.signs:
        if frame.number.read(frame.example):
            changed = bytearray(frame.example)
            changed[place] ^= plus ^ minus
            wanted.append((bytes(changed), None))
    for place in frame.held.copies:
        changed = bytearray(frame.example)
        changed[place] ^= 0x80
        wanted.append((bytes(changed), None))
    angles = frame.angles
    for place, codes in angles.again.items() if angles is not None else ():
        changed = bytearray(frame.example)
        changed[place] = next(code for code in codes if code != changed[place])
        wanted.append((bytes(changed), None))
    twin = frame.held.twin
    if twin is not None:
        wanted = [(twin.written(data), value) for data, value in wanted]
        changed = bytearray(frame.example)
        changed[twin.offset] ^= 0x01
        wanted.append((bytes(changed), None))
    sealed = [_sealed(frame, data) for data, _ in wanted]
    given = readings("frame", profile, sealed, registry)
    return _unended(frame, profile, registry) + [
        f"{data.hex(' ').upper()} gives {', '.join(str(r.value) for r in here) or 'no reading'}"
        for data, here, (_, value) in zip(sealed, given, wanted, strict=True)
        if [reading.value for reading in here] != ([] if value is None else [value])
    ]


def _unended(frame: Frame, profile: str, registry: Registry) -> list[str]:
    """The leaps of its count after which the check goes on. A few presses may have been missed."""
    count, example = frame.held.counted, frame.example
    if count is None:
        return []
    driver = registry.family("frame").driver(tomllib.loads(profile), "the learned profile")
    now = _START
    found = []
    for changed, sent in count.leaps(example):
        data = bytearray(example)
        data[count.places[0] : count.places[-1] + 1] = sent
        for place in frame.held.copies:
            data[place] = data[count.lowest]
        facts, now = _told(driver, [example, _sealed(frame, bytes(data))], now)
        driver.lost(now)
        is_ended = any(isinstance(f, Notice) and f.kind is NoticeKind.POWER_UP for f in facts[1])
        if not is_ended and any(isinstance(f, Reading) for f in facts[1]):
            found.append(f"a count that leaps to {changed} does not end the check")
    return found


def _is_held(frame: Frame, data: bytes) -> bool:
    """Whether nothing in a frame is otherwise than in every press."""
    pairs = zip(frame.held.masks, data, frame.example, strict=True)
    return all((one ^ other) & mask == 0 for mask, one, other in pairs)


def _sealed(frame: Frame, data: bytes) -> bytes:
    """The frame with the checksum that it should have."""
    proof = frame.proven.proof
    if not isinstance(proof, Proof):
        return data
    sent = proof.written(CHECKSUMS[proof.name].of(data[proof.first : proof.last + 1]))
    return data[: proof.at] + sent + data[proof.at + proof.size :]


def _later(at: Instant) -> Instant:
    return Instant(at.utc_ns + _APART_NS, at.mono_ns + _APART_NS)
