"""The tables of a hid profile and the rules between them, before anything is made of them.

Documented line by line in ``config/profiles/hid-weighing.toml`` and ``hid-panel.toml``. Pure; any
thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field

from acquire.driverkit.fields import CHANNEL_KEYS, UNITS, Angle, MeterKind
from acquire.driverkit.tables import PressTable, StreamTable
from acquire.errors import Fault
from acquire.model import Quantity
from acquire.schema import Name, Number, Schema, either, rule, show, sound
from acquire.schema.band import Band
from drivers.hid.contradictions import contradictions
from drivers.hid.fields import Raw, ReportId, Scale, Sent, Usage


class PressBy(StrEnum):
    """What a press is."""

    STABLE = "stable"
    """The first stable value after the device was in motion."""
    REPORT = "report"
    """Every report with values."""
    BUTTON = "button"
    """A button in a report; the values are those of the same report or the next one with some."""
    TAKE = "take"
    """Nothing: values are taken by command alone."""
    STREAM = "stream"
    """Nothing: every report is a sample."""


class NumberType(StrEnum):
    """A number at a place: whole numbers and IEEE 754."""

    UINT8 = "uint8"
    INT8 = "int8"
    UINT16 = "uint16"
    INT16 = "int16"
    UINT32 = "uint32"
    INT32 = "int32"
    FLOAT32 = "float32"

    @property
    def width(self) -> int:
        """Its bytes."""
        return int(self.lstrip("uintfloa")) // 8


class FlagMeans(StrEnum):
    """What a flag of the device says."""

    STABLE = "stable"
    MOVING = "moving"
    ZERO = "zero"
    """It stands, and at nothing."""
    OVER = "over"
    UNDER = "under"
    BUTTON = "button"
    ADJUSTED = "adjusted"
    TROUBLE = "trouble"


class Place(Schema):
    """Where a number is: by usage, or by byte."""

    usage: Usage | None = None
    nth: Annotated[int, Field(ge=0, le=255)] = 0
    report: ReportId | None = None
    byte: Annotated[int, Field(ge=0, le=4095)] | None = None
    type: Annotated[NumberType, Field(strict=False)] = NumberType.UINT8
    order: Literal["little", "big"] = "little"
    bit: Annotated[int, Field(ge=0, le=7)] | None = None

    @rule
    def it_is_one_place(self) -> Iterator[Fault]:
        if (self.usage is None) == (self.byte is None):
            got = "neither" if self.usage is None else "both"
            yield Fault("", got, "a usage, or a report with a byte")
        if self.byte is not None and self.report is None:
            wanted = "the report in which the byte is, 0 where reports have no numbers"
            yield Fault("report", "nothing", wanted)
        if self.byte == 0 and self.report:
            yield Fault("byte", "0, which is the number of the report", "1 or more")

    @rule
    def a_bit_is_one_of_a_byte(self) -> Iterator[Fault]:
        if self.bit is not None and (self.byte is None or self.type is not NumberType.UINT8):
            yield Fault("bit", show(self.bit), "none but of a byte of type uint8")


class ValueTable(Place):
    unit: str | None = None
    scale: Scale | None = None
    geometry: Angle | None = None
    band: Band | None = None
    over: Raw = Field(default_factory=list)
    under: Raw = Field(default_factory=list)

    @property
    def channel(self) -> str:
        return self.geometry or self.band or ""

    @rule
    def no_number_is_above_and_below(self) -> Iterator[Fault]:
        for raw in sorted(set(self.over) & set(self.under)):
            yield Fault("under", show(raw), "a number that is not in over as well")


class FlagTable(Place):
    means: Annotated[FlagMeans, Field(strict=False)]
    values: Raw = Field(default_factory=lambda: [1])
    text: Annotated[str, Field(min_length=1, max_length=120)] | None = None

    @rule
    def a_trouble_has_words(self) -> Iterator[Fault]:
        if (self.means is FlagMeans.TROUBLE) != (self.text is not None):
            got = "nothing" if self.text is None else show(self.text)
            yield Fault("text", got, "words for a trouble, and for nothing else")


class WeighingTable(Schema):
    mass_is: Literal["force"] | None = None
    report: ReportId | None = None


class HidPressTable(PressTable):
    by: Annotated[PressBy, Field(strict=False)]
    after: Literal["motion", "zero"] = "motion"
    steady_reports: Annotated[int, Field(ge=1, le=1000)] = 1
    at_least: Annotated[Number, Field(ge=0)] = Decimal(0)
    zero_is_a_press: bool = False

    @rule
    def what_is_for_stable_values_is_with_them(self) -> Iterator[Fault]:
        if self.by is PressBy.STABLE:
            return
        for name, is_set in (
            ("after", self.after != "motion"),
            ("steady_reports", self.steady_reports != 1),
            ("at_least", bool(self.at_least)),
            ("zero_is_a_press", self.zero_is_a_press),
        ):
            if is_set:
                yield Fault(name, "an entry", f'none but with by = "stable", this is {self.by}')


class SetTable(Schema):
    report: ReportId = 0
    kind: Literal["output", "feature"] = "feature"
    data: Sent


class TakeTable(Schema):
    report: ReportId = 0
    kind: Literal["input", "output", "feature"] = "input"
    data: Sent | None = None

    @rule
    def what_is_asked_for_holds_nothing(self) -> Iterator[Fault]:
        if self.data is not None and self.kind == "input":
            yield Fault("kind", "input", "output or feature: an input report cannot be sent to it")
        if self.data is None and self.kind == "output":
            yield Fault("data", "nothing", "the bytes of the output report")


class UsbTable(Schema):
    timeout_s: Annotated[Number, Field(gt=0, le=5)] = Decimal(2)
    idle_s: Annotated[Number, Field(ge=0, le=1)] | None = None


class ProfileTables(Schema):
    about: Name | None = None
    kind: MeterKind
    usb: UsbTable = UsbTable()
    weighing: WeighingTable | None = None
    value: Annotated[list[ValueTable], Field(max_length=16)] = Field(default_factory=list)
    flag: Annotated[list[FlagTable], Field(max_length=32)] = Field(default_factory=list)
    count: Place | None = None
    press: HidPressTable
    take: TakeTable | None = None
    start: Annotated[list[SetTable], Field(max_length=16)] = Field(default_factory=list)
    stream: StreamTable | None = None

    @rule
    def nothing_is_said_twice_and_differently(self) -> Iterator[Fault]:
        yield from contradictions(self)

    @rule
    def there_are_values(self) -> Iterator[Fault]:
        if (self.weighing is None) == (not self.value):
            got = "neither" if self.weighing is None else "both"
            yield Fault("value", got, "a table [weighing], or a [[value]] at least")

    @rule
    def a_mass_is_a_force_only_if_the_profile_says_so(self) -> Iterator[Fault]:
        if self.weighing is None:
            return
        if self.kind is not Quantity.FORCE:
            yield Fault("weighing", "a table", f"none: no weighing device measures {self.kind}")
        elif self.weighing.mass_is is None:
            wanted = (
                '"force" if what pulls or presses is meant: the usages of weighing devices are '
                "masses, and grams are read as gram-force then"
            )
            yield Fault("weighing.mass_is", "nothing", wanted)

    @rule
    def every_value_has_unit_and_channel_of_the_kind(self) -> Iterator[Fault]:
        seen: dict[str, int] = {}
        key = CHANNEL_KEYS.get(self.kind, "")
        for index, value in sound(self.value, "unit", "geometry", "band", "usage"):
            path = f"value[{index}]"
            if value.unit is None and value.usage is None:
                yield Fault(f"{path}.unit", "nothing", f"{either(UNITS[self.kind])}")
            if value.unit is not None and value.unit not in UNITS[self.kind]:
                wanted = f"{either(UNITS[self.kind])} for {self.kind}"
                yield Fault(f"{path}.unit", show(value.unit), wanted)
            for name, channel in (("geometry", value.geometry), ("band", value.band)):
                if (channel is not None) != (name == key):
                    got = "nothing" if channel is None else show(channel)
                    wanted = f"a {name}" if name == key else f"none: {self.kind} has no {name}"
                    yield Fault(f"{path}.{name}", got, wanted)
            if seen.setdefault(value.channel, index) != index:
                got = show(value.channel) if value.channel else "a second value"
                yield Fault(path, got, "one value for each channel")

    @rule
    def a_scale_is_not_on_top_of_a_unit_of_the_device(self) -> Iterator[Fault]:
        for index, value in sound(self.value, "unit", "scale"):
            if value.unit is None and value.scale is not None:
                wanted = "none: without unit the device says both unit and scale"
                yield Fault(f"value[{index}].scale", show(value.scale), wanted)

    @rule
    def what_makes_a_press_is_there(self) -> Iterator[Fault]:
        means = {flag.means for _, flag in sound(self.flag, "means")}
        by = self.press.by
        if by is PressBy.STABLE and self.weighing is None:
            for needed in (FlagMeans.STABLE, FlagMeans.MOVING):
                if needed not in means:
                    yield Fault("flag", "none", f'a [[flag]] with means = "{needed}"')
        if (by is PressBy.BUTTON) != (FlagMeans.BUTTON in means):
            got = "none" if by is PressBy.BUTTON else "a button"
            wanted = 'a [[flag]] with means = "button" with press.by = "button", and with no other'
            yield Fault("flag", got, wanted)
        if by is PressBy.TAKE and self.take is None:
            yield Fault("take", "nothing", "a table: only a command brings values")
        if (by is PressBy.STREAM) != (self.stream is not None):
            got = "nothing" if self.stream is None else "a table"
            yield Fault("stream", got, 'a table with press.by = "stream", and with no other')

    @rule
    def a_sample_is_one_value(self) -> Iterator[Fault]:
        if self.press.by is PressBy.STREAM and len(self.value) > 1:
            yield Fault("value", f"{len(self.value)} values", "one: a stream has one channel")
        if self.press.by is PressBy.STREAM and self.take is not None:
            yield Fault("take", "a table", "none: a stream is never taken from")

    @rule
    def presses_are_told_apart_in_one_way(self) -> Iterator[Fault]:
        press = self.press
        yield from press.unfit(is_counted=self.count is not None, count="a [count] in the report")
        if self.count is not None and press.by is not PressBy.REPORT:
            yield Fault(
                "count", "a table", f'none but with press.by = "report", this is {press.by}'
            )
