"""Profiles of the hid family: what ships is sound, and every fault is told with its place."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest

from acquire.driverapi import UsbNeeds
from acquire.driverkit.fields import UNITS
from acquire.errors import SettingsError
from acquire.model import Quantity
from acquire.units import units_of
from drivers.hid import FAMILY, weighing
from drivers.hid.family import load
from tests.captures import profile

Table = dict[str, Any]


@pytest.mark.parametrize("layout", ["hid-weighing", "hid-gloss", "hid-force"])
def test_the_interface_is_that_of_the_class_and_no_boot_interface(layout: str) -> None:
    # HID 1.11, 4.1 and 4.2 (from memory): class 03h, subclass 0.
    assert FAMILY.needs(profile(layout), layout) == UsbNeeds(0x03, 0x00, None, timeout_s=2.0)


def test_every_force_that_a_mass_stands_for_is_a_unit_that_is_known() -> None:
    for unit, _, _ in weighing.FORCE_UNITS.values():
        assert unit in UNITS[Quantity.FORCE]
        assert unit in units_of(Quantity.FORCE)


def test_each_usage_of_a_unit_is_taken_or_refused_by_name() -> None:
    low, high = weighing.UNITS
    taken = set(weighing.FORCE_UNITS)
    refused = {low & ~0xFFFF | number for number in weighing.UNIT_NAMES}
    assert taken | refused == set(range(low, high + 1))
    assert not taken & refused


@pytest.mark.parametrize(
    ("raw", "power"),
    [(0, 0), (3, 3), (-3, -3), (255, -1), (253, -3), (128, None), (13, None), (-13, None)],
)
def test_a_scaling_is_a_signed_power_of_ten_in_bounds(raw: int, power: int | None) -> None:
    assert weighing.power_of(raw) == power


def without(*names: str) -> Callable[[Table], object]:
    return lambda table: [table.pop(name) for name in names]


def put(path: str, value: object) -> Callable[[Table], object]:
    def change(table: Any) -> None:
        *names, last = path.split(".")
        for name in names:
            table = table[int(name)] if name.isdecimal() else table[name]
        table[last] = value

    return change


def drop(path: str) -> Callable[[Table], object]:
    def change(table: Any) -> None:
        *names, last = path.split(".")
        for name in names:
            table = table[int(name)] if name.isdecimal() else table[name]
        del table[last]

    return change


FAULTS: list[tuple[str, Callable[[Table], object], str]] = [
    ("hid-weighing", drop("weighing.mass_is"), "weighing.mass_is: got nothing"),
    ("hid-weighing", put("weighing.mass_is", "mass"), "weighing.mass_is: got 'mass'"),
    ("hid-weighing", put("kind", "gloss"), "weighing: got a table"),
    ("hid-weighing", without("weighing"), "value: got neither"),
    ("hid-weighing", without("press"), "press"),
    ("hid-weighing", put("press.by", "button"), "flag: got none"),
    ("hid-weighing", put("press.by", "stream"), "stream: got nothing"),
    ("hid-weighing", put("press.by", "report"), "press.after: got an entry"),
    ("hid-weighing", put("take.kind", "output"), "take.data: got nothing"),
    ("hid-weighing", put("take.data", "01"), "take.kind: got input"),
    ("hid-weighing", put("press.highest_count", 9), "press.highest_count: got 9"),
    ("hid-gloss", drop("value.0.geometry"), "value[0].geometry: got nothing"),
    ("hid-gloss", put("value.1.geometry", 20), "value[1]: got '20'"),
    ("hid-gloss", put("value.0.band", "315-400"), "value[0].band: got '315-400'"),
    ("hid-gloss", drop("value.0.unit"), "value[0].unit: got nothing"),
    ("hid-gloss", put("value.0.unit", "newton"), "value[0].unit: got 'newton'"),
    ("hid-gloss", put("value.0.scale", 0), "value[0].scale: got 0"),
    ("hid-gloss", put("value.0.usage", "01:30"), "value[0]: got both"),
    ("hid-gloss", drop("value.0.report"), "value[0].report: got nothing"),
    ("hid-gloss", put("value.0.byte", 0), "value[0].byte: got 0"),
    ("hid-gloss", put("value.0.under", [0xFFFF]), "value[0].under: got 65535"),
    ("hid-gloss", put("value.0.bit", 1), "value[0].bit: got 1"),
    ("hid-gloss", put("flag.1.text", None), "flag[1].text"),
    ("hid-gloss", put("flag.0.text", "so"), "flag[0].text: got 'so'"),
    ("hid-gloss", put("press.repeat_window_s", 1), "press.repeat_window_s: got 1"),
    ("hid-gloss", put("start.0.data", "0"), "start[0].data: got '0'"),
    ("hid-gloss", put("press.by", "take"), "take: got nothing"),
    ("hid-force", put("value.0.usage", "20"), "value[0].usage: got '20'"),
    ("hid-force", put("value.0.scale", 2), "value[0].scale: got 2"),
    ("hid-force", put("press.by", "report"), "flag: got a button"),
    ("hid-force", put("press.by", "stable"), 'wanted a [[flag]] with means = "stable"'),
    ("hid-force", put("count", {"usage": "09:02"}), "count: got a table"),
    ("hid-force", put("stream", {"rate_hz": 10, "step": 1}), "stream: got a table"),
    ("hid-force", put("usb", {"timeout_s": 6}), "usb.timeout_s: got 6"),
]


@pytest.mark.parametrize(("layout", "change", "fault"), FAULTS)
def test_a_fault_is_told_with_its_place(
    layout: str, change: Callable[[Table], object], fault: str
) -> None:
    table = deepcopy(profile(layout))
    change(table)
    with pytest.raises(SettingsError) as caught:
        load(table, layout)
    assert any(fault in str(one) for one in caught.value.faults), caught.value.faults


def test_idle_is_counted_in_steps_of_four_milliseconds() -> None:
    table = profile("hid-force")
    table["usb"] = {"idle_s": Decimal("0.5")}
    assert load(table, "test").idle_units == 125
