"""What the registers of a device say by a profile, or why they say nothing. Pure; any thread.

Never guesses: a value is one when type, closed tables of units and angles, and range bits are each
understood. In every other case the answer is the reason, in plain words.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import NamedTuple

from acquire.driverkit import NO_FLAGS, Heard, Means
from acquire.model import Flag
from acquire.wire import ClosedTable
from drivers.modbus.profile import BitPlace, ModbusProfile, Place, Value
from drivers.modbus.request import Block
from drivers.modbus.words import Form, Kind, number, scaled, spoken

Words = Mapping[int, bytes]
"""What was read: registers or bits as they came, by the number of their block in the plan."""

_OVER = frozenset((Flag.OVER_RANGE,))
_UNDER = frozenset((Flag.UNDER_RANGE,))
_LONGEST_SERIAL = 64
MOST_KNOWN = 2048
"""Numbers that are kept of one value of the profile."""


class _Spot(NamedTuple):
    """Where a number stands in what was read."""

    block: int
    start: int
    end: int
    form: Form

    def data(self, words: Words) -> bytes | None:
        """Its registers; None if they were not read yet."""
        data = words.get(self.block)
        return None if data is None else data[self.start : self.end]

    def whole(self, words: Words) -> int | str:
        """It as a count or code, or why it is none."""
        data = self.data(words)
        if data is None:
            return "the count was not read"
        if self.form.kind is Kind.UINT16:
            return int.from_bytes(data, "big" if self.form.high_byte_first else "little")
        value = number(self.form.bits(data), self.form.kind)
        if isinstance(value, str):
            return f"the count: {value}"
        return int(value) if value < 2**63 else f"the count {value} is beyond all measure"


class _BitSpot(NamedTuple):
    """Where a bit stands in what was read."""

    block: int
    byte: int
    mask: int

    def is_set(self, words: Words) -> bool | None:
        """None if it was not read yet."""
        data = words.get(self.block)
        return None if data is None else bool(data[self.byte] & self.mask)


class _ValueSpot(NamedTuple):
    """A value of the profile with its places."""

    value: Value
    spot: _Spot
    over: _BitSpot | None
    under: _BitSpot | None
    known: dict[int, tuple[str, Decimal]]
    """Text and value of bits that were numbers: a display has few, and they come again."""


class Codec:
    """The registers of one profile."""

    def __init__(self, profile: ModbusProfile) -> None:
        self._profile = profile
        blocks = profile.plan.blocks
        self._values = [
            _ValueSpot(
                value,
                _spot(blocks, value.place),
                _bit_or_none(blocks, value.over_bit),
                _bit_or_none(blocks, value.under_bit),
                {},
            )
            for value in profile.values
        ]
        self._count = _spot_or_none(blocks, profile.count)
        self._adjusted = _spot_or_none(blocks, profile.adjusted)
        self._unit = _spot_or_none(blocks, profile.unit_at)
        self._channel = _spot_or_none(blocks, profile.channel_at)
        self._ready = _bit_or_none(blocks, profile.ready)
        self._troubles = [
            (trouble, _bit_spot(blocks, trouble.place)) for trouble in profile.troubles
        ]
        self._key_spots = [one.spot for one in self._values]
        self._key_spots += [spot for spot in (self._count, self._unit, self._channel) if spot]
        self._key_bits = [bit for one in self._values for bit in (one.over, one.under) if bit]

    def key(self, words: Words) -> bytes:
        """All that makes up a result, as far as it was read: alike while there is no news."""
        parts = [spot.data(words) or b"" for spot in self._key_spots]
        parts += [b"1" if bit.is_set(words) else b"0" for bit in self._key_bits]
        return b"".join(parts)

    def count(self, words: Words) -> int | str:
        """The count of presses; a reason if its BCD is none."""
        return "no count" if self._count is None else self._count.whole(words)

    def is_ready(self, words: Words) -> bool:
        """Whether the ready bit is set."""
        return self._ready is not None and self._ready.is_set(words) is True

    def adjustments(self, words: Words) -> int | None:
        """The count of adjustments; None if it has none or was not read yet."""
        whole = None if self._adjusted is None else self._adjusted.whole(words)
        return whole if isinstance(whole, int) else None

    def troubles(self, words: Words) -> dict[str, bool]:
        """The troubles whose bits were read, in the profile's words, and whether they are set."""
        found: dict[str, bool] = {}
        for trouble, bit in self._troubles:
            is_set = bit.is_set(words)
            if is_set is not None:
                found[trouble.text] = is_set or found.get(trouble.text, False)
        return found

    def spoiling(self, words: Words) -> list[str]:
        """The troubles that are set and leave no reading good."""
        return [t.text for t, bit in self._troubles if t.spoils and bit.is_set(words)]

    def readings(self, words: Words, press: int | None) -> list[Heard] | str:
        """Every value of a press, or the reason why there is none."""
        profile = self._profile
        unit = _coded(words, self._unit, profile.units, "unit")
        if isinstance(unit, ValueError):
            return str(unit)
        channel = _coded(words, self._channel, profile.channels, profile.channel_key)
        if isinstance(channel, ValueError):
            return str(channel)
        found: list[Heard] = []
        for one in self._values:
            heard = _heard(words, one, unit, channel, press)
            if isinstance(heard, str):
                return heard
            if heard is not None:
                found.append(heard)
        return found or "no value"

    def serial(self, pdu: bytes) -> tuple[str, str]:
        """(serial number, "") of the answer to the identity request, or ("", the reason)."""
        identity = self._profile.identity
        assert identity is not None
        if identity.source == "number":
            assert identity.form is not None
            value = number(identity.form.bits(pdu[2:]), identity.form.kind)
            return ("", value) if isinstance(value, str) else (spoken(value), "")
        if identity.source == "text":
            assert identity.form is not None
            data = _text_bytes(pdu[2:], identity.form)
        elif identity.source == "server-id":
            data = pdu[2 + identity.first_byte :]
            data = data if identity.size is None else data[: identity.size]
        else:
            if pdu[6] != 1 or pdu[7] != identity.object:
                return "", f"no answer about object {identity.object}"
            data = pdu[9:]
        data = data.rstrip(b"\0 ").lstrip(b" ")
        text = data.decode("ascii", "backslashreplace")
        if not 1 <= len(data) <= _LONGEST_SERIAL:
            return "", f"a serial number of {len(data)} characters"
        # It will be shown on screens and pages.
        if not (data.isascii() and text.isprintable()):
            return "", f"a serial number that is no text: {text[:24]!r}"
        return text, ""


