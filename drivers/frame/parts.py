"""The small tables of a frame profile: numbers, codes, bits and what they must be.

Documented line by line in ``config/profiles/frame-gloss.toml``. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from enum import StrEnum
from typing import Annotated

from pydantic import Field

from acquire.driverkit.fields import Angle
from acquire.driverkit.limits import LimitsTable
from acquire.errors import Fault
from acquire.schema import Name, Schema, either, rule, show
from acquire.schema import Number as Figure
from acquire.schema.band import Band
from acquire.wire import Order
from drivers.frame.fields import Marker, Offset, shown
from drivers.frame.number import (
    BYTES_OF_WORDS,
    INTEGERS,
    LONGEST,
    SIGNED,
    UNSIGNED,
    WIDTHS,
    Point,
    Sign,
    Type,
    WordOrder,
    Written,
)

Span = tuple[str, int, int]
"""A part of a frame: its path in the profile, its first byte and its number of bytes."""

LONGEST_TEXT = 32


CHANNEL_KEYS = ("geometry", "geometry_at", "band", "band_at")
CHANNELS_AGAIN = {"geometry_at": "geometry_again", "band_at": "band_again"}
"""The key for where the channel stands once more, by the one for where it stands."""


class Status(StrEnum):
    """What a device can say of a value."""

    OVER_RANGE = "over-range"
    UNDER_RANGE = "under-range"
    ERROR = "error"
    UNSTABLE = "unstable"
    ABSENT = "absent"


class ConditionTable(Schema):
    offset: Offset
    is_: Annotated[Marker, Field(alias="is")]
    mask: Marker | None = None

    @rule
    def the_mask_lets_through_what_is_wanted(self) -> Iterator[Fault]:
        if self.mask is None:
            return
        if len(self.mask) != len(self.is_):
            yield Fault("mask", shown(self.mask), f"as many bytes as is = {shown(self.is_)} has")
        elif any(byte & ~bits for byte, bits in zip(self.is_, self.mask, strict=True)):
            yield Fault("is", shown(self.is_), f"no bit outside of the mask {shown(self.mask)}")

    @property
    def span(self) -> Span:
        return ("", self.offset, len(self.is_))


class CopyTable(Schema):
    offset: Offset
    of: Offset
    bytes_: Annotated[int, Field(alias="bytes", ge=1, le=8)] = 1

    @rule
    def a_copy_stands_beside_what_it_repeats(self) -> Iterator[Fault]:
        if abs(self.offset - self.of) < self.bytes_:
            wanted = f"{self.bytes_} other bytes than those from {self.offset} on"
            yield Fault("of", f"{self.of}", wanted)

    @property
    def spans(self) -> tuple[Span, Span]:
        return ("offset", self.offset, self.bytes_), ("of", self.of, self.bytes_)


class SignTable(Schema):
    """A byte that is one thing beside numbers above zero and another one beside those below."""

    offset: Offset
    plus: Marker
    minus: Marker

    @rule
    def it_is_one_byte_and_tells_them_apart(self) -> Iterator[Fault]:
        for name in ("plus", "minus"):
            byte = getattr(self, name)
            if len(byte) != 1:
                yield Fault(name, shown(byte), 'one byte, such as "FF"')
        if self.plus == self.minus:
            yield Fault("minus", shown(self.minus), f"another byte than plus, {shown(self.plus)}")

    @property
    def span(self) -> Span:
        return ("", self.offset, 1)


class OneOfTable(Schema):
    offset: Offset
    values: Annotated[list[Marker], Field(min_length=1, max_length=64)]

    @rule
    def the_values_are_of_one_width_and_differ(self) -> Iterator[Fault]:
        for index, value in enumerate(self.values):
            path = f"values[{index}]"
            if len(value) != len(self.values[0]):
                wanted = f"as many bytes as {shown(self.values[0])} has"
                yield Fault(path, shown(value), wanted)
            elif value in self.values[:index]:
                yield Fault(path, shown(value), "each value once")

    @property
    def span(self) -> Span:
        return ("", self.offset, len(self.values[0]))


class StatusTable(ConditionTable):
    means: Annotated[Status, Field(strict=False)]
    code: Name | None = None

    @rule
    def an_error_has_a_code_and_nothing_else(self) -> Iterator[Fault]:
        if self.means is Status.ERROR and self.code is None:
            yield Fault("code", "nothing", 'a word for the error, such as "LAMP"')
        if self.means is not Status.ERROR and self.code is not None:
            yield Fault("code", show(self.code), 'no code: means is not "error"')


class CodeTable(Schema):
    offset: Offset
    size: Annotated[int, Field(ge=1, le=4)] = 1
    mask: Marker | None = None

    @rule
    def the_mask_has_the_size(self) -> Iterator[Fault]:
        if self.mask is not None and len(self.mask) != self.size:
            yield Fault("mask", shown(self.mask), f"{self.size} bytes, as size says")

    @property
    def span(self) -> Span:
        return ("", self.offset, self.size)


Again = Annotated[list[CodeTable], Field(max_length=16)]
"""Where a frame says once more what it said elsewhere."""


class BitsTable(Schema):
    offset: Offset
    mask: Marker = b"\xff"

    @rule
    def the_mask_is_one_byte(self) -> Iterator[Fault]:
        if len(self.mask) != 1 or self.mask == b"\0":
            yield Fault("mask", shown(self.mask), 'one byte with a bit in it, such as "07"')

    @property
    def span(self) -> Span:
        return ("", self.offset, 1)


class NumberTable(Schema):
    offset: Offset
    type: Annotated[Type, Field(strict=False)]
    size: Annotated[int, Field(ge=1, le=LONGEST_TEXT)] | None = None
    order: Order | None = None
    word_order: WordOrder | None = None
    sign: Annotated[Sign, Field(strict=False)] = Sign.NONE

    @rule
    def a_size_is_told_once(self) -> Iterator[Fault]:
        width = WIDTHS.get(self.type)
        if width is not None and self.size is not None:
            yield Fault("size", show(self.size), f"no size: {self.type} is {width} bytes wide")
        if width is None and self.size is None:
            yield Fault("size", "nothing", f"the bytes of this {self.type}")
        most = LONGEST.get(self.type)
        if most is not None and self.size is not None and self.size > most:
            yield Fault("size", show(self.size), f"at most {most} bytes of {self.type}")

    @rule
    def the_order_of_several_bytes_is_told(self) -> Iterator[Fault]:
        if self.type in (Type.DIGITS, Type.TEXT, Type.HEX):
            if self.order is not None:
                yield Fault("order", show(self.order), f"no order: {self.type} is read as sent")
        elif self.order is None and WIDTHS.get(self.type, self.size or 1) > 1:
            yield Fault("order", "nothing", '"big" (highest byte first) or "little"')

    @rule
    def only_four_bytes_have_two_words(self) -> Iterator[Fault]:
        if self.word_order is not None and WIDTHS.get(self.type) != BYTES_OF_WORDS:
            wanted = f"no word_order: {self.type} is not of two words"
            yield Fault("word_order", show(self.word_order), wanted)

    @property
    def is_swapped(self) -> bool:
        """Whether its two words come in the other order than their bytes do."""
        told = self.word_order
        return told is not None and (told == "high-first") != (self.order == "big")

    @rule
    def only_numbers_without_one_of_their_own_have_a_sign(self) -> Iterator[Fault]:
        is_free = self.sign is Sign.NONE or self.type is Type.BCD
        if is_free or (self.sign is Sign.TOP_BIT and self.type in UNSIGNED):
            return
        wanted = f"no sign: {self.type} is no bcd"
        if self.type in UNSIGNED:
            wanted = f'"top-bit" or none: {self.type} is no bcd'
        yield Fault("sign", show(self.sign), wanted)

    @property
    def width(self) -> int:
        return WIDTHS.get(self.type) or self.size or 1

    @property
    def span(self) -> Span:
        return ("", self.offset, self.width)


class ValueTable(NumberTable, LimitsTable):
    scale: Figure = Decimal(1)
    decimals: Annotated[int, Field(ge=0, le=12)] | None = None
    full: bool = False
    plus: bool | None = None
    point: Point = "."
    decimals_at: BitsTable | None = None
    exponent_at: NumberTable | None = None
    minus: ConditionTable | None = None
    signs: Annotated[list[SignTable], Field(max_length=16)] = Field(default_factory=list)
    unit_at: CodeTable | None = None
    geometry: Angle | None = None
    geometry_at: CodeTable | None = None
    geometry_again: Again = Field(default_factory=list)
    band: Band | None = None
    band_at: CodeTable | None = None
    band_again: Again = Field(default_factory=list)
    status: Annotated[list[StatusTable], Field(max_length=16)] = Field(default_factory=list)

    @rule
    def a_value_is_a_number(self) -> Iterator[Fault]:
        if self.type in (Type.TEXT, Type.HEX):
            numbers = [t.value for t in Type if t not in (Type.TEXT, Type.HEX)]
            yield Fault("type", show(self.type), either(numbers))

    @rule
    def only_digits_are_written_in_some_way(self) -> Iterator[Fault]:
        if self.type is Type.DIGITS:
            return
        for name in ("decimals", "full", "plus", "point"):
            told = getattr(self, name)
            if told is not None and told != type(self).model_fields[name].default:
                yield Fault(name, show(told), f"nothing: {self.type} is no digits")

    @property
    def written(self) -> Written:
        """How its digits are written."""
        has_sign = self.minus is None
        return Written(self.decimals, self.full, self.plus, has_sign=has_sign, point=self.point)

    @rule
    def a_scale_is_no_zero_and_has_few_digits(self) -> Iterator[Fault]:
        if self.scale <= 0 or len(self.scale.as_tuple().digits) > 12:
            yield Fault("scale", show(self.scale), "a number above 0 of at most 12 digits")

    @rule
    def the_power_of_ten_is_told_once(self) -> Iterator[Fault]:
        if self.decimals_at is not None and self.exponent_at is not None:
            yield Fault("exponent_at", "a table", "decimals_at or exponent_at, not both")
        if self.exponent_at is not None and self.exponent_at.type not in INTEGERS:
            yield Fault("exponent_at.type", show(self.exponent_at.type), either(INTEGERS))

    @rule
    def the_sign_is_told_once(self) -> Iterator[Fault]:
        has_own = self.type in SIGNED - {Type.DIGITS} or self.sign is not Sign.NONE
        if self.minus is not None and has_own:
            yield Fault("minus", "a table", f"none: this {self.type} has a sign of its own")
        if self.minus is not None and self.plus is not None:
            yield Fault("plus", show(self.plus), "nothing: `minus` tells the sign of these digits")

    @rule
    def the_channel_is_told_once(self) -> Iterator[Fault]:
        told = [key for key in CHANNEL_KEYS if getattr(self, key) is not None]
        if len(told) > 1:
            yield Fault(told[1], "told as well", f"{either(told)}, and one of them alone")

    @rule
    def what_stands_once_more_stands_somewhere(self) -> Iterator[Fault]:
        for key, again in CHANNELS_AGAIN.items():
            if getattr(self, again) and getattr(self, key) is None:
                yield Fault(again, "told", f"none: there is no {key} to hold it against")

    @property
    def channel(self) -> tuple[str, str | None]:
        """Which key tells the channel, and the channel itself if it is the same for all frames."""
        for key in CHANNEL_KEYS:
            if getattr(self, key) is not None:
                return key, None if key.endswith("_at") else getattr(self, key)
        return "", None

    @property
    def channel_at(self) -> CodeTable | None:
        """Where the frame tells the channel."""
        return self.geometry_at or self.band_at

    @property
    def channel_again(self) -> list[tuple[str, CodeTable]]:
        """Where the frame tells the channel once more, each with its path in the value."""
        return [
            (f"{key}[{index}]", code)
            for key in CHANNELS_AGAIN.values()
            for index, code in enumerate(getattr(self, key))
        ]

    def spans(self) -> Iterator[Span]:
        """Every part of the frame that this value is made of."""
        yield self.span
        for name in ("decimals_at", "exponent_at", "minus", "unit_at", *CHANNELS_AGAIN):
            part = getattr(self, name)
            if part is not None:
                yield (name, *part.span[1:])
        for path, code in self.channel_again:
            yield (path, *code.span[1:])
        for index, sign in enumerate(self.signs):
            yield (f"signs[{index}]", *sign.span[1:])
        for index, status in enumerate(self.status):
            yield (f"status[{index}]", *status.span[1:])
