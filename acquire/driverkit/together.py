"""What a device sends at one press, taken together: all of it is good, or none of it is.

A value may come with a word on how it went, before it or behind it, and a value that was given out
cannot be taken back. So frames wait here until the line has been silent for a while; then a judge
looks at all that came. A reading is known that much later, and bears the moment its bytes came.

- *spoiled*: something before or behind a good frame is no frame -> all of it is faulty;
- *endless*: no silence comes -> faulty frames, up to the next silence;
- *torn*: the link is lost before the silence -> faulty: what else would have come nobody knows.

Nobody presses twice within that silence. So the same frame again is a repeat of the press, unless
a count tells presses apart.

Knows no meaning. One thread at a time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal

from acquire.driverkit.framer import Framer
from acquire.driverkit.heard import Heard, Means
from acquire.driverkit.manners import Manners
from acquire.model import Instant
from acquire.wire import Frame
from acquire.wire.silence import Silence

MOST_BYTES = 8192
"""A press of that many bytes is none: at 115,200 baud it goes on for 0.7 s."""

Judge = Callable[[list[Frame], Callable[[int, int], bytes]], list[Frame]]
"""The frames of a press, all good or all faulty; it is given those that came, and the bytes of the
stream from one place up to another one."""

_ENDLESS = f"more than {MOST_BYTES} bytes without a silence"
_TORN = "the link was lost before the silence that ends a press"


class Together:
    """Implements `acquire.driverkit.framer.Framer` over another framer.

    `silence_s`: a pause of this length, with no frame begun, ends a press.
    """

    def __init__(self, inner: Framer, silence_s: float, judge: Judge) -> None:
        self._inner = inner
        self._silence = Silence(silence_s)
        self._judge = judge
        self._frames: list[Frame] = []
        # The bytes of the press and where in the stream they begin.
        self._bytes = bytearray()
        self._start = 0
        self._is_endless = False

    @property
    def waiting_bytes(self) -> int:
        """Bytes that are in no frame yet, all of those of a press."""
        return len(self._bytes)

    @property
    def deadline(self) -> Instant | None:
        """When the silence ends the press; None where nothing waits."""
        end, inner = self._silence.end, self._inner.deadline
        if end is None or inner is None:
            return end
        return max(end, inner, key=lambda moment: moment.mono_ns)

    def feed(self, data: bytes, at: Instant) -> list[Frame]:
        """Nothing of these bytes yet: the press before, if there was a silence meanwhile."""
        frames = self.expire(at)
        if not data:
            return frames
        self._silence.heard(at)
        self._bytes += data
        self._frames += self._inner.feed(data, at)
        if len(self._bytes) > MOST_BYTES:
            self._is_endless = True
        if self._is_endless:
            frames += refused(self._frames, _ENDLESS)
            self._frames = []
            self._forget(self._inner.waiting_bytes)
        return frames

    def expire(self, now: Instant) -> list[Frame]:
        """The frames of a press, if the silence behind it is over."""
        if not self._silence.is_over(now):
            return []
        self._frames += self._inner.expire(now)
        if self._inner.waiting_bytes:
            return []
        self._silence.forget()
        frames, self._frames = self._frames, []
        if self._is_endless:
            frames = refused(frames, _ENDLESS)
        elif frames:
            frames = self._judge(frames, self._between)
        self._is_endless = False
        self._forget(0)
        return frames

    def lost(self) -> list[Frame]:
        """What waits as faulty frames: the link is gone."""
        frames = refused([*self._frames, *self._inner.lost()], _TORN)
        self._frames = []
        self._silence.forget()
        self._is_endless = False
        self._forget(0)
        return frames

    def _between(self, start: int, end: int) -> bytes:
        return bytes(self._bytes[start - self._start : end - self._start])

    def _forget(self, but: int) -> None:
        """All bytes but so many have been given."""
        given = len(self._bytes) - but
        del self._bytes[:given]
        self._start += given


def once_a_press(manners: Manners, silence_s: float) -> Manners:
    """The manners of a device whose presses end by this silence: of one there is one result.

    The window is too short for another press, which comes later than that after this one.
    """
    window_s = max(manners.presses.repeat_window_s, silence_s)
    return replace(manners, presses=replace(manners.presses, repeat_window_s=window_s))


def several(press: Sequence[tuple[bytes, Sequence[Heard]]]) -> str:
    """Why the values of frames that came together are not those of one press; empty if they are.

    The same frame again is a repeat, and of another count a frame is another press. Two values of
    one channel without that are not both what was pressed for: one may be a mean, or a last one.
    Nor is the same value in a frame that is otherwise: what changed may say that it is none.
    """
    first: dict[tuple[str, int | None], tuple[Decimal | None, str, bytes]] = {}
    for data, frame in press:
        for heard in frame:
            if heard.means is not Means.READING:
                continue
            told = first.setdefault((heard.channel, heard.press), (heard.value, heard.unit, data))
            if told[:2] != (heard.value, heard.unit):
                return f"two values within one press, {told[0]} and {heard.value}"
            if heard.press is None and told[2] != data:
                return f"{heard.value} twice within one press, and not in the same words"
    return ""


def refused(frames: Sequence[Frame], why: str) -> list[Frame]:
    """The frames as faulty ones, each with its own fault where it has one."""
    return [frame if frame.fault else frame._replace(fault=why) for frame in frames]
