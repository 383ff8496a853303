"""Results told apart: which are presses of their own, and the facts they become. One thread.

A device that tells of a failed press by the error queue may tell it before or after the result of
another press: counts of failed presses are held until the results that belong before them are in.
"""

from __future__ import annotations

from acquire.driverkit import NO_FLAGS, Heard, Means
from acquire.driverkit.presses import NEW_BIT, Press, PressLog, missed_words
from acquire.model import Fact, Flag, Instant, Noise, Notice, NoticeKind, Reading, Spectrum
from drivers.usbtmc.codec import Result
from drivers.usbtmc.event import Event
from drivers.usbtmc.profile import UsbtmcProfile
from drivers.usbtmc.spectrum import Spectra

_SPECTRUM = "spectrum"


class Results:
    """Those of one connection."""

    def __init__(self, profile: UsbtmcProfile, spectra: Spectra | None) -> None:
        self._profile = profile
        self._spectra = spectra
        self._presses = PressLog(profile.presses, is_asked=True)
        self._failed: list[int] = []
        self._last = b""
        self.has_restarted = False
        """Whether the device was switched on again, to be looked at and unset by who set it up."""

    def connected(self, at: Instant) -> None:
        self._presses.connected(at)

    def press_failed(self, count: int) -> None:
        """The device told of a press that gave no result."""
        self._failed.append(count)

    def settle(self, place: int, at: Instant, below: int | None = None) -> list[Fact]:
        """Count the failed presses below a count, or all: no result of before is still to come."""
        facts: list[Fact] = []
        ready = [count for count in self._failed if below is None or count < below]
        self._failed = [count for count in self._failed if below is not None and count >= below]
        for count in ready:
            press = self._presses.counted(count, is_new=True)
            facts += self._irregular(press, place, at)
        return facts

    def nothing(self, event: Event, at: Instant) -> list[Fact]:
        """The device has no result."""
        if not self._presses.nothing():
            return []
        return [self._restarted(event.start, at)]

    def facts(self, result: Result, event: Event, at: Instant) -> list[Fact]:
        """What a result becomes; nothing if it is the one of before."""
        if self._profile.presses.has_count:
            # The same again, though a press that failed may have taken up a count since.
            if event.data == self._last:
                return []
            self._last = event.data
        facts = self.settle(event.start, at, result.press) if result.press is not None else []
        told = result.heard
        if result.points is not None:
            # Told apart from the one before as if it were a value of a channel of its own.
            whole = Heard(Means.READING, "", None, "", _SPECTRUM, result.press, NO_FLAGS)
            told = [whole, *told]
        flags: list[frozenset[Flag] | None] = []
        for place, heard in enumerate(told):
            press = self._presses.result(event.data, heard, at, goes_on=place > 0)
            facts += self._irregular(press, event.start, at)
            flags.append(press.flags)
        if None in flags:
            return facts
        if self.has_restarted and result.points is not None:
            # It is as it is when it was switched on: form and byte order may be others now.
            why = "a spectrum of a device that was switched on again and is not set up"
            return [*facts, Noise(at, event.raw, event.start, event.end, why)]
        facts += self._told(result, flags, event, at)
        return facts + self.settle(event.end, at)

    def _told(
        self, result: Result, flags: list[frozenset[Flag] | None], event: Event, at: Instant
    ) -> list[Fact]:
        facts: list[Fact] = []
        quantity, unit = self._profile.quantity, self._profile.unit
        raw, start, end = event.raw, event.start, event.end
        points, spectra = result.points, self._spectra
        if points is not None and spectra is not None and spectra.grid is not None:
            own = flags[0] or NO_FLAGS
            flags = flags[1:]
            facts.append(
                Spectrum(
                    quantity, spectra.own_unit, points.values, points.type, spectra.grid,
                    at, raw, start, end, result.press, own,
                )
            )  # fmt: skip
        for heard, pressed in zip(result.heard, flags, strict=True):
            _, text, value, _, channel, press, ranged = heard
            facts.append(
                Reading(
                    quantity, channel, value, unit, text, at, raw, start, end, press,
                    ranged | (pressed or NO_FLAGS),
                )
            )  # fmt: skip
        facts += [
            Notice(NoticeKind.TROUBLE, at, b"", end, end, refused) for refused in result.refused
        ]
        return facts

    def _irregular(self, press: Press, place: int, at: Instant) -> list[Fact]:
        facts: list[Fact] = []
        if press.is_unproven:
            facts.append(Notice(NoticeKind.TROUBLE, at, b"", place, place, NEW_BIT))
        if press.restarted:
            facts.append(self._restarted(place, at))
        if press.missed:
            text = missed_words(press.missed)
            facts.append(Notice(NoticeKind.TROUBLE, at, b"", place, place, text))
        return facts

    def _restarted(self, place: int, at: Instant) -> Notice:
        self.has_restarted = True
        return Notice(NoticeKind.POWER_UP, at, b"", place, place)
