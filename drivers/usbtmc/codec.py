"""What the answers of a device mean by a profile, or why they mean nothing. Pure; any thread.

IEEE 488.2-1992, clause 8 (response formats) and 10.14 (``*IDN?``); SCPI-1999 volume 1, 7.2.1
(numbers that stand for none) and volume 2, 21 (error queue); from memory. Never guesses: an answer
is a result when its whole text fits a pattern of the profile and every value in it is understood.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import NamedTuple

from acquire.driverkit import NO_FLAGS, Heard, Means
from acquire.driverkit.numerals import LONGEST, POWER, Odd, meant
from acquire.model import EvenGrid, Flag
from drivers.usbtmc.profile import Answer, AskedGrid, UsbtmcProfile
from drivers.usbtmc.spectrum import Points, Spectra

_LONGEST_SERIAL = 64
_LONGEST_TROUBLE = 255
"""SCPI-1999 volume 2, 21.8.1."""
# NR1, NR2 and NR3 of 8.7.2 to 8.7.4, and the spaces that some put in front.
_NUMBER = re.compile(rf"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:{POWER})?")
_ERROR = re.compile(r'([+-]?[0-9]{1,5}),"((?:[^"]|"")*)"')
_FLAGS = {flag: frozenset((flag,)) for flag in Flag}
_COUNT = re.compile(r" *\+?([0-9]{1,9})")


class Result(NamedTuple):
    """An answer that is a result: its values, and its spectrum if it has one.

    Without values and spectrum the device has no result. `refused` says, a line each, which bands
    cannot be told, and why.
    """

    heard: list[Heard]
    points: Points | None
    press: int | None
    refused: list[str]


class Trouble(NamedTuple):
    """An entry of the error queue; `code` 0 says that it is empty."""

    code: int
    text: str
    press: int | None


class Codec:
    """Answers by one profile. Keeps the wavelengths that were asked for, and nothing else."""

    def __init__(self, profile: UsbtmcProfile) -> None:
        self._profile = profile
        form = profile.spectrum
        has_counts = profile.beam is not None
        self.spectra = None if form is None else Spectra(form, profile.unit, has_counts=has_counts)
        if self.spectra is not None and isinstance(profile.grid, EvenGrid):
            self.spectra.use(profile.grid)

    def result(self, answer: bytes) -> Result | str:
        """The result that an answer is."""
        profile, spectra = self._profile, self.spectra
        text: str | None = None
        if profile.answers:
            told = _text(answer)
            text = told.strip(" ")
            for kind in profile.answers if told.isascii() else ():
                found = kind.text.fullmatch(text)
                if found is not None:
                    return self._values(kind, found) if kind.is_reading else _NOTHING
        if spectra is None:
            return f"no answer of the profile: {shown(answer)}"
        return self._spectrum(spectra, answer)

    def _spectrum(self, spectra: Spectra, answer: bytes) -> Result | str:
        found = spectra.read(answer)
        if isinstance(found, str):
            return found
        head, block = found
        press = None
        if self._profile.presses.has_count:
            press = _count(head["count"])
            if press is None:
                return f"the count {head['count']!r} is no number"
        if not block:
            return _NOTHING._replace(press=press)
        points = spectra.points(block)
        if isinstance(points, str):
            return points
        heard, refused = spectra.bands(block, press)
        return Result(heard, points, press, refused)

    def _values(self, kind: Answer, found: re.Match[str]) -> Result | str:
        group = found.groupdict()
        press = _count(group.get("count"))
        if press is None and self._profile.presses.has_count:
            return f"the count {group.get('count')!r} is no number"
        heard: list[Heard] = []
        for name, channel in kind.values:
            text = group[name]
            if text is None:
                continue
            one = self._value(text.strip(" "), channel, press)
            if isinstance(one, str):
                return one
            if one is not None:
                heard.append(one)
        return Result(heard, None, press, []) if heard else "no value"

    def _value(self, text: str, channel: str, press: int | None) -> Heard | str | None:
        """One value; None where the device says that there is none."""
        unit = self._profile.unit
        flag = self._profile.out_of_range.find(text)
        value: Decimal | None = None
        if flag is None:
            if _NUMBER.fullmatch(text) is None or len(text) > LONGEST:
                return f"the value {shown(text.encode())} is no number"
            told = meant(text)
            if told is Odd.NO_VALUE:
                return None
            if told is Odd.BEYOND:
                return f"the value {shown(text.encode())} is beyond all measure"
            flag, value = (told, None) if isinstance(told, Flag) else (None, told)
        flags = NO_FLAGS if flag is None else _FLAGS[flag]
        return Heard(Means.READING, text, value, unit, channel, press, flags)

    @staticmethod
    def serial(answer: bytes) -> str | None:
        """The serial number of an answer to ``*IDN?``: the third of four fields (10.14.3).

        Empty where the device has none to tell, which it says by 0; None if it is no such answer.
        """
        fields = _text(answer).split(",")
        if len(fields) != 4:
            return None
        serial = fields[2].strip(" ")
        if not (serial.isascii() and serial.isprintable() and len(serial) <= _LONGEST_SERIAL):
            return None
        return "" if serial == "0" else serial

    def trouble(self, answer: bytes) -> Trouble | None:
        """An entry of the error queue, or None if it is none."""
        text = _text(answer)
        found = _ERROR.fullmatch(text)
        if found is None or not text.isprintable() or len(text) > _LONGEST_TROUBLE + 10:
            return None
        press = None
        if self._profile.error_press is not None:
            counted = self._profile.error_press.fullmatch(text)
            press = None if counted is None else _count(counted["count"])
        return Trouble(int(found[1]), text, press)

    def poll(self, answer: bytes) -> int | bool | None:
        """The count or flag of an answer to a poll, or None if it is none."""
        poll = self._profile.poll
        if poll is None or poll.pattern is None:
            return None
        found = poll.pattern.fullmatch(_text(answer))
        if found is None:
            return None
        group = found.groupdict()
        if "flag" in group:
            return (group["flag"] or "") in poll.fresh
        return _count(group["count"])

    def learn_grid(self, answer: bytes) -> str:
        """Take the wavelengths that were asked for; empty, or in plain words why they are none."""
        asked, spectra = self._profile.grid, self.spectra
        if spectra is None or not isinstance(asked, AskedGrid):
            return "wavelengths that nobody asked for"
        if asked.pattern is None:
            return spectra.learn_block(answer, asked.scale)
        found = asked.pattern.fullmatch(_text(answer))
        if found is None:
            return f"no wavelengths: {shown(answer)}"
        start, step, points = (found[name].strip(" ") for name in ("start", "step", "points"))
        count = _count(points)
        if count is None or not (_NUMBER.fullmatch(start) and _NUMBER.fullmatch(step)):
            return f"wavelengths that are no numbers: {shown(answer)}"
        return spectra.learn_even(float(start), float(step), count)


_NOTHING = Result([], None, None, [])


def _text(answer: bytes) -> str:
    """An answer as text without the line feed that ends it (8.5); one character a byte."""
    return answer.decode("latin-1").removesuffix("\n").removesuffix("\r")


def _count(text: str | None) -> int | None:
    found = None if text is None else _COUNT.fullmatch(text)
    return None if found is None else int(found[1])


def shown(data: bytes) -> str:
    """A piece of an answer for a message: quoted, harmless and short."""
    text = ascii(data[:40].decode("latin-1"))
    return text if len(text) <= 30 else f"{text[:26]}...{text[0]}"
