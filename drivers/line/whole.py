"""The lines of a press taken together: which of them belong to it, and whether they are all good.

Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Callable

from acquire.driverkit import Heard, Means
from acquire.driverkit.together import refused, several
from acquire.wire import Frame
from drivers.line.codec import Codec
from drivers.line.profile import LineProfile

_TROUBLE = "the device tells of trouble beside it"


class Whole:
    """Presses of a profile that says which lines a press consists of."""

    def __init__(self, profile: LineProfile) -> None:
        self._codec = Codec(profile)
        self._terminator = profile.terminator
        self._lines = profile.lines_of_press
        self._has_count = profile.has_count
        self._beside = profile.channel_key if profile.is_channel_beside else ""

    def judge(self, frames: list[Frame], between: Callable[[int, int], bytes]) -> list[Frame]:
        """A frame for each press and for each line that is none of a press's.

        Where one line is not understood, or is missing, no press is given.
        """
        given = [frame for frame in frames if not frame.fault and self._stands_alone(frame.data)]
        own = set(given)
        rest = [frame for frame in frames if frame not in own]
        is_trouble = any(self._is_trouble(frame.data) for frame in given)
        presses: list[Frame] = []
        read: list[tuple[bytes, list[Heard]]] = []
        why = next((f"beside bytes that are no line: {one.fault}" for one in rest if one.fault), "")
        for place in range(0, len(rest), self._lines):
            first, last = rest[place], rest[min(place + self._lines, len(rest)) - 1]
            press = Frame(first.start, between(first.start, last.start + len(last.data)), "")
            heard = self.decode(press.data)
            presses.append(press)
            is_trouble = is_trouble or _has_trouble(heard)
            why = why or (heard if isinstance(heard, str) else "")
            read += [] if isinstance(heard, str) else [(press.data, heard)]
        why = why or several(read)
        if why:
            given += refused(rest, why)
        elif is_trouble:
            given += [
                one if _has_trouble(self.decode(one.data)) else one._replace(fault=_TROUBLE)
                for one in presses
            ]
        else:
            given += presses
        return sorted(given, key=lambda frame: frame.start)

    def decode(self, data: bytes) -> list[Heard] | str:
        """The meaning of a press, or of a line that stands alone, or why it has none."""
        lines = [line for line in data.split(self._terminator) if line]
        if len(lines) == 1 and self._stands_alone(lines[0]):
            return self._codec.decode(lines[0])
        if len(lines) != self._lines:
            return f"lines in a press: got {len(lines)}, wanted {self._lines}"
        said: list[Heard] = []
        for place, line in enumerate(lines, 1):
            heard = self._codec.decode(line, place)
            if isinstance(heard, str):
                return heard if self._lines == 1 else f"line {place} of a press: {heard}"
            said += heard
        return self._summed(said)

    def _summed(self, said: list[Heard]) -> list[Heard] | str:
        """What the lines of a press say together; what means nothing adds a count or channel."""
        named = list(dict.fromkeys(heard for heard in said if heard.means is Means.IDENTITY))
        if len(named) > 1:
            return "several serial numbers in one press"
        silent = (Means.READING, Means.NOTHING, Means.IDENTITY)
        if told := [heard for heard in said if heard.means not in silent]:
            return told
        readings: dict[str, Heard] = {}
        for heard in said:
            if heard.means is not Means.READING:
                continue
            earlier = readings.setdefault(heard.channel, heard)
            if (earlier.value, earlier.unit) != (heard.value, heard.unit):
                return f"{earlier.text!r} and {heard.text!r} in one press"
            if earlier.flags != heard.flags:
                return f"{earlier.text!r} and {heard.text!r} in one press"
        counts = {heard.press for heard in said if heard.press is not None}
        if len(counts) > 1:
            return "several counts in one press"
        if readings and self._has_count and not counts:
            return "no count in the press"
        channels = {heard.channel for heard in said if heard.means is Means.NOTHING} - {""}
        if readings and self._beside and len(channels) != 1:
            return f"{self._beside}: got {len(channels)} in one press, wanted 1"
        press = next(iter(counts), None)
        channel = next(iter(channels), None)
        counted = [
            heard._replace(press=press, channel=heard.channel if channel is None else channel)
            for heard in readings.values()
        ]
        return [*named, *counted] if named or counted else "no value"

    def _stands_alone(self, line: bytes) -> bool:
        return not isinstance(self._codec.decode(line), str)

    def _is_trouble(self, line: bytes) -> bool:
        return _has_trouble(self._codec.decode(line))


def _has_trouble(heard: list[Heard] | str) -> bool:
    return not isinstance(heard, str) and any(one.means is Means.TROUBLE for one in heard)
