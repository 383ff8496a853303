"""The captures as referee: a simulated gauge with a peak memory, treated so, sends their bytes."""

from __future__ import annotations

from pathlib import Path

import pytest

from simulators.force.device import PeakGauge, PowersGauge
from simulators.force.gauge import NEWTONS, Gauge
from simulators.force.stream import StreamGauge
from tests.simulators.capture import captures, steps_of


def treat(device: PeakGauge | PowersGauge, act: str) -> bytes:
    word, _, rest = act.partition(" ")
    if word == "pull":
        unit, value = rest.split()
        device.gauge.unit = unit
        beyond = {"over": 2.0, "under": -2.0}.get(value)
        force = float(value) * NEWTONS[unit] if beyond is None else beyond * device.gauge.limit_n
        device.pull([force])
        return device.press()[1]
    if word == "cell-fails":
        device.gauge.cell_works = False
        return device.press()[1]
    if word == "adjust":
        return device.tare()
    assert word == "power-on", act
    return device.power(False) + device.power(True)


@pytest.mark.parametrize("path", captures("force-peak"), ids=lambda path: path.stem)
def test_a_gauge_treated_as_the_capture_says_sends_its_bytes(path: Path) -> None:
    device = PeakGauge(Gauge("PG-0031", seed=1, noise_n=0))
    for step in steps_of(path):
        sent = b"".join(treat(device, act) for act in step.acts) + device.receive(step.sent)
        assert sent == step.received


@pytest.mark.parametrize("path", captures("force-powers"), ids=lambda path: path.stem)
def test_a_gauge_with_powers_of_ten_treated_so_sends_its_bytes(path: Path) -> None:
    device = PowersGauge(Gauge("PW-0041", seed=1, noise_n=0))
    for step in steps_of(path):
        acts = [act for act in step.acts if not act.startswith("line")]
        sent = b"".join(treat(device, act) for act in acts) + device.receive(step.sent)
        assert step.received == (sent.replace(b"E+02", b"") if step.lines else sent)


def test_the_worked_lines_of_both_layouts() -> None:
    peak = PeakGauge(Gauge("PG-0031", seed=1, noise_n=0))
    peak.pull([-30.0])
    assert peak.press()[1] == b"P001     UNDER N\r"
    peak.gauge.count = 999
    assert peak.press()[1] == b"P001    +0.000 N\r"
    assert peak.receive(b"SN?\rwhat\r") == b"SN PG-0031\r"
    now = [100.0]
    stream = StreamGauge(Gauge("PG-0032", seed=1, noise_n=0), 1, lambda: now[0])
    assert stream.power(False) == b""
    assert stream.power(True) == b"#ON\r\n"
    stream.pull([1.25, -0.5])
    now[0] += 0.0031
    assert stream.tick() == b"+01.250 N\r\n-00.500 N\r\n+00.000 N\r\n"
    assert stream.receive(b"#SN?\r\nwhat\r\n") == b"#SN PG-0032\r\n"
