"""A count that sets a bit nobody has seen set may be a flag: every family with a count tells of it.

`tests/drivers/test_exchanged.py` has the family of frames.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from copy import deepcopy
from typing import Any

import pytest

from acquire.driverkit.presses import NEW_BIT
from acquire.model import Fact, NoticeKind
from acquire.wire.transfer import Pipe, record
from tests.captures import profile
from tests.drivers.test_hid_driver import Device
from tests.drivers.test_modbus_driver import IDENTITY, Bench, press, registers
from tests.drivers.test_usbtmc_driver import block, notices, ready

GLOSS = "06 00 ff 09 01 a1 01 85 01 15 00 26 ff 00 75 08 95 09 09 02 81 02 c0"


def proven(layout: str, count: int) -> dict[str, Any]:
    table = deepcopy(profile(layout))
    table["press"] = table.get("press", {}) | {"proven_count": count}
    return table


def hid(table: dict[str, Any], counts: Sequence[int] = (7, 8)) -> Iterator[list[Fact]]:
    device = Device(table, GLOSS, packet_bytes=64)
    device.get(record(Pipe.CONTROL, bytes.fromhex("21 09 02 03 00 00 02 00")))
    for count in counts:
        yield device.reports(f"01 00 {count:02x} 00 92 03 bc 03 e9 03", after_s=1)


def modbus(table: dict[str, Any], counts: Sequence[int] = (7, 8)) -> Iterator[list[Fact]]:
    bench = Bench(table)
    bench.hear(IDENTITY)
    bench.wait(0.01)
    bench.hear(registers(6, 0, 0))
    for count in counts:
        bench.wait(0.3)
        yield bench.reads(press(count, 914))


def usbtmc(table: dict[str, Any], counts: Sequence[int] = (7, 8)) -> Iterator[list[Fact]]:
    host = ready(table)
    for count in counts:
        host.say("FETC?\n", b"%d," % count + block())
        yield host.request(1)


FAMILIES = [("hid-gloss", hid), ("modbus-gloss", modbus), ("usbtmc-head", usbtmc)]


@pytest.mark.parametrize(("layout", "presses"), FAMILIES, ids=[name for name, _ in FAMILIES])
def test_a_bit_of_the_count_that_no_press_had_is_told_as_that_and_as_switched_on(
    layout: str, presses: Any
) -> None:
    _, eighth = presses(proven(layout, 7))
    assert notices(eighth)[:2] == [(NoticeKind.TROUBLE, NEW_BIT), (NoticeKind.POWER_UP, "")]
    _, eighth = presses(proven(layout, 8))
    assert (NoticeKind.TROUBLE, NEW_BIT) not in notices(eighth)
    assert (NoticeKind.POWER_UP, "") not in notices(eighth)


@pytest.mark.parametrize(("layout", "presses"), FAMILIES, ids=[name for name, _ in FAMILIES])
def test_a_count_that_may_be_of_packed_decimals_goes_on_from_nine_to_sixteen(
    layout: str, presses: Any
) -> None:
    for may_be in (False, True):
        table = deepcopy(profile(layout))
        table["press"] = table.get("press", {}) | {"may_be_packed": may_be}
        _, after = presses(table, (9, 16))
        # A leap is told, by presses that never came or as switched on; the next press is not.
        assert bool(notices(after)) is not may_be
