"""A lesson: presses are heard or read from a tape, a person says what was shown, and it is learned.

The person is a seam, and so is the way to open a port: both are given. Main thread.
"""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from decimal import Decimal

from acquire.cli.bytestold import brief
from acquire.cli.hearing import Person, Port, no_number, streaming
from acquire.cli.kepttape import Record, Taken
from acquire.cli.lessonwords import (
    LEAST_PRESSES,
    all_left_out,
    nobody_there,
    none_to_come,
    telling,
    uneven,
)
from acquire.cli.mistyped import FOURTH_PRESS, ONE_OF_THREE, odd_step, odd_words
from acquire.cli.questions import Questions
from acquire.cli.saidofmeter import Given, SaidOfMeter
from acquire.clock import Clock
from acquire.driverapi.registry import Registry
from acquire.learn import (
    LINES,
    About,
    Chunk,
    Finding,
    Line,
    Odd,
    Outcome,
    Press,
    as_one_words,
    frames_in,
    is_stray,
    is_words,
    learn,
    odd_one,
    split,
    stray_words,
    unstrayed,
)
from acquire.link.base import Link

MOST_PRESSES = 10

Shown = Decimal | None
"""What the display showed; None for bytes that were no press and are left out."""


def _no_presses(heard: Sequence[bytes]) -> list[int]:
    """The places of bytes that nobody sent, and of texts without a number, such as a greeting."""
    return [place for place, data in enumerate(heard) if is_stray(data) or is_words(data)]


def _set_aside(data: bytes, place: int) -> str:
    return stray_words(data, place) if is_stray(data) else no_number(place, data)


