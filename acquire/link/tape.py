"""Tapes: what passed over a link, both ways, with times. Recorded, kept in a file, replayed.

A file is JSON lines. The first says when and where the link was opened, each other one what passed
then; a text stands for bytes, character by character (the character 255 is the byte 255):

    {"tape": 1, "opened": [utc_ns, mono_ns], "where": "/dev/ttyUSB0"}
    {"sent": "I?\\r\\n", "at": [utc_ns, mono_ns], "offset": 0}
    {"received": "I,SH-0417*51\\r\\n", "at": [utc_ns, mono_ns], "offset": 0}

A tape replayed through the driver that heard it gives the same readings: `replay` feeds a driver,
`TapeOpener` gives a whole session a link that plays the tape, with a clock that follows it. Writes
nothing but the file it is told to. One thread, but for `cancel`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, NamedTuple

from acquire.clock import Clock
from acquire.driverapi import Driver
from acquire.errors import Fault, LinkLost, LinkUnavailable, SettingsError
from acquire.link.base import Link
from acquire.model import Fact, Instant

RECEIVED = "received"
SENT = "sent"
VERSION = 1


class Passed(NamedTuple):
    """Bytes that passed: `direction` is "received" or "sent", `offset` counts in that direction."""

    direction: str
    offset: int
    at: Instant
    data: bytes


class Tape(NamedTuple):
    """One connection from its opening on."""

    opened: Instant
    where: str
    passed: tuple[Passed, ...]


def tape_of_rows(
    opened: Instant, where: str, rows: Iterable[tuple[str, int, int, int, bytes]]
) -> Tape:
    """A tape from stored rows: (direction, start, UTC ns, monotonic ns, bytes), in any order."""
    passed = [
        Passed(direction, offset, Instant(utc_ns, mono_ns), bytes(data))
        for direction, offset, utc_ns, mono_ns, data in rows
    ]
    # At one moment the host spoke first: what it sent was stamped before it listened.
    passed.sort(key=lambda p: (p.at.mono_ns, p.direction == RECEIVED, p.offset))
    return Tape(opened, where, tuple(passed))


def write_tape(path: Path, tape: Tape) -> None:
    """Keep a tape as a file, in place of what was there."""
    lines = [_head(tape.opened, tape.where), *map(_line, tape.passed)]
    path.write_text("".join(f"{line}\n" for line in lines), encoding="ascii")


def read_tape(path: Path) -> Tape:
    """The tape of a file. Raises `SettingsError` naming every line that is none."""
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(str(path), [Fault("file", str(error), "a tape")]) from None
    faults: list[Fault] = []
    passed: list[Passed] = []
    opened, where = Instant(0, 0), ""
    for number, line in enumerate(lines, 1):
        try:
            entry = json.loads(line)
            if number == 1:
                if entry["tape"] != VERSION:
                    raise ValueError("another version")
                opened, where = _instant(entry["opened"]), str(entry["where"])
            else:
                passed.append(_passed(entry))
        except (ValueError, KeyError, TypeError) as error:
            wanted = "the head of a tape" if number == 1 else "received or sent, with at and offset"
            faults.append(Fault(f"line {number}", f"{line[:60]!r} ({error!r})", wanted))
    if not lines:
        faults.append(Fault("line 1", "nothing", "the head of a tape"))
    if faults:
        raise SettingsError(str(path), faults)
    return Tape(opened, where, tuple(passed))


def replay(driver: Driver, tape: Tape) -> list[Fact]:
    """The facts that a fresh driver makes of a tape, as it made them when the tape was recorded."""
    facts: list[Fact] = []
    now = tape.opened
    opening = driver.opening(now)
    for direction, offset, at, data in tape.passed:
        now = at
        if direction == RECEIVED:
            facts += driver.feed(data, at)
        elif offset or data != opening:
            # It is asked when it was asked then; what it would send now was sent then.
            if driver.due(at).send != data:
                driver.take(at)
            facts += driver.feed(b"", at)
    return facts + driver.lost(now)


class RecordingLink:
    """A link that tells `keep` of everything that passes over another one."""

    def __init__(self, link: Link, clock: Clock, keep: Callable[[Passed], object]) -> None:
        self._link = link
        self._clock = clock
        self._keep = keep
        self._sent = self._received = 0
        self.where = link.where
        self.adapter = link.adapter

    def read(self, timeout_s: float) -> bytes:
        data = self._link.read(timeout_s)
        if data:
            self._keep(Passed(RECEIVED, self._received, self._clock.now(), data))
            self._received += len(data)
        return data

    def write(self, data: bytes) -> None:
        at = self._clock.now()
        self._link.write(data)
        self._keep(Passed(SENT, self._sent, at, data))
        self._sent += len(data)

    def cancel(self) -> None:
        self._link.cancel()

    def close(self) -> None:
        self._link.close()


class TapeClock:
    """A clock that stands where the tape is."""

    def __init__(self, at: Instant) -> None:
        self.at = at

    def now(self) -> Instant:
        return self.at


class TapeLink:
    """Plays a tape: each `read` gives the next chunk and moves the clock to its moment.

    Where the host spoke on the tape, `read` gives b"", as if its time were up, so that whoever
    listens comes to speak. What is written is let go. At the end the link is lost.
    """

    def __init__(self, tape: Tape, clock: TapeClock) -> None:
        self.where = tape.where
        self.adapter = ""
        self._passed = iter(tape.passed)
        self._clock = clock
        self._closed = False
        self._cancelled = False

    def read(self, timeout_s: float) -> bytes:  # noqa: ARG002 - a tape does not wait
        if self._closed:
            raise LinkLost(f"the tape {self.where} is closed", got="closed on this side")
        if self._cancelled:
            self._cancelled = False
            return b""
        passed = next(self._passed, None)
        if passed is None:
            raise LinkLost(f"the tape {self.where} is over", got="its end")
        self._clock.at = passed.at
        return passed.data if passed.direction == RECEIVED else b""

    def write(self, data: bytes) -> None:  # noqa: ARG002 - nobody listens
        if self._closed:
            raise LinkLost(f"the tape {self.where} is closed", got="closed on this side")

    def cancel(self) -> None:
        self._cancelled = True

    def close(self) -> None:
        self._closed = True


class TapeOpener:
    """Opens a tape once; `clock` is the clock for the session that plays it."""

    def __init__(self, tape: Tape) -> None:
        self.address = f"tape of {tape.where}"
        self.clock = TapeClock(tape.opened)
        self._link: TapeLink | None = TapeLink(tape, self.clock)

    def open(self) -> TapeLink:
        link, self._link = self._link, None
        if link is None:
            raise LinkUnavailable(f"the {self.address} has been played", got="its end")
        return link


def _head(opened: Instant, where: str) -> str:
    return json.dumps({"tape": VERSION, "opened": list(opened), "where": where})


def _line(passed: Passed) -> str:
    text = passed.data.decode("latin-1")
    return json.dumps({passed.direction: text, "at": list(passed.at), "offset": passed.offset})


def _instant(pair: Any) -> Instant:
    utc_ns, mono_ns = pair
    if type(utc_ns) is not int or type(mono_ns) is not int:
        raise ValueError("at is two whole numbers")
    return Instant(utc_ns, mono_ns)


def _passed(entry: dict[str, Any]) -> Passed:
    (direction,) = {RECEIVED, SENT} & set(entry)
    offset = entry["offset"]
    if type(offset) is not int or offset < 0:
        raise ValueError("offset is a whole number")
    return Passed(direction, offset, _instant(entry["at"]), entry[direction].encode("latin-1"))