def _heard(
    words: Words, one: _ValueSpot, unit: str, channel: str, press: int | None
) -> Heard | str | None:
    """One value; None if the press did not have it."""
    value, spot = one.value, one.spot
    data = spot.data(words)
    if data is None:
        return "a value that was not read"
    form = spot.form
    bits = form.bits(data)
    if bits in value.absent:
        return None
    unit, channel = value.unit or unit, value.channel or channel
    is_over = bits in value.over or (one.over is not None and one.over.is_set(words))
    is_under = bits in value.under or (one.under is not None and one.under.is_set(words))
    if is_over and is_under:
        return "a value above the range and below it at once"
    if is_over or is_under:
        text = f"0x{bits:0{4 * form.kind.registers}X}"
        flags = _OVER if is_over else _UNDER
        return Heard(Means.READING, text, None, unit, channel, press, flags)
    meant = one.known.get(bits)
    if meant is None:
        raw = number(bits, form.kind)
        if isinstance(raw, str):
            return raw
        exact = scaled(raw, value.scale)
        if isinstance(exact, str):
            return exact
        meant = spoken(raw), exact
        if len(one.known) >= MOST_KNOWN:
            one.known.clear()
        one.known[bits] = meant
    return Heard(Means.READING, meant[0], meant[1], unit, channel, press, NO_FLAGS)


def _spot(blocks: tuple[Block, ...], place: Place) -> _Spot:
    length = place.registers
    for number_, block in enumerate(blocks):
        if block.holds(place.table, place.address, length):
            start = 2 * (place.address - block.first)
            return _Spot(number_, start, start + 2 * length, place.form)
    raise ValueError("the plan reads every place")


def _bit_spot(blocks: tuple[Block, ...], place: BitPlace) -> _BitSpot:
    for number_, block in enumerate(blocks):
        if block.holds(place.table, place.address, 1):
            offset = place.address - block.first
            if place.table.has_bits:
                # The first entry is the lowest bit of the first byte (chapter 6.1).
                return _BitSpot(number_, offset // 8, 1 << offset % 8)
            # The high byte comes first.
            return _BitSpot(number_, 2 * offset + (place.bit < 8), 1 << place.bit % 8)
    raise ValueError("the plan reads every place")


def _text_bytes(data: bytes, form: Form) -> bytes:
    pairs = [data[i : i + 2] for i in range(0, len(data), 2)]
    if not form.high_byte_first:
        pairs = [pair[::-1] for pair in pairs]
    return b"".join(pairs if form.high_word_first else reversed(pairs))


def _spot_or_none(blocks: tuple[Block, ...], place: Place | None) -> _Spot | None:
    return None if place is None else _spot(blocks, place)


def _bit_or_none(blocks: tuple[Block, ...], place: BitPlace | None) -> _BitSpot | None:
    return None if place is None else _bit_spot(blocks, place)


def _coded(
    words: Words, spot: _Spot | None, table: ClosedTable[str], what: str
) -> str | ValueError:
    """The word for a code; empty where the profile has no code, a ValueError for an unknown one."""
    if spot is None:
        return ""
    code = spot.whole(words)
    if isinstance(code, str):
        return ValueError(code.replace("the count", f"the {what} code"))
    word = table.find(str(code))
    return ValueError(f"the {what} code {code} is not in the profile") if word is None else word