class Lesson:
    """One meter. `person` None: nobody is there to be asked, and all there is to say was said."""

    def __init__(
        self,
        given: Given,
        person: Person | None,
        registry: Registry,
        tell: Callable[[Iterable[str]], None] | None = None,
    ) -> None:
        self._teller = tell if person is None else person.tell
        self._person = person
        self._questions = None if person is None else Questions(person)
        self._meter = SaidOfMeter(given, self._questions, self._tell)
        self._registry = registry
        self._given_line = given.line
        self._line = given.line or LINES[0]
        self.is_line_known = given.line is not None
        """Whether the presses were heard at these settings, and not at one that was tried."""
        self._pause_s = self._again_s = 0.0
        # Of the presses that are learned from, where some were left out.
        self._numbers: list[int] = []
        self._presses: list[Press] = []
        self._record = Record()
        self._port: Port | None = None

    @property
    def is_asking(self) -> bool:
        """Whether somebody is there to be asked."""
        return self._person is not None

    @property
    def taken(self) -> list[Taken]:
        """All presses so far with what was said of each, those that were left out, too.

        Where there is none, what else came: bytes are never thrown away.
        """
        taken = self._record.taken(self._presses)
        if not taken and self._port is not None:
            return [Taken(chunks, None) for chunks in self._port.unused]
        return taken

    @property
    def line(self) -> Line:
        """The settings of the line at which they were heard."""
        return self._line

    # -- from where the presses come ---------------------------------------------------------------

    def of_tape(
        self, chunks: Sequence[Chunk], shown: Sequence[Shown],
        moments: Mapping[int, datetime] | None = None,
    ) -> tuple[Finding, About]:  # fmt: skip
        """Learn from a capture. Raises `Misuse` where presses and numbers do not go together.

        `moments` is when chunks came by the host's clock, by their own time.
        """
        self._of_tape(chunks, shown, moments or {})
        found, about = self._learned(self._presses)
        if found.is_meagre and self.is_asking and self._is_taken(found, is_last=True):
            found = replace(found, outcome=Outcome.SURE)
        return found, about

    def _of_tape(
        self, chunks: Sequence[Chunk], shown: Sequence[Shown], moments: Mapping[int, datetime]
    ) -> None:
        heard = split(chunks, len(shown) or None)
        if heard.streams:
            raise streaming(b"".join(chunk.data for chunk in chunks))
        self._pause_s, self._again_s = heard.pause_s, heard.again_s
        values = self._without_stray(heard.presses, shown) or self._typed(heard.presses)
        if len(values) != len(heard.presses):
            raise uneven(heard.presses, len(values))
        ends = (*heard.begins[1:], 1 + max((chunk.at_ns for chunk in chunks), default=0))
        for number, (data, value, begun, end) in enumerate(
            zip(heard.presses, values, heard.begins, ends, strict=True), 1
        ):
            self._record.heard(tuple(c for c in chunks if begun <= c.at_ns < end))
            if value is not None:
                self._said(Press(data, value, moments.get(begun)), number)

    def _without_stray(self, presses: Sequence[bytes], shown: Sequence[Shown]) -> Sequence[Shown]:
        """The numbers, and None for what is no press, where there is no number for it."""
        strays = _no_presses(presses)
        if not (shown and strays and len(shown) + len(strays) == len(presses)):
            return shown
        values = iter(shown)
        self._tell([_set_aside(presses[place], place + 1) for place in strays])
        return [None if place in strays else next(values) for place in range(len(presses))]

    def _said(self, press: Press, number: int) -> None:
        """The press that came last showed something: it is learned from."""
        self._record.said(len(self._presses))
        self._presses.append(press)
        self._numbers.append(number)

    def of_port(
        self,
        open_line: Callable[[Line], Link],
        clock: Clock,
        shown: Sequence[Shown],
        wait_s: float,
        pause: Callable[[float], None] = time.sleep,
    ) -> tuple[Finding, About]:
        """Learn from a meter that is pressed now, beside what was taken from a tape before.

        `pause` lets time go by. Raises `LinkError`, `Misuse`, `Misfortune`.
        """
        self._port = port = Port(open_line, clock, wait_s, self._person, self._tell, pause)
        before = len(self._presses)
        # What was left out beforehand takes its turn.
        port.may_be_stray = list(shown[:1]) != [None]
        try:
            self._line, data = port.settled(self._given_line, before + 1)
            self.is_line_known = True
            for turn in itertools.count(1):
                said = shown[turn - 1] if shown else None
                data = self._with_number(port, data, said, before + turn)
                self._pause_s = max(self._pause_s, port.pause_s)
                at = clock.now().utc().astimezone()
                self._record.heard(port.chunks)
                value = self._shown(data, shown, turn)
                if value is not None:
                    self._said(Press(data, value, at), before + turn)
                    if not shown:
                        self._meter.keep_to(value)
                done = self._enough(self._presses, len(shown) - turn if shown else None)
                if done is not None:
                    return done
                data = port.press(before + turn + 1)
            raise AssertionError("presses are counted without end")
        finally:
            port.close()

    def of_tape_and_port(
        self, chunks: Sequence[Chunk], moments: Mapping[int, datetime],
        open_line: Callable[[Line], Link], clock: Clock, shown: Sequence[Shown], wait_s: float,
    ) -> tuple[Finding, About]:  # fmt: skip
        """Learn from the presses of a tape, of which the first numbers are, and from further ones.

        Raises as `of_tape` and `of_port` do.
        """
        heard = split(chunks).presses if shown else ()
        strays = _no_presses(heard)
        # Whoever left them out has counted them.
        is_counted = all([*shown[place : place + 1]] == [None] for place in strays)
        taped = len(heard) - (0 if is_counted else len(strays))
        if shown and len(shown) < taped:
            raise uneven(heard, len(shown))
        if shown and len(shown) == taped:
            raise none_to_come(taped)
        self._of_tape(chunks, shown[:taped], moments)
        return self.of_port(open_line, clock, shown[taped:], wait_s)

    def _with_number(self, port: Port, data: bytes, value: Shown, place: int) -> bytes:
        """The press, or the next one where a number was said for a text that has none."""
        while value is not None and is_words(data):
            self._record.heard(port.chunks)
            self._tell([no_number(place, data)])
            data = port.press(place)
        return data

    def _shown(self, data: bytes, shown: Sequence[Shown], turn: int) -> Shown:
        if shown:
            return shown[turn - 1]
        before = [press.data for press in self._presses]
        count = frames_in(data, before)
        if count <= 1:
            return self._asking().number(f"{len(data)} bytes came. What does the display show?")
        self._tell([as_one_words(data, count)])
        return self._asking().number("Enter to leave them out; or what does the display show?")

    def _enough(self, presses: list[Press], left: int | None) -> tuple[Finding, About] | None:
        if left is not None:
            return None if left else self._learned(presses)
        if len(presses) < LEAST_PRESSES:
            return None
        found, about = self._learned(presses)
        if found.is_meagre and self._is_taken(found, is_last=len(presses) >= MOST_PRESSES):
            return replace(found, outcome=Outcome.SURE), about
        if found.is_nowhere and len(presses) == LEAST_PRESSES:
            self._tell(["", *found.believed, found.mistyped])
            return None
        is_over = found.is_anew or found.outcome in (Outcome.NONE, Outcome.UNSAID)
        if is_over or len(presses) >= MOST_PRESSES:
            return found, about
        if found.outcome is Outcome.SURE and not self._goes_on(found):
            return found, about
        self._tell(["", *telling(found)])
        return None

    def _goes_on(self, found: Finding) -> bool:
        is_open = found.is_proof_open or found.is_state_open
        if not is_open and found.tell_below is None:
            return False
        self._tell(["it is sure of the number; one more press would tell more:", *telling(found)])
        then = ": its checksum is not used then" if found.is_proof_open else ""
        return self._asking().is_yes(f"Press once more? y, or Enter to be content{then}")

    def _is_taken(self, found: Finding, *, is_last: bool) -> bool:
        """Whether the person wants a profile that makes noise of most presses."""
        self._tell(["it is sure of the number, and not of what may stand beside it:"])
        self._tell([f"  {found.unseen[0]}"])
        if is_last:
            return self._asking().is_yes("Take it as it is? y, or Enter to leave it")
        return self._asking().is_no("Press once more? Enter, or n to take it as it is")

    def _typed(self, presses: Sequence[bytes]) -> list[Shown]:
        if self._person is None:
            raise nobody_there(len(presses))
        return [
            self._asking().number(
                f"Press {place} of {len(presses)}: {brief(data)}. What did the display show? "
                "(Enter to leave it out)"
            )
            for place, data in enumerate(presses, 1)
        ]

    # -- learning ----------------------------------------------------------------------------------

    def _learned(self, presses: list[Press]) -> tuple[Finding, About]:
        if not presses:
            raise all_left_out(len(self.taken))
        about = self._about(presses)
        while True:
            found = learn(presses, about, self._registry)
            if found.is_nowhere and len(presses) == LEAST_PRESSES:
                step = found.next_step or FOURTH_PRESS
                found = replace(found, mistyped=ONE_OF_THREE, next_step=step)
            elif found.is_nowhere and (odd := odd_one(presses, about, self._registry)) is not None:
                if self._is_typed_again(odd, presses):
                    about = self._about(presses)
                    continue
                words = odd_words(self._numbers[odd.place], odd, presses[odd.place].shown)
                found = replace(found, mistyped=words, next_step=odd_step(odd))
            if self._meter.is_taken_back(found.against):
                about = self._about(presses)
                continue
            more = self._meter.completed(about, found, presses)
            if more is None:
                return found, about
            about = more

    def _is_typed_again(self, odd: Odd, presses: list[Press]) -> bool:
        """Whether the person types another number for the press that is odd."""
        if self._person is None:
            return False
        typed = presses[odd.place].shown
        words = odd_words(self._numbers[odd.place], odd, typed)
        value = self._asking().number(
            f"All presses but one go together: {words}. What did its display show? "
            f"(Enter if it was {typed})"
        )
        if value is None or value == typed:
            return False
        presses[odd.place] = replace(presses[odd.place], shown=value)
        self._meter.keep_to(value)
        return True

    def _about(self, presses: list[Press]) -> About:
        presses = [*unstrayed(presses).presses]
        return self._meter.about(presses, self._line, self._pause_s, self._again_s)

    def _asking(self) -> Questions:
        assert self._questions is not None
        return self._questions

    def _tell(self, lines: Iterable[str]) -> None:
        if self._teller is not None:
            self._teller(lines)
