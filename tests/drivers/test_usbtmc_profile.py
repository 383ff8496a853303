"""Profiles of the usbtmc family: what ships is sound, and every fault is told with its place."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest

from acquire.driverapi import UsbNeeds
from acquire.errors import SettingsError
from drivers.usbtmc import FAMILY
from drivers.usbtmc.family import load
from tests.captures import profile

Table = dict[str, Any]


def test_the_interface_is_that_of_the_class() -> None:
    # USBTMC 1.00, table 43: application specific FEh, test and measurement 03h.
    needs = FAMILY.needs(profile("usbtmc-head"), "usbtmc-head")
    assert needs == UsbNeeds(0xFE, 0x03, None, listens=True, timeout_s=2.0)


def test_an_answer_is_awaited_as_often_as_the_time_of_a_transfer_goes_into_its_own() -> None:
    assert load(profile("usbtmc-head"), "test").answer_tries == 2


def without(name: str) -> Callable[[Table], object]:
    return lambda table: table.pop(name)


def put(path: str, value: object) -> Callable[[Table], object]:
    def change(table: Table) -> None:
        *names, last = path.split(".")
        for name in names:
            table = table[name]
        table[last] = value

    return change


HEAD: list[tuple[Callable[[Table], object], str]] = [
    (without("fetch"), "fetch: got nothing"),
    (without("wavelengths"), "wavelengths: got nothing"),
    (without("spectrum"), "answer: got none"),
    (without("unit"), "unit"),
    (put("unit", "gloss_unit"), "unit: got 'gloss_unit'"),
    (put("kind", "force"), "spectrum: got a table"),
    (put("status.adjusted", 0), "status: got"),
    (put("status.ready", 8), "status.ready"),
    (put("spectrum.scale", Decimal("0.01")), "spectrum.scale"),
    (put("spectrum.form", "binary16"), "spectrum.form"),
    (put("spectrum.head", r"(?P<value>\d+),"), "spectrum.head"),
    (put("spectrum.head", r"(a+)+,"), "spectrum.head"),
    (put("wavelengths.start_nm", 300), "wavelengths"),
    (put("wavelengths.pattern", r"(?P<start>\d+)"), "wavelengths.pattern"),
    (put("error.press", r"\d+"), "error.press"),
    (put("usb.timeout_s", 6), "usb.timeout_s"),
    (put("usb.transfer_bytes", 1 << 21), "usb.transfer_bytes"),
    (put("press.highest_count", 0), "press.highest_count"),
    (put("strange", 1), "strange"),
    (lambda t: t["band"].append({"from_nm": 315, "to_nm": 400}), "band[3]: got '315-400'"),
    (lambda t: t["band"].append({"from_nm": 400, "to_nm": 315}), "band[3].to_nm"),
    (lambda t: (t.pop("poll"), t["status"].pop("ready")), "fetch: got a command"),
]
BANDS: list[tuple[Callable[[Table], object], str]] = [
    (put("poll.pattern", r"\d+"), "poll.pattern"),
    (put("poll.pattern", r"(?P<flag>\d)"), "poll.fresh"),
    (put("poll.every_s", Decimal("0.001")), "poll.every_s"),
    (lambda t: t["poll"].pop("command"), "poll.pattern"),
    (without("channels"), "channels: got nothing"),
    (lambda t: t["channels"].pop("uv"), "channels"),
    (put("kind", "gloss"), "channels.uv"),
    (lambda t: t["answer"][0].update(example="7;1;2;3"), "answer[0].example"),
    (lambda t: t["answer"][0].update(pattern=r"(?P<count>\d+)"), "answer[0].pattern"),
    (
        lambda t: (t["answer"][0].pop("example"), t["answer"][0].update(pattern=r"(?P<value>\d+)")),
        "channels",
    ),
    (lambda t: t["answer"].append({"pattern": r"(?P<value_uv>\d+)"}), "answer: got a count"),
    (
        lambda t: (t["poll"].pop("pattern"), t.pop("fetch"), put_uncounted(t)),
        "poll.command",
    ),
]


def put_uncounted(table: Table) -> None:
    table["answer"] = [{"pattern": r"(?P<value_uv>[\d.]+)"}]


@pytest.mark.parametrize(
    ("layout", "change", "told"),
    [
        *(("usbtmc-head", change, told) for change, told in HEAD),
        *(("usbtmc-bands", change, told) for change, told in BANDS),
    ],
)
def test_a_fault_is_told_with_its_place(
    layout: str, change: Callable[[Table], object], told: str
) -> None:
    table = deepcopy(profile(layout))
    change(table)
    with pytest.raises(SettingsError) as error:
        FAMILY.needs(table, "test.toml")
    faults = [f"{fault.path}: got {fault.got}" for fault in error.value.faults]
    assert any(fault.startswith(told) for fault in faults), faults
