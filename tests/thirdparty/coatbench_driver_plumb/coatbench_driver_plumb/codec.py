"""What one message means, or in plain words why it means nothing (WIRE.md). Pure; keeps no state.

Never guesses: brackets, checksum, fields and unit must all be as the page says.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal

from acquire.driverkit import NO_FLAGS, Heard, Means
from acquire.model import Flag

END = b"]"
LONGEST_BYTES = 48
"""The bracket, a body of 40 characters, its checksum."""

_FRAME = re.compile(rb"\[((?:[^\[\];]+;)+)([0-9]{2})")
_PRESS = re.compile(r"P;([1-9][0-9]{0,2});([+-][0-9]{1,3}\.[0-9]{3}|\+{4});([a-z]);")
_NAMED = re.compile(r"([SW]);([A-Za-z0-9-]{1,12});")
_OVER = frozenset((Flag.OVER_RANGE,))


class Codec:
    """Messages of one gauge. `units` is the closed table of the profile: token to unit name."""

    def __init__(self, units: Mapping[str, str]) -> None:
        self._units = units

    def decode(self, message: bytes) -> list[Heard] | str:
        """The meaning of a message without its closing bracket, or the reason why it has none."""
        found = _FRAME.fullmatch(message)
        if found is None:
            return "no message in brackets with a checksum"
        body, sent = found[1], int(found[2])
        if sent != sum(body) % 97:
            return f"wrong checksum: got {sent:02}, wanted {sum(body) % 97:02}"
        try:
            text = body.decode("ascii")
        except UnicodeDecodeError:
            return "a byte that is no ASCII"
        if press := _PRESS.fullmatch(text):
            return self._pressed(int(press[1]), press[2], press[3])
        if named := _NAMED.fullmatch(text):
            means = Means.IDENTITY if named[1] == "S" else Means.POWER_UP
            return [Heard(means, named[2], None, "", "", None, NO_FLAGS)]
        if text == "Z;":
            return [Heard(Means.ADJUSTED, "", None, "", "", None, NO_FLAGS)]
        return "no message of the protocol"

    def _pressed(self, count: int, peak: str, token: str) -> list[Heard] | str:
        unit = self._units.get(token)
        if unit is None:
            return f"the unit {token!r} is not in the profile"
        is_over = peak == "++++"
        value = None if is_over else Decimal(peak)
        flags = _OVER if is_over else NO_FLAGS
        return [Heard(Means.READING, peak, value, unit, "", count, flags)]
