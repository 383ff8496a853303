"""What one frame means by a profile, or why it means nothing. Pure; keeps no state; any thread.

Never guesses: a frame is a message when its length and the bytes that tell its kind fit, and
every value, unit and channel in it is understood. In every other case the answer is the reason, in
plain words. A frame of several values is taken whole or not at all.
"""

from __future__ import annotations

from decimal import Decimal

from acquire.driverkit import NO_FLAGS, Heard, Means
from acquire.model import Flag
from drivers.frame.fields import shown
from drivers.frame.number import EXACT, Type, scaled
from drivers.frame.parts import Status
from drivers.frame.profile import Code, Field, FrameProfile, Message, Said, Value

MOST_POWER = 12
"""Of ten, as a frame may tell it, either way."""

_RANGE = {
    Status.OVER_RANGE: frozenset((Flag.OVER_RANGE,)),
    Status.UNDER_RANGE: frozenset((Flag.UNDER_RANGE,)),
}


class Codec:
    """Frames of one profile."""

    def __init__(self, profile: FrameProfile) -> None:
        self._profile = profile

    def decode(self, frame: bytes) -> list[Heard] | str:
        """The meaning of a whole frame, or the reason why it has none."""
        for message in self._profile.messages:
            if len(frame) == message.length and all(holds(frame) for holds in message.where):
                break
        else:
            return "no frame of the profile"
        press: int | None = None
        if message.count is not None:
            count = message.count(frame)
            if isinstance(count, str):
                return f"the count: {count}"
            press = int(count)
            if press < 0:
                return f"the count: {press} is below zero"
        text, why = ("", "") if message.text is None else _text(message.text, frame)
        if why:
            return why
        is_reading = message.means is Means.READING
        if not text and (message.means is Means.IDENTITY or (is_reading and message.text)):
            return "no serial number"
        if not is_reading:
            return [Heard(message.means, text, None, "", "", press, NO_FLAGS)]
        readings = self._readings(message, frame, press)
        if isinstance(readings, str) or not text or readings[0].means is not Means.READING:
            return readings
        return [Heard(Means.IDENTITY, text, None, "", "", None, NO_FLAGS), *readings]

    def _readings(self, message: Message, frame: bytes, press: int | None) -> list[Heard] | str:
        profile = self._profile
        readings: list[Heard] = []
        channels: set[str] = set()
        of_all = _first(message.status, frame)
        for value in message.values:
            said = of_all or _first(value.status, frame)
            status: Status | None = None
            if said is not None:
                status = said.means
                if status is Status.ABSENT:
                    continue
                if status not in _RANGE:
                    return _trouble(said, press)
            heard = self._value(value, frame, press, status)
            if isinstance(heard, str):
                return heard
            if heard.channel in channels:
                return f"two values of the {profile.channel_key} {heard.channel}"
            channels.add(heard.channel)
            readings.append(heard)
        return readings or "no value"

    def _value(
        self, value: Value, frame: bytes, press: int | None, status: Status | None
    ) -> Heard | str:
        profile = self._profile
        unit = profile.default_unit if value.unit is None else profile.units.find(value.unit(frame))
        if unit is None:
            return f"the unit {_code(value.unit, frame)} is not in the profile"
        channel = value.own_channel or profile.default_channel
        if value.channel is not None:
            channel = profile.channels.find(value.channel(frame))
        if channel is None:
            code = _code(value.channel, frame)
            return f"the {profile.channel_key} {code} is not in the profile"
        for again in value.channel_again:
            if profile.channels.find(again(frame)) != channel:
                told = f"{_code(value.channel, frame)} and once more {_code(again, frame)}"
                return f"the {profile.channel_key} is {told}"
        field = value.field
        raw = frame[field.start : field.end]
        text = raw.decode("latin-1").strip(" ") if field.type is Type.DIGITS else shown(raw)
        if status is not None:
            return Heard(Means.READING, text, None, unit, channel, press, _RANGE[status])
        figure = _figure(value, raw, frame)
        if isinstance(figure, str):
            return figure
        if why := value.limits.outside(figure):
            return why
        for offset, plus, minus in value.signs:
            fits = (plus, minus) if not figure else (minus if figure < 0 else plus,)
            if frame[offset] not in fits:
                return f"the byte 0x{frame[offset]:02x} does not go with the sign of {figure}"
        return Heard(Means.READING, text, figure, unit, channel, press, NO_FLAGS)


def _first(status: tuple[Said, ...], frame: bytes) -> Said | None:
    """The first one that holds decides."""
    for said in status:
        if said.holds(frame):
            return said
    return None


def _trouble(said: Said, press: int | None) -> list[Heard] | str:
    """The device says that it has no value."""
    if said.means is Status.ERROR:
        return [Heard(Means.TROUBLE, said.code, None, "", "", press, NO_FLAGS)]
    # A press that took up a count is told of. Values that a device sends all the time until they
    # settle are not.
    if press is None:
        return "the device says that the value is not stable"
    return [Heard(Means.TROUBLE, "not stable", None, "", "", press, NO_FLAGS)]


def _figure(value: Value, raw: bytes, frame: bytes) -> Decimal | str:
    figure = value.field.read(raw)
    if isinstance(figure, str):
        return figure
    if value.minus is not None and value.minus(frame):
        figure = EXACT.minus(figure)
    if value.power is None:
        return scaled(figure, value.scale, 0)
    power = value.power(frame)
    if isinstance(power, str):
        return power
    if abs(power) > MOST_POWER:
        return f"ten to the power of {power} is beyond all measure"
    return scaled(figure, value.scale, int(power))


def _text(field: Field, frame: bytes) -> tuple[str, str]:
    """A serial number or a code of trouble, fit to be shown, or else why it is none."""
    raw = frame[field.start : field.end]
    if field.type is Type.HEX:
        return shown(raw), ""
    if field.type is not Type.TEXT:
        figure = field.read(raw)
        return ("", figure) if isinstance(figure, str) else (str(figure), "")
    # Devices pad a text to its field with spaces or zero bytes.
    text = raw.rstrip(b"\0").decode("latin-1").strip(" ")
    if not (text.isascii() and text.isprintable()):
        return "", f"the text {shown(raw)} has a byte that is no printable ASCII"
    return text, ""


def _code(code: Code | None, frame: bytes) -> str:
    return "nothing" if code is None else repr(code(frame).upper())
