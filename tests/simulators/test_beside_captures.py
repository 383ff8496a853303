"""The captures as referee: simulated counters and climate probes treated as they say."""

from __future__ import annotations

from pathlib import Path

import pytest

from simulators.beside.device import (
    BesideDevice,
    ClimateProbe,
    Counter,
    StrokeCounter,
    TotalCounter,
)
from simulators.modbus.beside import ModbusClimate, ModbusCounter
from tests.simulators.capture import captures, steps_of

MAKE = {
    "counter-strokes": lambda: StrokeCounter("HB-0042"),
    "counter-total": lambda: TotalCounter("HB-0043"),
    "climate-asked": lambda: ClimateProbe("CP-0007"),
    "modbus-counter": lambda: ModbusCounter("HB-0044", lambda: 0.0),
    "modbus-climate": lambda: ModbusClimate("CP-0008", lambda: 0.0),
}
PATHS = [path for layout in MAKE for path in captures(layout)]


def treat(device: BesideDevice, act: str) -> bytes:
    word, *rest = act.split()
    if isinstance(device, ClimateProbe) and word == "room":
        device.temperature_c, device.humidity_percent = map(float, rest)
    elif isinstance(device, Counter) and word == "press":
        return device.stroke()
    elif isinstance(device, Counter) and word == "count":
        device.total = device.number = int(rest[0])
    elif word == "power-on":
        return device.power(False) + device.power(True)
    else:
        assert word == "line", act
    return b""


@pytest.mark.parametrize("path", PATHS, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_a_device_treated_as_the_capture_says_sends_its_bytes(path: Path) -> None:
    device = MAKE[path.parent.name]()
    for step in steps_of(path):
        sent = b"".join(treat(device, act) for act in step.acts) + device.receive(step.sent)
        if not step.lines:
            assert sent == step.received


def test_a_counter_keeps_its_count_without_power_and_counts_none_then() -> None:
    counter = TotalCounter("HB-0043")
    counter.stroke()
    assert counter.power(False) == b""
    assert counter.stroke() == b""
    assert counter.receive(b"C?\r") == b""
    counter.power(True)
    assert counter.receive(b"C?\rwhat\r") == b"C000001\r"
