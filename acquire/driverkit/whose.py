"""Facts in their order, in which a reading waits until the device has said whose it is. Pure.

An adapter, a bus or a serial server stays open when another device is put behind it, and a reading
does not say which one it is of. So it is held, and what comes after it behind it, until the device
has told its name after it: it is given under that name then. A device that was exchanged before it
gave its reading names itself; one that is exchanged in between makes a reading of before one of
nobody who was checked. Where no name comes the reading is given as of nobody known, and counts for
nothing.

One that was exchanged there and back again is not named by what comes after. So the name must be
the answer to the first question: of a reading whose name comes later, or before which a device was
switched on, nobody is sure, and it is flagged so. What stays unseen is an exchange there and back
within the time of one answer.

When it is asked is the driver's. One object a connection, one thread.
"""

from __future__ import annotations

from acquire.model import UNKNOWN_SERIAL, Fact, Flag, Instant, Notice, NoticeKind, Reading

TRIES = 3
"""So often a device is asked for its name; one that was asked in vain the last time, once."""
MOST_BEHIND_BYTES = 65_536
"""So much of the stream waits behind a reading at most: nobody tells a name on a line that is all
noise."""


class Whose:
    """`holds_readings`: the device can be asked, and its readings wait.

    `answer_ns` is how long a driver that asks by its own clock awaits an answer: all tries take so
    long that the name is given up at a moment which follows from the reading alone. 0 where the
    driver itself gives it up, by `unnamed`, and tells by `doubt` of a first question in vain.
    """

    def __init__(self, *, holds_readings: bool, answer_ns: int = 0) -> None:
        self._holds_readings = holds_readings
        self._answer_ns = answer_ns
        self._name = ""
        self._facts: list[Fact] = []
        self._held: list[Fact] = []
        self._until: Instant | None = None
        self._lag_ns = 0

    @property
    def holds(self) -> bool:
        """Whether a reading waits for a name."""
        return bool(self._held)

    @property
    def until(self) -> Instant | None:
        """When the name is given up; None where nothing waits, or the driver says when."""
        return self._until

    @property
    def tries(self) -> int:
        """How often the device is to be asked."""
        return 1 if self._name == UNKNOWN_SERIAL else TRIES

    def give(self, fact: Fact, *, is_named: bool = False, lag_ns: int = 0) -> None:
        """The next fact of the stream. `is_named`: a reading whose own frame says whose it is.

        `lag_ns`: so much later than its bytes came it was known to be whole, as a name is.
        """
        held = self._held
        if held:
            if isinstance(fact, Notice) and fact.kind is NoticeKind.POWER_UP:
                self.doubt()
            held.append(fact)
            if fact.end - held[0].start > MOST_BEHIND_BYTES:
                self.unnamed()
        elif self._holds_readings and not is_named and isinstance(fact, Reading):
            held.append(fact)
            if self._answer_ns:
                self._lag_ns = lag_ns
                ns = 2 * lag_ns + self._answer_ns * self.tries
                self._until = Instant(fact.at.utc_ns + ns, fact.at.mono_ns + ns)
        else:
            self._facts.append(fact)

    def notice(self, kind: NoticeKind, at: Instant, start: int, text: str = "") -> None:
        """A notice that no frame said by itself: it has a place in the stream and no bytes."""
        self.give(Notice(kind, at, b"", start, start, text))

    def says(self, serial: str, at: Instant, start: int) -> None:
        """The frame that begins there says whose its readings are, which are given next."""
        is_known = serial == self._name
        self.named(serial, at)
        if not is_known:
            self.notice(NoticeKind.IDENTITY, at, start, serial)

    def knows(self, serial: str) -> bool:
        """Whether this is the name that was told last, or the first one since nobody told any."""
        return self._name in ("", UNKNOWN_SERIAL, serial)

    def named(self, serial: str, at: Instant) -> bool:
        """The device told its name; whether that only confirms what is known of a reading."""
        if self._answer_ns:
            self._doubt_before(at.mono_ns - self._lag_ns - self._answer_ns)
        confirms = self.holds and serial == self._name
        self._release(serial)
        self._name = serial
        return confirms

    def unnamed(self) -> None:
        """Nobody told a name to what is held: it is of nobody known."""
        if self.holds:
            self._release(UNKNOWN_SERIAL)
            self._name = UNKNOWN_SERIAL

    def doubt(self) -> None:
        """Whatever name comes, of the readings that are held now nobody is sure."""
        self._held[:] = [unsure(fact) for fact in self._held]

    def taken(self) -> list[Fact]:
        """The facts that wait for nothing, to be given on."""
        facts, self._facts = self._facts, []
        return facts

    def _doubt_before(self, mono_ns: int) -> None:
        """The name is no answer to the question after readings of before; a press is one thing."""
        press: int | None = None
        for place, fact in enumerate(self._held):
            if not isinstance(fact, Reading):
                continue
            if fact.at.mono_ns < mono_ns or (press is not None and fact.press == press):
                press = fact.press
                self._held[place] = unsure(fact)

    def _release(self, serial: str) -> None:
        held, self._held, self._until = self._held, [], None
        if held and serial != self._name:
            # Before the reading, so that it counts for nobody else.
            at, start = held[0].at, held[0].start
            self._facts.append(Notice(NoticeKind.IDENTITY, at, b"", start, start, serial))
        self._facts += held


def unsure(fact: Fact) -> Fact:
    """A reading of which nobody is sure whose it is; any other fact as it is."""
    if not isinstance(fact, Reading):
        return fact
    return fact._replace(flags=fact.flags | {Flag.UNSURE_WHOSE})
