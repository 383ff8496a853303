"""The terminal bell as a signal: once for accepted, twice for not accepted.

Never waits: the second stroke is due 120 ms after the first and is given when the loop next asks.
The same is always said in words, too. The screen's thread.
"""

from __future__ import annotations

from collections.abc import Callable

from acquire.live.story import Happening
from acquire.live.tone import Tone
from acquire.model import Instant

APART_S = 0.12
QUIET_AFTER_NOISE_S = 2.0
"""A disturbed line may bring noise many times a second; that is one alarm and not a drum."""


class Bell:
    """Strokes by `stroke`; a quiet bell has None."""

    def __init__(self, stroke: Callable[[], None] | None) -> None:
        self._stroke = stroke
        self._second_ns: int | None = None
        self._noise_ns: int | None = None

    def hear(self, happenings: list[Happening], now: Instant) -> None:
        """Sound for what came together: one signal, and a refusal goes before an acceptance."""
        tones = {h.tone for h in happenings if h.table != "noise"}
        if any(h.table == "noise" for h in happenings) and self._is_new_noise(now):
            tones.add(Tone.REFUSED)
        ended = any(h.table == "pass_end" and h.tone is Tone.TROUBLE for h in happenings)
        if Tone.REFUSED in tones or ended:
            self.refused(now)
        elif Tone.ACCEPTED in tones:
            self.accepted()

    def _is_new_noise(self, now: Instant) -> bool:
        before, self._noise_ns = self._noise_ns, now.mono_ns
        return before is None or now.mono_ns - before > QUIET_AFTER_NOISE_S * 1e9

    def accepted(self) -> None:
        if self._second_ns is None:
            self._ring()

    def refused(self, now: Instant) -> None:
        if self._second_ns is None:
            self._ring()
            self._second_ns = now.mono_ns + round(APART_S * 1e9)

    def tick(self, now: Instant) -> None:
        """Give the second stroke if it is due."""
        if self._second_ns is not None and now.mono_ns >= self._second_ns:
            self._second_ns = None
            self._ring()

    def _ring(self) -> None:
        if self._stroke is not None:
            self._stroke()
