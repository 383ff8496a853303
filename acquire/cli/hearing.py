"""A port on which presses are heard, and the speed and format of its line found by them.

Text proves its speed; other bytes prove none, and then a person must know it. Main thread.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterable
from itertools import pairwise
from typing import Protocol

from acquire.cli.bursts import Burst, burst
from acquire.cli.bytestold import brief
from acquire.cli.unheard import no_end, unheard
from acquire.clock import Clock
from acquire.driverapi import Parity
from acquire.errors import CoatbenchError, LinkLost, LinkUnavailable, Misfortune, Misuse
from acquire.learn import (
    LINES,
    Chunk,
    Line,
    Looks,
    hear,
    is_stray,
    is_words,
    stray_words,
    without_levels,
)
from acquire.link.base import Link
from acquire.pipeline.sharing import Sharing, SystemUsers, Users, to_end

_AGAIN = "plug the meter in, and learn again"
_LOOK_S = 0.5


class Person(Protocol):
    """Whoever presses the button; `ask` gives what was typed."""

    def ask(self, question: str) -> str: ...

    def tell(self, lines: Iterable[str]) -> None: ...


def is_said(person: Person, question: str, letter: str) -> bool:
    """Whether a person answers y or n with this letter; Enter is the other one."""
    words = {"y": "yes", "n": "no"}
    while True:
        answer = person.ask(question).strip().lower()
        if answer in ("", *words, *words.values()):
            return answer in (letter, words[letter])
        person.tell([f"got {answer!r}, wanted {letter} or Enter"])


class Port:
    """A port, opened anew with every setting that is tried."""

    def __init__(
        self,
        open_line: Callable[[Line], Link],
        clock: Clock,
        wait_s: float,
        person: Person | None,
        tell: Callable[[Iterable[str]], None],
        pause: Callable[[float], None] = time.sleep,
        users: Users | None = None,
    ) -> None:
        self._teller = tell
        self._sharing = Sharing(SystemUsers() if users is None else users)
        self._pause = pause
        self._open = open_line
        self._clock = clock
        self._wait_s = wait_s
        self._person = person
        self._link: Link | None = None
        self._line = LINES[0]
        self.may_be_stray = True
        """Whether a few bytes that nobody sent would be set aside, when it was just opened."""
        self.pause_s = 0.0
        self.chunks: tuple[Chunk, ...] = ()
        """Those of the last press."""
        self.unused: list[tuple[Chunk, ...]] = []
        """What came and was not taken for a press: at another speed, a stream, a broken press."""

    def settled(self, line: Line | None, place: int = 1) -> tuple[Line, bytes]:
        """The settings, and the first press heard with them, which has this number."""
        if line is not None:
            self._reopen(line)
            return line, self.press(place)
        for tried in LINES:
            self._reopen(tried)
            data = self.press(place, f" (listening at {tried})")
            while is_words(data):
                # It may be this speed or not: the next press shows it.
                self.unused.append(self.chunks)
                self._tell(no_number(place, data))
                data = self.press(place, f" (listening at {tried})")
            self.unused.append(self.chunks)
            heard = hear(without_levels(data), tried)
            if heard.looks is not Looks.TEXT:
                heard = hear(data, tried)
            if heard.looks is Looks.TEXT:
                self.unused.pop()
                if heard.line != tried:
                    # Bytes of seven bits and a parity bit: from now on without it.
                    data = _seven_bits(data)
                    self.chunks = tuple(Chunk(at, _seven_bits(part)) for at, part in self.chunks)
                    self._reopen(heard.line)
                self._tell(f"text at {heard.line}: that is its speed")
                return heard.line, data
            if self._person is None:
                break
            words = f"{len(data)} bytes at {tried} are no text: {brief(data)}"
            is_open = no_end(data)
            if heard.looks is not Looks.BINARY and not is_open:
                self._tell(words)
            elif self._goes_on(data, tried) if is_open else self._keeps(words):
                self.unused.pop()
                return tried, data
        raise unheard(data, tried, is_alone=self._person is None)

    def _goes_on(self, data: bytes, tried: Line) -> bool:
        assert self._person is not None
        return is_said(
            self._person,
            f"{brief(data)} at {tried} is a text that nothing ends, which proves no speed. If it "
            "is all that the display shows: y. Else Enter to try the next",
            "y",
        )

    def _keeps(self, words: str) -> bool:
        assert self._person is not None
        return is_said(
            self._person,
            f"{words}. Text would be read at the right speed; only if the meter sends none, and "
            "this is its speed by its manual or menu: y. Else Enter to try the next",
            "y",
        )

    def press(self, place: int, words: str = "") -> bytes:
        """The bytes of the next press. Where the port goes away a person may bring it back."""
        until_ns: int | None = None
        while True:
            try:
                data = self._press(place, words)
                if self.may_be_stray and is_stray(data):
                    # Once: what comes so again is a press.
                    self.may_be_stray = False
                    self.unused.append(self.chunks)
                    self._tell(stray_words(data, place))
                    continue
                return data
            except LinkLost as lost:
                if self._person is None:
                    until_ns = self._wait_for_it(place, lost, until_ns)
                else:
                    self._come_back(place, lost)

    def _press(self, place: int, words: str) -> bytes:
        assert self._link is not None
        # Those of the first one may be old.
        early = self._link.read(0.0) if place > 1 else b""
        if early:
            self._tell(
                f"press {place}: {len(early)} bytes came before you were told to press, and are "
                "taken for it; Enter in place of a number leaves them out"
            )
        else:
            self._tell(f"press {place}: press the button now{words}")
        chunks: list[Chunk] = []
        try:
            heard = burst(self._link, self._clock, self._wait_s, early, chunks)
        except LinkLost:
            if chunks:
                self.unused.append(tuple(chunks))
                self._tell(f"press {place}: it broke off, and is left out: press it again later")
            self._sharing.look(self._link.where)
            if self._sharing.words:
                self._tell(self._sharing.words)
            raise
        if heard.is_endless:
            self.unused.append(heard.chunks)
            raise streaming(heard.data)
        if not heard.chunks:
            raise self._nothing_came(self._link.where)
        self.pause_s = max(self.pause_s, _pause(heard))
        self.chunks = heard.chunks
        return heard.data

    def _nothing_came(self, where: str) -> Misfortune:
        self._sharing.look(where)
        who = self._sharing.who
        other = f"; {who} with {where} open, too, which may have taken them" if who else ""
        step = (
            "look at the cable, and whether its data output is switched on; a meter that must be "
            "asked needs a profile by hand (config/profiles/gloss-asked.toml)"
        )
        return Misfortune(
            "nothing came from the meter",
            got=f"no byte within {self._wait_s:g} s{other}",
            wanted="bytes when its button is pressed",
            next_step=f"{to_end(who)}, and learn again; or {step}" if who else step,
        )

    def _come_back(self, place: int, lost: LinkLost) -> None:
        """Open the port again once a person says that it is there. Raises `LinkLost`."""
        assert self._person is not None
        reason: CoatbenchError = lost
        while True:
            question = (
                f"press {place}: {reason.what}. What was pressed before is kept: plug the meter in "
                "again, then Enter; or n to end"
            )
            if is_said(self._person, question, "n"):
                raise LinkLost(lost.what, got=lost.got, next_step=_AGAIN) from lost
            try:
                self._reopen(self._line)
            except LinkUnavailable as still:
                reason = still
            else:
                self.may_be_stray = True
                return

    def _wait_for_it(self, place: int, lost: LinkLost, until_ns: int | None) -> int:
        """Open the port again once it is there: nobody is asked, and it is waited for as long as
        for a press, up to `until_ns` where that began before. Raises `LinkLost`.
        """
        if until_ns is None:
            until_ns = self._clock.now().mono_ns + round(self._wait_s * 1e9)
            self._tell(
                f"press {place}: {lost.what}. What was pressed before is kept: plug the meter in "
                f"again within {self._wait_s:g} s, and press only once you are told to again: what "
                "is pressed until then is not heard"
            )
        while self._clock.now().mono_ns < until_ns:
            self._pause(_LOOK_S)
            with contextlib.suppress(LinkUnavailable):
                self._reopen(self._line)
                self.may_be_stray = True
                return until_ns
        raise LinkLost(
            lost.what,
            got=f"no meter again within {self._wait_s:g} s",
            wanted="the same meter at the same cable",
            next_step=_AGAIN,
        ) from lost

    def close(self) -> None:
        if self._link is not None:
            self._link.close()
            self._link = None

    def _reopen(self, line: Line) -> None:
        self.close()
        self._line = line
        self._link = self._open(line)
        if words := self._sharing.look(self._link.where):
            self._tell(words)

    def _tell(self, words: str) -> None:
        self._teller([words])


def no_number(place: int, data: bytes) -> str:
    """What is told of a text that is no press, for no number stands in it."""
    return (
        f"press {place}: {brief(data)} came, a text without a number, which is no press: it is "
        "left out"
    )


def _seven_bits(data: bytes) -> bytes:
    return bytes(byte & 0x7F for byte in data)


def line_of(baud: int | None, form: str | None) -> Line | None:
    """The settings of ``--baud`` and ``--format``; None if neither was given."""
    if baud is None and form is None:
        return None
    letters = {"N": Parity.NONE, "E": Parity.EVEN, "O": Parity.ODD}
    form = form or "8N1"
    rate = baud or LINES[0].baud_rate
    return Line(rate, int(form[0]), letters[form[1]], int(form[2]))


def streaming(data: bytes) -> Misuse:
    return Misuse(
        "the meter sends all the time, so that presses cannot be told apart",
        got=f"{len(data)} bytes without a pause, beginning with {brief(data[:40])}",
        wanted="bytes when its button is pressed, and silence between",
        next_step="set the meter to send at its button; for one that streams copy "
        "config/profiles/force-stream.toml",
    )


def _pause(heard: Burst) -> float:
    times = [chunk.at_ns for chunk in heard.chunks]
    return max((b - a for a, b in pairwise(times)), default=0) / 1e9
