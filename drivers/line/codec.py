"""What one line means by a profile, or why it means nothing. Any
thread; what it remembers of numbers changes no answer.

Never guesses: a line is a message when its checksum fits, all its bytes are of the encoding, a
pattern of the profile fits from end to end, and value, unit and channel are each understood.
In every other case the answer is the reason, in plain words.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from decimal import Decimal
from functools import cache
from typing import NamedTuple

from acquire.driverkit import NO_FLAGS, Heard, Means
from acquire.driverkit.numerals import LONGEST, POWER, Odd, meant
from acquire.model import STROKE, Flag
from drivers.line.entries import AGAIN, CHANNELS_AGAIN, COUNT_AGAIN, SIGN, SIGN_BEHIND
from drivers.line.profile import LineProfile, Message, Proof

MOST_KNOWN_VALUES = 2048
"""Texts of values whose numbers are kept: a display has few, and a flood repeats them."""

_VALUES = (Means.READING, Means.SAMPLE)


class _Places(NamedTuple):
    """Where in the groups of a message its parts are; the last place is one that is never there."""

    unit: int
    channel: int
    press: int
    again: int
    press_again: int
    serial: int
    channel_again: int
    values: tuple[tuple[int, str | None], ...]
    """Each with its channel token, as in `Message.values`."""
    width: int | None
    signs: tuple[int, ...]
    """Where its sign stands, if not right before its digits."""


_Pattern = tuple[Callable[[str], "re.Match[str] | None"], Means, "_Places | None", int | None]


@cache
def _written(proof: Proof) -> tuple[bytes, ...]:
    """Each checksum of one byte as a line has it."""
    return tuple(map(proof.written, range(256)))


def _parted(line: bytes, proof: Proof) -> tuple[bytes, bytes, bytes]:
    """What a checksum proves, what stands before it, and its digits; empty if there are none."""
    if proof.after:
        body, after, sent = line.rpartition(proof.after)
        return (body, after, sent) if after else (line, b"", b"")
    cut = max(0, len(line) - proof.size)
    return line[:cut], b"", line[cut:]


class Codec:
    """Lines of one profile."""

    def __init__(self, profile: LineProfile) -> None:
        self._profile = profile
        self._encoding = profile.encoding
        sign = re.escape(profile.decimal_sign)
        # Decimal itself would take NaN, Infinity, 1e5, 1_000 and the digits of every script.
        # With a sign between thousands every one has it: a number that lost one is none.
        apart = re.escape(profile.thousands)
        whole = rf"[0-9]{{1,3}}(?:{apart}[0-9]{{3}})*" if apart else "[0-9]+"
        # Who fills up with spaces writes 000 for something else than a number.
        # The one before the point stands there even where the point is not sent: 05 is 0.5.
        zeros = rf"(?!0[0-9]{{{profile.implied_decimals + 1}}})"
        whole = whole if profile.leading_zeros else f"{zeros}{whole}"
        number = rf"(?:{whole}(?:{sign}[0-9]+)?|{sign}[0-9]+)"
        # Where numbers have an exponent every one has it: 9.1 is what is left of 9.140E+01.
        number = rf"{whole}{sign}[0-9]+{POWER}" if profile.exponent else number
        # Who leaves the point out never sends one: 91.4 is another number then.
        number = whole if profile.implied_decimals else number
        self._number = re.compile(rf"[+-]?{number}")
        self._thousands = profile.thousands
        self._implied_decimals = profile.implied_decimals
        self._has_comma = profile.decimal_sign == ","
        self._flags = {flag: frozenset((flag,)) for flag in Flag}
        self._messages: dict[int, list[_Pattern]] = {0: []}
        self._bare: dict[int, list[_Pattern]] = {}
        for message in profile.messages:
            places = _places(profile, message) if message.means in _VALUES else None
            known = self._messages if message.has_checksum else self._bare
            for place in message.in_press or (0,):
                pattern = (message.line.fullmatch, message.means, places, message.length)
                known.setdefault(place, []).append(pattern)
        proof = profile.proof
        self._of_one_byte = (
            _written(proof) if proof is not None and proof.checksum.width_bits == 8 else ()
        )
        self._known: dict[str, tuple[str, Decimal]] = {}

    def decode(self, line: bytes, place: int = 0) -> list[Heard] | str:
        """The meaning of a line without its terminator, or the reason why it has none.

        `place`: which line of its press it is; 0 where it stands by itself.
        """
        proof = self._profile.proof
        if self._bare and (heard := self._understood(line, self._bare.get(place, ()))) is not None:
            return heard
        if proof is not None:
            line, after, sent = _parted(line, proof)
            if not (after or sent):
                return "no checksum"
            covered = line[proof.first :] if proof.first else line
            checksum = proof.checksum.of(covered + after if proof.with_after else covered)
            wanted = self._of_one_byte[checksum] if self._of_one_byte else proof.written(checksum)
            if (sent.upper() if proof.letters == "hex" else sent) != wanted:
                return f"wrong checksum: got {_shown(sent)}, wanted {_shown(wanted)}"
        heard = self._understood(line, self._messages.get(place, ()))
        return "no line of the profile" if heard is None else heard

    def _understood(self, line: bytes, patterns: Sequence[_Pattern]) -> list[Heard] | str | None:
        """The meaning by the first pattern that fits; None where none does."""
        try:
            text = line.decode(self._encoding)
        except UnicodeDecodeError as trouble:
            return f"the byte 0x{line[trouble.start]:02x} is not {self._encoding}"
        for fullmatch, means, places, length in patterns:
            found = fullmatch(text)
            if found is not None and (length is None or len(text) == length):
                if places is not None:
                    return self._readings(means, places, (*found.groups(), None))
                if means is Means.STROKE:
                    return self._stroke(text, found.groupdict())
                heard = self._notice(means, found.groupdict())
                return heard if isinstance(heard, str) else [heard]
        return None

    def _readings(
        self, means: Means, places: _Places, groups: tuple[str | None, ...]
    ) -> list[Heard] | str:
        profile = self._profile
        unit_place, channel_place, press_place, again_place, press_again_place, serial_place = (
            places[:6]
        )
        channel_again = groups[places.channel_again]
        values, width = places.values, places.width
        token = groups[unit_place]
        unit = profile.default_unit if token is None else profile.units.find(token)
        if unit is None:
            return f"the unit {_shown(token)} is not in the profile"
        press = _count(groups[press_place])
        # The last place is none: a line beside it counts.
        if press is None and press_place < len(groups) - 1 and means is Means.READING:
            return f"the count {_shown(groups[press_place])} is no number"
        press_again = groups[press_again_place]
        if press_again is not None and _count(press_again) != press:
            return f"the count is {press} and once more {_shown(press_again)}"
        again = groups[again_place]
        own_units, said_unit = profile.own_units, unit
        readings: list[Heard] = []
        for place, own_token in values:
            value = groups[place]
            if value is None:
                # A channel that this press did not have.
                continue
            if width is not None and len(value) != width:
                return f"the value {_shown(value)} is {len(value)} wide, and every one {width}"
            token = own_token or groups[channel_place]
            channel = profile.default_channel if token is None else profile.channels.find(token)
            if channel is None:
                return f"the {profile.channel_key} {_shown(token)} is not in the profile"
            if channel_again is not None and profile.channels.find(channel_again) != channel:
                more = _shown(channel_again)
                return f"the {profile.channel_key} is {_shown(token)} and once more {more}"
            if own_units:
                unit = own_units.get(channel, said_unit)
            if again is not None and self._figure(again) != self._figure(value):
                return f"the value is {_shown(value)} and once more {_shown(again)}"
            if places.signs:
                signed = self._signed(value.strip(" "), [groups[at] or "" for at in places.signs])
                if not signed[1]:
                    return signed[0]
                value = signed[1]
            known = self._known.get(value)
            if known is not None:
                readings.append(Heard(means, known[0], known[1], unit, channel, press, NO_FLAGS))
                continue
            heard = self._value(means, value, unit, channel, press)
            if isinstance(heard, str):
                return heard
            readings.append(heard)
        if groups[serial_place] is None or not readings:
            return readings or "no value"
        named = self._notice(Means.IDENTITY, {"serial": groups[serial_place]})
        return named if isinstance(named, str) else [named, *readings]

    def _value(
        self, means: Means, sent: str, unit: str, channel: str, press: int | None
    ) -> Heard | str:
        # Spaces pad a value to its column on many displays.
        text = sent.strip(" ")
        if self._number.fullmatch(text) is not None and len(text) <= LONGEST:
            if self._profile.exponent:
                told = meant(text.replace(",", "."))
                if isinstance(told, Flag):
                    return Heard(means, text, None, unit, channel, press, self._flags[told])
                if told is Odd.NO_VALUE:
                    return f"the device has no value, which it says by {_shown(text)}"
                if told is Odd.BEYOND:
                    return f"the value {_shown(text)} is beyond all measure"
                value = told
            else:
                value = self._decimal(text)
            if why := self._profile.limits.outside(value):
                return why
            if len(self._known) >= MOST_KNOWN_VALUES:
                self._known.clear()
            self._known[sent] = text, value
            return Heard(means, text, value, unit, channel, press, NO_FLAGS)
        flag = self._profile.out_of_range.find(text)
        if flag is None:
            return f"the value {_shown(text)} is no number"
        return Heard(means, text, None, unit, channel, press, self._flags[flag])

    def _signed(self, text: str, signs: Sequence[str]) -> tuple[str, str]:
        """Why a value with its sign elsewhere is none, or the value with it before its digits."""
        sign = "".join(signs).replace(" ", "")
        is_minus = self._profile.signs.find(sign)
        if is_minus is None:
            return f"the sign {_shown(sign)} is not in the profile", ""
        if text[:1] in ("+", "-"):
            return f"the value {_shown(text)} has a sign beside its own one {_shown(sign)}", ""
        return "", f"-{text}" if is_minus else text

    def _figure(self, sent: str) -> Decimal | str:
        """The number of a text, or the text where it is none."""
        text = sent.strip(" ")
        if self._number.fullmatch(text) is None:
            return text
        return self._decimal(text)

    def _decimal(self, text: str) -> Decimal:
        """The value of a text that is a number."""
        if self._implied_decimals:
            return Decimal(text).scaleb(-self._implied_decimals)
        if self._thousands:
            text = text.replace(self._thousands, "")
        return Decimal(text.replace(",", ".") if self._has_comma else text)

    def _stroke(self, text: str, group: dict[str, str | None]) -> list[Heard] | str:
        """One stroke that a counter told of; its own count tells it from the same line again."""
        press = _count(group.get("count"))
        if press is None and "count" in group:
            return f"the count {_shown(group['count'])} is no number"
        press_again = group.get(COUNT_AGAIN)
        if press_again is not None and _count(press_again) != press:
            return f"the count is {press} and once more {_shown(press_again)}"
        return [Heard(Means.READING, text, Decimal(1), "stroke", STROKE, press, NO_FLAGS)]

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
        token = group.get(self._profile.channel_key)
        channel = "" if token is None else self._profile.channels.find(token)
        if channel is None:
            return f"the {self._profile.channel_key} {_shown(token)} is not in the profile"
        return Heard(means, text, None, "", channel, press, NO_FLAGS)


def _places(profile: LineProfile, message: Message) -> _Places:
    """The places of a message's parts among the groups of its pattern."""
    index = message.line.groupindex
    nowhere = message.line.groups

    def of(name: str) -> int:
        return index.get(name, nowhere + 1) - 1

    return _Places(
        of("unit"),
        of(profile.channel_key),
        of("count"),
        of(AGAIN),
        of(COUNT_AGAIN),
        of("serial"),
        of(CHANNELS_AGAIN.get(profile.channel_key, "")),
        tuple((of(name), token) for name, token in message.values),
        message.width,
        tuple(index[name] - 1 for name in (SIGN, SIGN_BEHIND) if name in index),
    )


def _count(token: str | None) -> int | None:
    if token is None:
        return None
    if not token.isdecimal():
        token = token.strip(" ")
    return int(token) if token.isascii() and token.isdecimal() and len(token) <= 9 else None


def _shown(token: bytes | str | None) -> str:
    """A piece of a line for a message: quoted, harmless and short."""
    if isinstance(token, bytes):
        token = token.decode("ascii", "backslashreplace")
    text = repr(token or "")
    return text if len(text) <= 24 else f"{text[:20]}...{text[0]}"
