"""A tape played again through the driver and profile of then, held against what was made of it.

The driver is asked when it was asked then, and gets the same bytes in the same chunks. Where bytes
went unrecorded nothing can be compared: facts that touch such a place are told apart. Stores
nothing. One thread.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import ClassVar, NamedTuple

from acquire.driverapi import Driver, UsbNeeds
from acquire.driverapi.fit import Guard
from acquire.driverapi.registry import Registry
from acquire.errors import NotFound, told
from acquire.link.tape import RECEIVED, Made, Passed, Tape, Whose
from acquire.model import Chunk, Fact, Instant, Noise, NoticeKind
from acquire.pipeline.bulk import condensed
from acquire.report.comparing import Comparison, Stretch, compared
from acquire.report.made import NOISE, NOTICE, made_of
from acquire.schema import parse_toml

FAILED = "the driver failed on these bytes"
_END = 2**63 - 1
_NAMING = (NoticeKind.POWER_UP.value, NoticeKind.IDENTITY.value)

Reach = Callable[[Instant], None]
"""Waits until a moment of the tape has come; at full speed it has."""


class Cast(NamedTuple):
    """A driver as it was then. `filler` stands where bytes are missing."""

    name: str
    driver: Driver
    filler: bytes


@dataclass(slots=True)
class Replayed:
    """What came of playing a tape: the facts of now and how they compare with those of then.

    `holes` are the stretches of the received bytes where nothing can be compared, `strayed` counts
    how often the driver would send something else now, `failed` is why it did not come to the end.
    """

    tape: Tape
    made: list[Made] = field(default_factory=list)
    holes: list[Stretch] = field(default_factory=list)
    strayed: int = 0
    first_stray: Passed | None = None
    failed: str = ""

    LAST: ClassVar[int] = _END
    """The end of a hole that has none."""

    @property
    def failed_now(self) -> bool:
        """The driver failed, and did not at this place that day."""
        return bool(self.failed) and not any(
            m.what == NOISE and dict(m.says).get("reason") == FAILED for m in self.tape.made
        )

    def comparison(self) -> Comparison:
        """Then against now."""
        return compared(self.tape.made, self.made, self.holes)


def cast(whose: Whose | None, registry: Registry | None = None) -> Cast:
    """The driver of a tape. Raises `NotFound`, `DriverError` and `SettingsError`."""
    if whose is None:
        raise NotFound(
            "nobody knows which driver heard this tape",
            got="no instrument on it",
            wanted="instrument, driver and profile of then",
            next_step="cut it from its store: coatbench tape cut N --out FILE",
        )
    source = f"profile {whose.profile} as it was then"
    family = (registry or Registry()).family(whose.driver)
    profile = parse_toml(whose.profile_text, source)
    # Records of transfers stand by themselves; a line is ended by whatever ends one.
    filler = b"" if isinstance(family.needs(profile, source), UsbNeeds) else b"\0\r\n"
    return Cast(whose.driver, family.driver(profile, source), filler)


def played(
    tape: Tape,
    cast: Cast,
    reach: Reach | None = None,
    heard: Callable[[Made], object] | None = None,
    *,
    is_whole: bool = True,
    done: Replayed | None = None,
) -> Replayed:
    """Play a tape to its end; `heard` is told of every fact as it is made.

    `done` is filled as it goes on, for whoever breaks it off. `is_whole` False: the tape breaks off
    behind its last bytes, and nobody knows what was made of them.
    """
    done = Replayed(tape) if done is None else done
    for made in _play(tape, cast, reach or _at_once, is_whole, done):
        done.made.append(made)
        if heard is not None:
            heard(made)
    return done


def _at_once(at: Instant) -> None:
    """Full speed."""


class _Places:
    """Where the driver's count of received bytes is on the tape; they differ behind holes."""

    def __init__(self, before: int) -> None:
        self._from = [0]
        self._shift = [before]
        self.fed = 0

    def jump(self, offset: int) -> None:
        """The next byte that is fed is the one at this place of the tape."""
        if self._from[-1] == self.fed:
            self._shift[-1] = offset - self.fed
        else:
            self._from.append(self.fed)
            self._shift.append(offset - self.fed)

    def shift(self, place: int) -> int:
        return self._shift[bisect_right(self._from, place) - 1]

    @property
    def now(self) -> int:
        return self.fed + self._shift[-1]


def _play(tape: Tape, cast: Cast, reach: Reach, is_whole: bool, done: Replayed) -> Iterator[Made]:
    serial = tape.whose.serial if tape.whose else ""
    guard, places = Guard(cast.name, tape.opened), _Places(tape.received_before)
    driver, last = cast.driver, tape.opened

    def worded(facts: list[Fact]) -> Iterator[Made]:
        nonlocal serial
        for fact in facts:
            made = made_of(fact, serial, places.shift(fact.start))
            if made.what == NOTICE:
                said = dict(made.says)
                # Readings carry the number that the device gave itself last.
                serial = said["text"] or serial if said["kind"] in _NAMING else serial
            yield made

    def fed(data: bytes, at: Instant) -> list[Fact]:
        places.fed += len(data)
        return guard.facts(driver.feed(data, at), len(data), at)

    # A stranger's code: whatever it raises is told as it was that day.
    try:
        opening = guard.bytes(driver.opening(tape.opened), "opening")
        for one in tape.passed:
            last = one.at
            reach(one.at)
            if one.direction != RECEIVED:
                if one.offset or one.data != opening:
                    guard.tell(one.at)
                    if driver.due(one.at).send != one.data and driver.take(one.at) != one.data:
                        done.strayed += 1
                        done.first_stray = done.first_stray or one
                    yield from worded(fed(b"", one.at))
                continue
            if one.offset > places.now:
                done.holes.append(Stretch(places.now, one.offset))
                yield from worded(fed(cast.filler, one.at))
                places.jump(one.offset)
            chunk = Chunk(places.fed, one.data, one.at)
            try:
                facts = condensed(fed(one.data, one.at), chunk)
            except Exception as trouble:
                noise = Noise(one.at, one.data, chunk.offset, chunk.offset + len(one.data), FAILED)
                yield from worded([noise])
                done.failed = told(trouble, 300)
                return
            yield from worded(facts)
        yield from worded(_rest(tape, driver, guard, last, is_whole))
    except Exception as trouble:
        done.failed = told(trouble, 300)
    finally:
        # What came last may have become facts only after the tape breaks off.
        if not is_whole or tape.ended is None or tape.ended.is_cut:
            heard = [p.offset for p in tape.passed if p.direction == RECEIVED]
            done.holes.append(Stretch(heard[-1] if heard else 0, _END))


def _rest(tape: Tape, driver: Driver, guard: Guard, last: Instant, is_whole: bool) -> list[Fact]:
    """What is made at the end of a tape."""
    ended = tape.ended
    if ended is None or not is_whole:
        return []
    at = ended.at if ended.at.mono_ns >= last.mono_ns else last
    if ended.is_cut:
        return guard.facts(driver.feed(b"", at), 0, at)
    return guard.facts(driver.lost(at), 0, at)
