"""A hid profile as the driver uses it: frozen and checked. Pure; any thread."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from acquire.driverapi import UsbNeeds
from acquire.driverkit import PressRules
from acquire.driverkit.manners import PullRules, StreamRules
from acquire.model import Quantity
from acquire.wire.hid_field import ReportKind
from drivers.hid.entries import FlagTable, Place, PressBy, ValueTable
from drivers.hid.tables import ProfileTables

INTERFACE_CLASS = 0x03
INTERFACE_SUBCLASS = 0x00
"""Human interface device, no boot interface (HID 1.11, 4.1 and 4.2, from memory)."""

_KINDS = {
    "input": ReportKind.INPUT,
    "output": ReportKind.OUTPUT,
    "feature": ReportKind.FEATURE,
}


@dataclass(frozen=True, slots=True)
class SentReport:
    """A report for the device; `data` None: one that it is asked for."""

    kind: ReportKind
    report: int
    data: bytes | None


@dataclass(frozen=True, slots=True)
class Settling:
    """When a stable value is a press; `at_least` in the unit of the value, of masses in grams."""

    needs_zero: bool
    steady_reports: int
    at_least: Decimal
    zero_is_a_press: bool


@dataclass(frozen=True, slots=True)
class HidProfile:
    """How one model reports. `weighs` is the id of the report with the usages of weighing devices,
    -1 where any may have them; None where the values have places of their own."""

    needs: UsbNeeds
    quantity: Quantity
    idle_units: int | None
    weighs: int | None
    values: tuple[ValueTable, ...]
    flags: tuple[FlagTable, ...]
    count: Place | None
    by: PressBy
    settling: Settling
    presses: PressRules
    take: SentReport | None
    start: tuple[SentReport, ...]
    stream: StreamRules | None

    @property
    def needs_descriptor(self) -> bool:
        """Whether anything is found by usage."""
        places = (*self.values, *self.flags, *([self.count] if self.count else []))
        return self.weighs is not None or any(place.usage is not None for place in places)


def from_tables(tables: ProfileTables) -> HidProfile:
    """The profile of tables that have no fault."""
    press, stream, take, weighing = tables.press, tables.stream, tables.take, tables.weighing
    weighs = None
    if weighing is not None:
        weighs = -1 if weighing.report is None else weighing.report
    pull = None if stream is None else stream.pull
    idle_s = tables.usb.idle_s
    return HidProfile(
        needs=UsbNeeds(
            INTERFACE_CLASS, INTERFACE_SUBCLASS, None, timeout_s=float(tables.usb.timeout_s)
        ),
        quantity=tables.kind,
        # In steps of 4 ms; 0 is for ever (HID 1.11, 7.2.4).
        idle_units=None if idle_s is None else round(idle_s * 250),
        weighs=weighs,
        values=tuple(tables.value),
        flags=tuple(tables.flag),
        count=tables.count,
        by=press.by,
        settling=Settling(
            press.after == "zero", press.steady_reports, press.at_least, press.zero_is_a_press
        ),
        presses=PressRules(
            has_count=tables.count is not None,
            echo_window_s=float(press.echo_window_s),
            repeat_window_s=float(press.repeat_window_s),
            highest_count=press.highest_count,
            lowest_count=press.lowest_count,
            first_is_echo=bool(press.first_after_connect_is_echo),
            proven_count=press.proven_count,
            may_be_packed=press.may_be_packed,
        ),
        take=None if take is None else SentReport(_KINDS[take.kind], take.report, take.data),
        start=tuple(SentReport(_KINDS[one.kind], one.report, one.data) for one in tables.start),
        stream=None
        if stream is None
        else StreamRules(
            stream.rate_hz,
            stream.step,
            None if pull is None else PullRules(pull.begins_at, pull.ends_below, pull.ends_after_s),
        ),
    )
