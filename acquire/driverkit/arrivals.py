"""Samples by the moments they came at, held against the rate that the profile declares. Pure.

All times in a trace follow from that rate, so a wrong one makes every dwell, speed and steady
window wrong and still looks like a trace. What is known of the true rate are the moments of the
computer. They are late by whatever waited in the adapter or while the computer was busy, and never
early but for what was late before. So the flow is measured in windows, and several one after the
other must say the same:

- `APART`: a window is off where its rate is over 1.1 times the declared one, or below it by that
  factor. A gauge's clock is off by a percent, by five where it is a poor one (common practice, no
  source). Beside that, windows that touch share their edges: for a clock that is off by 5 % all of
  them could be off only if 0.2 s of late bytes, four adapters' worth and more, came spread evenly
  over four seconds.
- `WINDOWS` of at least `WINDOW_S`, each from samples that came to samples that came, so that what
  is late by the 0.05 s for which a stream is left alone makes 5 % of one window, at ten samples a
  second as at a thousand.
- `ALIKE`: they agree within that factor. A clock is steady. A computer that was stopped and reads
  a flood, one that does not keep up, and bytes lost in a full buffer are not: their windows differ
  by more, and where four did not, samples are missing and the times are wrong.
- Silences are in no window, so a gauge that sends only while it is pulled is measured by its
  pulls. After one the flow settles for half a window, and windows that are too fast wait while
  all that is too much in them may have been made in the silence: so does a flood that a computer
  reads after it stood still, at a dozen times the rate and as evenly as a clock. They count once
  more has come than that, or where the next silence comes before the flow was ever slower, since
  a stream goes on behind its flood.

The rate that held last is believed until as many windows say something else. Which samples are
counted follows from bytes and moments alone, so a tape that is played gives the same.
"""

from __future__ import annotations

from collections import deque
from decimal import Decimal

from acquire.model import RATE_HOLDS, Instant

APART = 1.1
ALIKE = 1.25
WINDOWS = 4
WINDOW_S = 1.0
SILENCE_S = 1.0
LEAST_SILENT_SAMPLES = 8
"""Of a slow gauge a silence is no shorter than so many samples take."""


class Arrivals:
    """The samples of one connection, told of at each moment at which some came. One thread."""

    def __init__(self, rate_hz: Decimal) -> None:
        self._declared = rate_hz
        self._rate_hz = float(rate_hz)
        self._window_ns = round(WINDOW_S * 1e9)
        self._silence_ns = round(max(SILENCE_S, LEAST_SILENT_SAMPLES / self._rate_hz) * 1e9)
        # The latest moment at which samples came, and how many there were with those of then.
        self._at_ns: int | None = None
        self._samples = 0
        # Where the window under way began; None before the first samples of a flow.
        self._from: tuple[int, int] | None = None
        self._settles = True
        # How much of what comes may have been made in the silence before, by its time at the
        # declared rate, and the windows that wait until it was more or no more is late.
        self._late_ns = 0.0
        self._waiting: deque[tuple[int, int]] = deque(maxlen=WINDOWS)
        # Windows one after the other that say the same.
        self._side = self._told_side = 0
        self._windows = self._run_samples = self._run_ns = 0
        self._least = self._most = 1.0
        self._good_from = 0

    @property
    def is_off(self) -> bool:
        """Whether the flow has another rate than is declared."""
        return self._told_side != 0

    def is_off_since(self, sample: int) -> bool:
        """Whether that was so for any sample from this one on."""
        return self.is_off or self._good_from > sample

    def came(self, samples: int, at: Instant) -> str | None:
        """So many samples have come, the last of them now; what is to be told, if anything."""
        at_ns, before_ns = at.mono_ns, self._at_ns
        said = None
        if before_ns is not None and at_ns > before_ns:
            # Only now is it known that no more came at the moment before.
            is_news = self._look(before_ns)
            if at_ns - before_ns > self._silence_ns:
                is_news |= self._count()
                self._from, self._late_ns = None, at_ns - before_ns
            if is_news:
                said = self._words() if self._told_side else RATE_HOLDS
        self._at_ns, self._samples = at_ns, samples
        return said

    def _look(self, at_ns: int) -> bool:
        """Count in what came up to a moment; whether something is to be told."""
        if self._from is None:
            self._from, self._settles = (at_ns, self._samples), True
            return False
        passed_ns = at_ns - self._from[0]
        if passed_ns < (self._window_ns // 2 if self._settles else self._window_ns):
            return False
        came = self._samples - self._from[1]
        self._from = at_ns, self._samples
        due_ns = came / self._rate_hz * 1e9
        if due_ns > APART * passed_ns:
            self._late_ns -= due_ns - passed_ns
        elif not self._settles:
            # Whatever was late has come.
            self._late_ns = 0.0
            self._waiting.clear()
        if self._settles:
            self._settles = False
            return False
        self._waiting.append((came, passed_ns))
        return self._late_ns <= 0 and self._count()

    def _count(self) -> bool:
        """Count the windows that wait in; whether something is to be told."""
        is_news = False
        while self._waiting:
            is_news |= self._window(*self._waiting.popleft())
        return is_news

    def _window(self, came: int, passed_ns: int) -> bool:
        ratio = came / (self._rate_hz * passed_ns / 1e9)
        side = 1 if ratio > APART else -1 if ratio * APART < 1 else 0
        least, most = min(self._least, ratio), max(self._most, ratio)
        if side != self._side or most > ALIKE * least:
            self._side, self._windows, self._run_samples, self._run_ns = side, 0, 0, 0
            least = most = ratio
        self._least, self._most = least, most
        self._windows += 1
        self._run_samples += came
        self._run_ns += passed_ns
        if self._windows < WINDOWS or side == self._told_side:
            return False
        self._told_side = side
        self._good_from = self._samples
        return True

    def _words(self) -> str:
        measured = float(f"{self._run_samples * 1e9 / self._run_ns:.2g}")
        lost = (
            "; if it is right, samples are lost on their way: look for an adapter or a computer "
            "that does not keep up"
            if self._told_side < 0
            else ""
        )
        return (
            f"about {measured:.6g} samples a second come where its profile says "
            f"{self._declared.normalize():f} (rate_hz), so every time in its traces is wrong and "
            "no pull counts. Next: mend rate_hz in [stream] of its profile by the gauge's manual, "
            f"then coatbench stop and coatbench serve{lost}"
        )
