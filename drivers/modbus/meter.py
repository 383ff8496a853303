"""What the registers of a meter say from poll to poll: news told from what was known. Pure.

Facts follow from received bytes alone. One object a connection, one thread.
"""

from __future__ import annotations

from acquire.driverkit.presses import NEW_BIT, Press, PressLog, missed_words
from acquire.driverkit.whose import Whose
from acquire.model import Instant, Noise, NoticeKind, Quantity, Reading
from drivers.modbus.codec import Codec, Words
from drivers.modbus.profile import ModbusProfile


class Meter:
    """The meter behind the registers. Its calls say whether it may be another one now."""

    def __init__(self, profile: ModbusProfile, codec: Codec, facts: Whose) -> None:
        self._codec = codec
        self._facts = facts
        self._quantity: Quantity = profile.quantity
        self._counts = profile.count is not None
        self._has_ready = profile.ready is not None
        self._is_state, self._drops_same = profile.is_state, profile.drops_same
        self._presses = PressLog(profile.presses, is_asked=self._counts)
        self._key: bytes | None = None
        self._seen_key: bytes | None = None
        self._is_zero = False
        self._was_ready: bool | None = None
        self._looked_at = -1
        self._adjustments: int | None = None
        self._troubles: frozenset[str] = frozenset()
        self._just_told: frozenset[str] = frozenset()
        self.is_in_doubt = False
        """It was switched off and on, or its count leapt: another meter may have been put there."""

    def connected(self, at: Instant) -> None:
        self._presses.connected(at)

    def woke(self, at: Instant, start: int) -> None:
        """It answers after a silence: it was off, or its cable was out."""
        self._facts.notice(NoticeKind.POWER_UP, at, start)
        self._presses.woke()
        self._key = self._was_ready = None
        self._adjustments = None
        self._is_zero = False
        self._troubles = frozenset()
        self.is_in_doubt = True

    def has_news(self, words: Words, at: Instant, start: int) -> bool:
        """Whether the block that is watched shows a result that was not told yet."""
        self._look(words, at, start)
        self._looked_at = start
        if self._has_ready:
            is_ready = self._codec.is_ready(words)
            if not is_ready:
                self._was_ready = False
                self._presses.nothing()
            return is_ready and self._was_ready is not True
        key = self._codec.key(words)
        if self._is_state:
            self._seen_key = key
            return key != self._key or not self._drops_same
        if key == self._key:
            return False
        self._seen_key = key
        if self._codec.count(words) != 0:
            return True
        # No press since it was switched on.
        self._key = key
        if not self._is_zero:
            if self._presses.nothing():
                self._facts.notice(NoticeKind.POWER_UP, at, start)
                self.is_in_doubt = True
            self._presses.counted(0, is_new=True)
            self._is_zero = True
        return False

    def same_result(self, before: Words, after: Words) -> bool:
        """Whether the watched block still shows the result that the values between belong to."""
        if self._has_ready:
            return self._codec.is_ready(after)
        if self._is_state:
            return True
        return self._codec.key(before) == self._codec.key(after)

    def result(self, words: Words, at: Instant, start: int, raw: bytes) -> None:
        """The facts of a result; `raw` are all the bytes it was read in, from `start` on."""
        self._key = self._seen_key
        self._was_ready, self._is_zero = True, False
        if self._looked_at != start or len(words) > 1:
            self._look(words, at, start, may_repeat=True)
        codec, facts = self._codec, self._facts
        end = start + len(raw)
        count = codec.count(words) if self._counts else None
        if spoiled := codec.spoiling(words):
            if isinstance(count, int):
                press = self._presses.counted(count, is_new=True)
                self._irregular(press, at, start)
            for text in spoiled:
                if text not in self._just_told:
                    facts.notice(NoticeKind.TROUBLE, at, start, text)
            return
        heard = count if isinstance(count, str) else codec.readings(words, count)
        if isinstance(heard, str):
            facts.give(Noise(at, raw, start, end, heard))
            return
        readings: list[Reading] = []
        for place, one in enumerate(heard):
            _, text, value, unit, channel, number, flags = one
            frame = f"{text} {unit} {' '.join(sorted(flags)) if flags else ''}".encode()
            press = self._presses.result(frame, one, at, goes_on=place > 0)
            flagged = press.flags
            self._irregular(press, at, start)
            if flagged is not None:
                readings.append(
                    Reading(
                        self._quantity, channel, value, unit, text, at, raw, start, end,
                        number, flags | flagged,
                    )
                )  # fmt: skip
        for reading in readings:
            facts.give(reading)

    def _look(self, words: Words, at: Instant, start: int, *, may_repeat: bool = False) -> None:
        """Tell of adjustments and troubles that were not there before."""
        adjustments = self._codec.adjustments(words)
        if adjustments is not None:
            if self._adjustments is not None and adjustments != self._adjustments:
                self._facts.notice(NoticeKind.ADJUSTED, at, start)
            self._adjustments = adjustments
        if not may_repeat:
            self._just_told = frozenset()
        for text, is_set in self._codec.troubles(words).items():
            if is_set and text not in self._troubles:
                self._facts.notice(NoticeKind.TROUBLE, at, start, text)
                self._just_told |= {text}
            if is_set != (text in self._troubles):
                self._troubles ^= {text}

    def _irregular(self, press: Press, at: Instant, start: int) -> None:
        if press.is_unproven:
            self._facts.notice(NoticeKind.TROUBLE, at, start, NEW_BIT)
        if press.restarted:
            self._facts.notice(NoticeKind.POWER_UP, at, start)
            self.is_in_doubt = True
        if press.missed:
            self.is_in_doubt = True
            self._facts.notice(NoticeKind.TROUBLE, at, start, missed_words(press.missed))
