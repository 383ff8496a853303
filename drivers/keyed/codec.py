"""What one typed line means by a profile, or why it means nothing. Pure; any thread.

Never guesses: a line is an entry when it is ASCII, has as many values as the profile wants, each
behind its channel where channels are named, and every value is a number with the profile's decimal
sign, inside the range and on the step of the display, or a token for "out of range". In every other
case the answer is the reason, with what was got and what was wanted.
"""

from __future__ import annotations

import re
from decimal import Decimal
from itertools import pairwise

from acquire.driverkit import NO_FLAGS, Heard, Means
from acquire.driverkit.numerals import LONGEST
from drivers.keyed.profile import KeyedProfile
from drivers.keyed.tables import ADJUSTED, OFF

_SAID = {ADJUSTED: Means.ADJUSTED, OFF: Means.POWER_UP}
_NUMBER = {sign: re.compile(rf"[+-]?(?:[0-9]+(?:\{sign}[0-9]+)?|\{sign}[0-9]+)") for sign in ".,"}
_OTHER = {".": ",", ",": "."}
_SIGN_WORDS = {".": "a decimal point", ",": "a decimal comma"}


class Codec:
    """Lines of one profile."""

    def __init__(self, profile: KeyedProfile) -> None:
        self._profile = profile
        self._number = _NUMBER[profile.decimal_sign]
        self._other_number = _NUMBER[_OTHER[profile.decimal_sign]]
        self._range = f"{self._written(profile.low)} to {self._written(profile.high)}"
        self._unit = profile.unit.replace("_", " ")

    def decode(self, line: bytes) -> list[Heard] | str:
        """The values of a line without its line feed, or what it says; else why it is nothing."""
        try:
            text = line.decode("ascii")
        except UnicodeDecodeError as trouble:
            return f"got the byte 0x{line[trouble.start]:02x}, wanted plain ASCII characters"
        if not text.isprintable():
            return f"got a control character in {_shown(text)}, wanted what the display shows"
        words = text.split()
        if len(words) == 1 and (said := _SAID.get(words[0].casefold())) is not None:
            return [Heard(said, "", None, "", "", None, NO_FLAGS)]
        pairs = self._in_order(words) if self._profile.order else self._named(words)
        if isinstance(pairs, str):
            return pairs
        heard: list[Heard] = []
        for channel, word in pairs:
            value = self._value(word, channel)
            if isinstance(value, str):
                return value
            heard.append(value)
        return heard

    def _in_order(self, words: list[str]) -> list[tuple[str, str]] | str:
        order = self._profile.order
        if len(words) == len(order):
            return list(zip(order, words, strict=True))
        if len(order) == 1:
            return f"got {_shown(' '.join(words))}, wanted one value"
        return (
            f"got {len(words)} values in {_shown(' '.join(words))}, "
            f"wanted {len(order)}: those of {', '.join(order)}, in this order"
        )

    def _named(self, words: list[str]) -> list[tuple[str, str]] | str:
        profile = self._profile
        tokens = ", ".join(profile.tokens.codes())
        if len(words) % 2 or not words:
            example = f"{profile.tokens.codes()[0]} {self._written(profile.low)}"
            return (
                f"got {_shown(' '.join(words))}, wanted each value behind its "
                f"{profile.channel_key} ({tokens}), such as {_shown(example)}"
            )
        pairs: list[tuple[str, str]] = []
        for token, word in list(pairwise(words))[::2]:
            channel = profile.tokens.find(token)
            if channel is None:
                return f"got the {profile.channel_key} {_shown(token)}, wanted one of {tokens}"
            if channel in [named for named, _ in pairs]:
                return f"got the {profile.channel_key} {_shown(token)} again, wanted it once"
            pairs.append((channel, word))
        return pairs

    def _value(self, word: str, channel: str) -> Heard | str:
        profile = self._profile
        flag = profile.out_of_range.find(word)
        if flag is not None:
            return Heard(Means.READING, word, None, profile.unit, channel, None, frozenset((flag,)))
        if len(word) > LONGEST or self._number.fullmatch(word) is None:
            wanted = "a number"
            if self._other_number.fullmatch(word) is not None:
                wanted = f"{_SIGN_WORDS[profile.decimal_sign]}, as the profile has it"
            elif profile.out_of_range.codes():
                wanted += f", or {' or '.join(profile.out_of_range.codes())} for out of range"
            return f"got {_shown(word)}, wanted {wanted}"
        value = Decimal(word.replace(",", "."))
        if not profile.low <= value <= profile.high:
            return f"got {word}, wanted {self._range} ({self._unit})"
        if value % profile.step:
            return (
                f"got {word}, wanted a multiple of {self._written(profile.step)}, the step of the "
                "display"
            )
        return Heard(Means.READING, word, value, profile.unit, channel, None, NO_FLAGS)

    def _written(self, value: Decimal) -> str:
        """A figure of the profile as a person would type it."""
        return f"{value:f}".replace(".", self._profile.decimal_sign)


def _shown(text: str) -> str:
    """A piece of a line for a message: quoted and short."""
    quoted = ascii(text)
    return quoted if len(quoted) <= 40 else f"{quoted[:36]}...{quoted[0]}"
