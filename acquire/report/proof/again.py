"""Places of a connection made again: its tape played through the driver and the profile of then.

Nothing is kept but what belongs to the places that are asked for, and nothing is played behind the
last of them, so that a gauge that streamed all day takes no more room than one press. Reads the
store alone; the reader's thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any, NamedTuple

from acquire.driverapi.registry import Registry
from acquire.errors import CoatbenchError
from acquire.link.kept import Kept
from acquire.link.tape import RECEIVED, Ended, Passed, Tape, replaying
from acquire.model import Fact, Flag, Instant, Reading, Samples
from acquire.report.record.described import Descriptions
from acquire.report.record.spans import OWN_ROWS, Span, last_of, span_of
from acquire.report.replay.taped import ended_of
from acquire.schema import parse_toml
from acquire.store import StoreReader
from acquire.units import normalise

Place = tuple[int, int]
"""A stretch of the received bytes, from its first to behind its last."""
_PART = 65_536
_NOT_TOLD = frozenset((Flag.UNSURE_WHOSE, Flag.OTHER_RATE))
_LONG_NS = 3_600_000_000_000


class Replay(NamedTuple):
    """A connection played again: driver and profile of then, its bytes, what they give.

    `readings` are those of the places that were asked for, `samples` those that touch the stretch
    that was. `why_not` says why it could not be played.
    """

    driver: str
    profile: str
    stretches: Mapping[Place, bytes]
    readings: Mapping[Place, tuple[Reading, ...]]
    why_not: str = ""
    samples: tuple[Samples, ...] = ()

    def unlike(self, row: dict[str, Any]) -> list[str]:
        """What the tape gives otherwise than the row of a reading has it; empty if all is so."""
        if self.why_not:
            return [f"the driver of then is not to be had: {self.why_not}"]
        return _unlike(row, self.bytes_at(row["raw_start"], row["raw_end"]), self.at(row))

    def bytes_at(self, start: int, end: int) -> bytes:
        """The bytes of a place that was asked for."""
        return self.stretches.get((start, end), b"")

    def at(self, row: dict[str, Any]) -> list[Reading]:
        """The readings of now from the bytes of a row."""
        again = list(self.readings.get((row["raw_start"], row["raw_end"]), ()))
        if len(again) > 1:
            # A press of several angles may give them from the same bytes.
            again = [r for r in again if r.channel == row["channel"]]
        return again


def replayed(
    reader: StoreReader,
    connection_id: int,
    registry: Registry,
    places: Iterable[Place],
    samples: Place | None = None,
) -> Replay:
    """Play the tape of a connection through the driver and the profile of then, for these places.

    `samples` is a stretch whose samples are wanted, too.
    """
    (connection,) = reader.rows("SELECT * FROM connection WHERE id = ?", (connection_id,))
    described = Descriptions(reader).of(connection)
    if described is None:
        name = connection["instrument"]
        return Replay("", "", {}, {}, f"nothing is kept of how {name} was described")
    source = f"profile {described['profile']} as stored"
    try:
        driver = registry.family(described["driver"]).driver(
            parse_toml(described["profile_text"], source), source
        )
    except CoatbenchError as error:
        why = " ".join(str(error).split())
        return Replay(described["driver"], described["profile"], {}, {}, why)
    wanted = _Wanted(places)
    span = span_of(reader, connection_id)

    def passed() -> Iterator[Passed]:
        # By number: clocks tick too coarsely to tell which of two came first.
        rows = reader.each(f"SELECT * {OWN_ROWS} ORDER BY id", span)
        for one in _without_holes(
            Passed(t["direction"], t["start"], Instant(t["at_utc_ns"], t["at_mono_ns"]), t["bytes"])
            for t in rows
        ):
            if one.direction == RECEIVED:
                wanted.pass_by(one.offset, one.data)
            yield one

    opened = Instant(connection["at_utc_ns"], connection["at_mono_ns"])
    tape = Tape(
        opened,
        connection["opened_as"],
        Kept(passed),
        ended=_ended(reader, span, opened),
    )
    found: dict[Place, list[Reading]] = {}
    sampled: list[Samples] = []
    until = max(wanted.until, samples[1] if samples else 0)
    for fact in replaying(driver, tape):
        if isinstance(fact, Reading) and (fact.start, fact.end) in wanted.places:
            found.setdefault((fact.start, fact.end), []).append(fact)
        elif isinstance(fact, Samples) and samples and _touches(fact, samples):
            sampled.append(fact)
        if fact.start >= until and fact.end > until:
            break
    return Replay(
        described["driver"],
        described["profile"],
        wanted.stretches,
        {place: tuple(readings) for place, readings in found.items()},
        "",
        tuple(sampled),
    )


def _ended(reader: StoreReader, span: Span, opened: Instant) -> Ended:
    """When the connection ended. One that has no end goes on: what waited for a silence had it."""
    last = last_of(reader, span)
    ended = ended_of(reader, span.connection_id, opened, last)
    if ended is not None:
        return ended
    at_mono_ns = reader.one("SELECT at_mono_ns FROM tape WHERE id = ?", (last,)) or opened.mono_ns
    ns = at_mono_ns + _LONG_NS
    return Ended(Instant(opened.utc_ns + ns - opened.mono_ns, ns), "it goes on")


def _touches(fact: Fact, stretch: Place) -> bool:
    return fact.start < stretch[1] and stretch[0] < fact.end


class _Wanted:
    """The bytes of places, taken out of a stream as it passes by."""

    def __init__(self, places: Iterable[Place]) -> None:
        self.places = frozenset(places)
        self.until = max((end for _, end in self.places), default=0)
        self._parts: dict[Place, bytearray] = {}
        self._open: list[Place] = []
        self._to_come = sorted(self.places, reverse=True)

    @property
    def stretches(self) -> dict[Place, bytes]:
        return {place: bytes(part) for place, part in self._parts.items()}

    def pass_by(self, offset: int, data: bytes) -> None:
        """The bytes from a place of the stream on."""
        end = offset + len(data)
        while self._to_come and self._to_come[-1][0] < end:
            place = self._to_come.pop()
            self._parts[place] = bytearray()
            self._open.append(place)
        for place in self._open:
            first, last = place
            self._parts[place] += data[max(0, first - offset) : max(0, last - offset)]
        self._open = [place for place in self._open if place[1] > end]


def _without_holes(passed: Iterable[Passed]) -> Iterator[Passed]:
    """What passed, with noise where bytes went unrecorded, so that every offset holds."""
    at = 0
    for one in passed:
        if one.direction == RECEIVED:
            # It ends a line by whatever ends one, so that the next line stands alone.
            while at < one.offset:
                left = one.offset - at
                noise = b"\0" * (_PART - 2) if left > _PART else b"\0" * (left - 2) + b"\r\n"
                noise = noise[-left:]
                yield Passed(RECEIVED, at, one.at, noise)
                at += len(noise)
            at = one.offset + len(one.data)
        yield one


def _told(flags: Iterable[str]) -> str:
    """What the device told of a value. Whose it is the bytes of a reading do not tell, nor the
    rate at which those before them came.

    Tapes of before it was asked so have its name late or not at all, and prove what they did; so
    do those of before a rate was held against the moments.
    """
    return ",".join(sorted(flag for flag in flags if flag not in _NOT_TOLD))


def _unlike(row: dict[str, Any], there: bytes, again: list[Reading]) -> list[str]:
    """What the tape gives otherwise than the row has it, each with both."""
    stored = {
        "bytes": row["raw"], "text": row["sent_text"], "unit as sent": row["sent_unit"],
        "flags": _told(row["flags"].split(",")), "quantity": row["quantity"],
        "channel": row["channel"],
        "value": row["value"], "value as a number": row["value_real"], "unit": row["unit"],
    }  # fmt: skip
    if len(again) != 1:
        return [f"{len(again)} readings at these bytes, and not one"]
    (now,) = again
    value, unit = normalise(Decimal(0) if now.value is None else now.value, now.unit, now.quantity)
    digits = None if now.value is None else str(value)
    given = {
        "bytes": there, "text": now.text, "unit as sent": now.unit,
        "flags": _told(now.flags), "quantity": now.quantity.value,
        "channel": now.channel, "value": digits,
        "value as a number": None if digits is None else float(digits), "unit": unit,
    }  # fmt: skip
    return [
        f"{name} {stored[name]!r} stored, {given[name]!r} from the tape"
        for name in stored
        if stored[name] != given[name]
    ]
