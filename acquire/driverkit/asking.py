"""What a device is asked and when, one question at a time: its name, and a result in a rhythm.

Time alone says that a question was in vain. Sends nothing itself; pure. One object a connection,
one thread.
"""

from __future__ import annotations

from acquire.driverkit.manners import Manners
from acquire.model import Instant


class Asking:
    """The next question is due when the last one was answered or its time is up."""

    def __init__(self, manners: Manners) -> None:
        self._manners = manners
        self._answer_ns = round(manners.answer_within_s * 1e9)
        self._asked: Instant | None = None
        self._ask_at: Instant | None = None
        self._is_nameless = False
        self._names_left = 0
        asked = b"" if manners.ask is None else manners.ask.command
        sent = (manners.identify, manners.take, asked)
        self._commands = {one.rstrip(b"\r\n") for one in sent} - {b""}
        self.unanswered = 0
        """So many questions in a row were in vain, of a device that is asked in a rhythm."""

    @property
    def until(self) -> Instant | None:
        """When there is something to be asked or given up; None where nothing is."""
        if self._asked is not None:
            return later(self._asked, self._answer_ns)
        return None if self._manners.ask is None else self._ask_at

    def opening(self, at: Instant, tries: int) -> bytes:
        """Set the device up and ask who is there, where the profile knows how."""
        self._ask_at = at
        self.who_is_there(tries)
        return self._manners.start + self._identify(at)

    def take(self, at: Instant) -> bytes:
        """The profile's command for taking a reading; empty if it has none."""
        if self._manners.take:
            self._asked = at
        return self._manners.take

    def time_is_up(self, now: Instant) -> str:
        """Give up a question that was in vain; what is to be told of a device that is silent.

        One that does not answer in a row is off or its cable is out: told once.
        """
        if self._asked is None or now.mono_ns - self._asked.mono_ns < self._answer_ns:
            return ""
        self._asked = None
        if self._manners.ask is None:
            return ""
        self.unanswered += 1
        if self.unanswered != self._manners.silent_after:
            return ""
        return f"no answer to {self.unanswered} commands in a row"

    def next(self, now: Instant) -> bytes:
        """What is to be asked now."""
        ask = self._manners.ask
        if self._asked is not None:
            return b""
        if self._names_left:
            return self._identify(now)
        if ask is None or self._ask_at is None or now.mono_ns < self._ask_at.mono_ns:
            return b""
        self._asked = now
        self._ask_at = later(now, round(ask.every_s * 1e9))
        return ask.command

    def who_is_there(self, tries: int) -> None:
        """After a reading, and where another instrument may have been put there unseen."""
        self._is_nameless = bool(self._manners.identify)
        self._names_left = tries if self._is_nameless else 0

    def named(self) -> None:
        """It told its name, asked or not."""
        self._is_nameless = False
        self._names_left = 0

    def answered(self) -> None:
        """What came is the answer."""
        self._asked = None

    def spoke(self) -> None:
        """Of an asked meter any result answers; what a sending meter sends may be a press."""
        if self._manners.ask is not None or self._manners.take:
            self._asked = None

    def result(self) -> None:
        """A result came. One that was off when it was asked who it is is on now."""
        if self._asked is not None:
            self.spoke()
        elif self._is_nameless and not self._names_left and not self._manners.ask:
            self._names_left = 1

    def nonsense(self) -> None:
        """What came means nothing; of a device that is asked it was meant as the answer."""
        if self._manners.ask:
            self._asked = None

    def is_echo(self, line: bytes) -> bool:
        """Whether a line is what the device was sent: some adapters and meters give it back."""
        return line in self._commands

    def has_echo(self, line: bytes) -> bool:
        """Whether what the device was sent has come back in the midst of a line."""
        return any(line.endswith(command) for command in self._commands)

    def is_back(self) -> bool:
        """Something came; whether the device had been silent for long."""
        was_silent = self.unanswered >= self._manners.silent_after
        self.unanswered = 0
        return was_silent

    def lost(self) -> None:
        """There is nobody to be asked."""
        self._asked = self._ask_at = None

    def _identify(self, at: Instant) -> bytes:
        if self._names_left:
            self._names_left -= 1
            self._asked = at
        return self._manners.identify


def later(at: Instant, ns: int) -> Instant:
    """So much later, on both clocks."""
    return Instant(at.utc_ns + ns, at.mono_ns + ns)
