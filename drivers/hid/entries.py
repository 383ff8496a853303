"""The entries of a hid profile, each by itself.

Documented line by line in ``config/profiles/hid-weighing.toml`` and ``hid-panel.toml``. Pure; any
thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field

from acquire.driverkit.fields import Angle, MeterKind
from acquire.driverkit.tables import PressTable, StreamTable
from acquire.errors import Fault
from acquire.schema import Name, Number, Schema, rule, show
from acquire.schema.band import Band
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


class Entries(Schema):
    """All entries of a profile, each sound by itself."""

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
