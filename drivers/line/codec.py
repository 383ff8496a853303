"""What one line means by a profile, or why it means nothing. Pure; keeps no state; any thread.

Never guesses: a line is a message when its checksum fits, all its bytes are of the encoding, a
pattern of the profile fits from end to end, and value, unit and channel are each understood.
In every other case the answer is the reason, in plain words.
"""

from __future__ import annotations

import re
from decimal import Decimal

from acquire.driverkit import NO_FLAGS, Heard, Means
from acquire.model import Flag
from drivers.line.profile import LineProfile, Message

MOST_DIGITS = 20
"""More than any display has; conversion to other units stays exact far beyond."""


_VALUES = (Means.READING, Means.SAMPLE)


class Codec:
    """Lines of one profile."""

    def __init__(self, profile: LineProfile) -> None:
        self._profile = profile
        sign = re.escape(profile.decimal_sign)
        # Decimal itself would take NaN, Infinity, 1e5, 1_000 and the digits of every script.
        self._number = re.compile(rf"[+-]?(?:[0-9]+(?:{sign}[0-9]+)?|{sign}[0-9]+)")
        self._has_comma = profile.decimal_sign == ","
        self._flags = {flag: frozenset((flag,)) for flag in Flag}
        self._messages = [(m.line.fullmatch, m) for m in profile.messages]

    def decode(self, line: bytes) -> list[Heard] | str:
        """The meaning of a line without its terminator, or the reason why it has none."""
        profile = self._profile
        proof = profile.proof
        if proof is not None:
            line, after, sent = line.rpartition(proof.after)
            if not after:
                return "no checksum"
            wanted = format(proof.checksum.of(line), proof.digits).encode()
            if sent != wanted:
                return f"wrong checksum: got {_shown(sent)}, wanted {_shown(wanted)}"
        try:
            text = line.decode(profile.encoding)
        except UnicodeDecodeError as trouble:
            return f"the byte 0x{line[trouble.start]:02x} is not {profile.encoding}"
        for fullmatch, message in self._messages:
            found = fullmatch(text)
            if found is not None:
                if message.means in _VALUES:
                    return self._readings(message, found.groupdict())
                heard = self._notice(message.means, found.groupdict())
                return heard if isinstance(heard, str) else [heard]
        return "no line of the profile"

    def _readings(self, message: Message, group: dict[str, str | None]) -> list[Heard] | str:
        profile = self._profile
        token = group.get("unit")
        unit = profile.default_unit if token is None else profile.units.find(token)
        if unit is None:
            return f"the unit {_shown(token)} is not in the profile"
        press = _count(group.get("count"))
        if press is None and profile.has_count and message.means is Means.READING:
            return f"the count {_shown(group.get('count'))} is no number"
        readings: list[Heard] = []
        for name, own_token in message.values:
            value = group[name]
            if value is None:
                # A channel that this press did not have.
                continue
            token = own_token or group.get(profile.channel_key)
            channel = profile.default_channel if token is None else profile.channels.find(token)
            if channel is None:
                return f"the {profile.channel_key} {_shown(token)} is not in the profile"
            heard = self._value(message.means, value, unit, channel, press)
            if isinstance(heard, str):
                return heard
            readings.append(heard)
        return readings or "no value"

    def _value(
        self, means: Means, text: str, unit: str, channel: str, press: int | None
    ) -> Heard | str:
        # Spaces pad a value to its column on many displays.
        text = text.strip(" ")
        if self._number.fullmatch(text) is not None and len(text) <= MOST_DIGITS:
            value = Decimal(text.replace(",", ".") if self._has_comma else text)
            return Heard(means, text, value, unit, channel, press, NO_FLAGS)
        flag = self._profile.out_of_range.find(text)
        if flag is None:
            return f"the value {_shown(text)} is no number"
        return Heard(means, text, None, unit, channel, press, self._flags[flag])

    def _notice(self, means: Means, group: dict[str, str | None]) -> Heard | str:
        text = (group.get("serial") or group.get("code") or "").strip(" ")
        if means is Means.IDENTITY and not text:
            return "no serial number"
        # It will be shown on screens and pages.
        if not text.isprintable():
            return f"a control character in {_shown(text)}"
        press = _count(group.get("count"))
        if press is None and group.get("count") is not None:
            return f"the count {_shown(group['count'])} is no number"
        return Heard(means, text, None, "", "", press, NO_FLAGS)


def _count(token: str | None) -> int | None:
    token = (token or "").strip(" ")
    return int(token) if token.isascii() and token.isdecimal() and len(token) <= 9 else None


def _shown(token: bytes | str | None) -> str:
    """A piece of a line for a message: quoted, harmless and short."""
    if isinstance(token, bytes):
        token = token.decode("ascii", "backslashreplace")
    text = repr(token or "")
    return text if len(text) <= 24 else f"{text[:20]}...{text[0]}"
