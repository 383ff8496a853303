"""What a press says that the display showed is the number that its message bears, digit by digit.

The message is read by the driver with the profile that ships for it, and registers by their page.
"""

from __future__ import annotations

import struct
from decimal import Decimal, InvalidOperation
from typing import Any

import pytest

from acquire.driverapi.registry import Registry
from acquire.model import Reading
from acquire.testkit.simulated import told
from simulators.arguments import Arguments
from simulators.frames.force import FrameForce
from simulators.modbus.force import PEAK_AT, ModbusForce
from simulators.modbus.pdu import HOLDING, INPUT
from simulators.modbus.transmission import RESULT_AT, ModbusHead
from simulators.usb.backend import SimulatedBackend
from simulators.usb.gauge_hand import GaugeHand
from simulators.usb.hands import usb_hand
from simulators.wires import WIRES, on_table
from tests.captures import profile
from tests.unit.tape_bench import OPENED

MASSES_G = (0, 3.7, 50, 200, 500, 1234.5)
UNITS = {"force-peak": ("N", "gf", "kgf", "lbf", "ozf"), "force-powers": ("N", "gf"),
         "frame-force": ("N", "gf", "kgf", "lbf")}  # fmt: skip


class Held:
    """A device without a port, and the driver of its shipped profile."""

    def __init__(self, wire: str) -> None:
        longest = WIRES[wire].serial_longest
        self.held: Any = on_table(WIRES[wire], "XX-0417"[:longest], 3, {})
        self.driver = Registry().family("frame" if "frame" in wire else "line").driver(
            profile(wire), wire
        )  # fmt: skip

    def act(self, name: str, /, **arguments: object) -> Any:
        return self.held.act(Arguments(name, arguments))

    def press(self) -> tuple[dict[str, Any], list[Reading]]:
        """What the press says, and what its message says."""
        deed = self.act("press")
        facts = [*self.driver.feed(deed.send, OPENED), *self.driver.lost(OPENED)]
        return dict(deed.answer), [fact for fact in facts if isinstance(fact, Reading)]


def number(reading: Reading) -> str:
    """What was sent, as it was sent: text, or of a frame its digits with their point."""
    try:
        return format(Decimal(reading.text.replace(",", ".")), "f")
    except InvalidOperation:
        assert reading.value is not None
        return format(reading.value, "f")


@pytest.mark.parametrize(("wire", "unit"), [(w, u) for w, units in UNITS.items() for u in units])
def test_a_force_gauge_shows_the_number_that_it_sends(wire: str, unit: str) -> None:
    gauge = Held(wire)
    gauge.act("unit", unit=unit)
    for mass_g in MASSES_G:
        gauge.act("weight", mass_g=mass_g)
        answer, (reading,) = gauge.press()
        assert (answer["shown"], answer["unit"]) == (number(reading), unit)
        assert gauge.held.state()["shown"] == answer["shown"]


@pytest.mark.parametrize("wire", ["transmission-bands", "frame-bands"])
def test_a_head_shows_the_numbers_that_it_sends(wire: str) -> None:
    head = Held(wire)
    for piece in ("open", "N50", "blank", "dark"):
        head.act("place", piece=piece)
        answer, readings = head.press()
        assert answer["shown"] == {one.channel: number(one) for one in readings}
        assert head.held.state()["shown"] == answer["shown"]
        assert set(answer["seen"]) == set(answer["shown"])


@pytest.mark.parametrize("wire", ["gloss-press", "frame-gloss"])
def test_a_gloss_meter_shows_the_numbers_that_it_sends(wire: str) -> None:
    meter = Held(wire)
    for gloss in (0.0, 45.2, 100.0):
        meter.act("surface", name="tile", gloss={"20": gloss, "60": gloss, "85": gloss})
        meter.act("place", surface="tile")
        answer, readings = meter.press()
        assert answer["shown"] == {one.channel: float(number(one)) for one in readings}
        assert meter.held.state()["shown"] == answer["shown"]


def test_registers_hold_what_their_devices_show() -> None:
    gauge: Any = on_table(WIRES["modbus-force"], "FG-1", 3, {})
    gauge.act(Arguments("place", {"zone": "bare"}))
    pulled = gauge.act(Arguments("pull", {"slides_s": 0})).answer
    device: ModbusForce = gauge.device
    device._ready_s = 0.0
    low, high = (device.table(INPUT)[PEAK_AT + i] for i in (0, 1))
    (sent,) = struct.unpack(">f", struct.pack(">2H", high, low))
    assert pulled["shown"] == f"{sent:.3f}"
    assert pulled["true_n"] == pytest.approx(sent, abs=0.02)

    bench: Any = on_table(WIRES["modbus-transmission"], "TH-1", 3, {})
    bench.act(Arguments("place", {"piece": "N50"}))
    shown = bench.act(Arguments("press", {})).answer["shown"]
    head: ModbusHead = bench.device
    head._ready_s = 0.0
    assert f"{head.table(HOLDING)[RESULT_AT]:04x}" == shown["380-780"].replace(".", "")


@pytest.mark.parametrize("wire", ["force-peak", "force-powers", "frame-force"])
def test_beyond_its_range_and_without_power_a_gauge_shows_no_number(wire: str) -> None:
    gauge = Held(wire)
    assert gauge.held.state()["shown"] is None
    gauge.act("weight", mass_g=10_000)
    answer, _ = gauge.press()
    assert (answer["shown"], answer["beyond"]) == (None, 1)
    gauge.act("weight", mass_g=100)
    assert gauge.press()[0]["shown"] is not None
    gauge.act("power", on=False)
    assert gauge.held.state()["shown"] is None


def test_a_scale_tells_by_its_state_what_stands_on_it() -> None:
    bus = SimulatedBackend()
    scale = usb_hand("weighing", bus, "SG-0031", 1, {"noise_g": 0.0})
    assert isinstance(scale, GaugeHand)
    gauge = scale._scale.gauge
    assert scale.act("state")["shown"] is None
    gauge.next_input()
    assert (scale.act("state")["shown"], scale.act("state")["unit"]) == ("0.0", "g")
    scale.act("cell", works=False)
    gauge.get(1, 3)
    assert scale.act("state")["shown"] is None


def test_what_is_printed_of_a_press_can_be_typed_into_a_lesson() -> None:
    gauge = Held("frame-force")
    assert isinstance(gauge.held.device, FrameForce)
    gauge.act("weight", mass_g=200)
    answer, (reading,) = gauge.press()
    printed = told(answer)
    assert printed.startswith(f"shown {number(reading)}, unit N, count 1, seen_n 1.96")
    meter = Held("gloss-press")
    meter.act("surface", name="tile", gloss={"20": 100.0})
    meter.act("place", surface="tile")
    answer, (reading,) = meter.press()
    assert f"shown 20: {number(reading)}" in told(answer)
    assert told({"shown": {"20": 100.0}}) == "shown 20: 100.0"
