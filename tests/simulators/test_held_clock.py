"""Devices whose time is held: what is due comes when a hand has moved their clock to it."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest

from simulators.clock import HeldClock
from simulators.handle import DeviceFault, DeviceProcess
from simulators.rig import Rig
from simulators.scenario_file import read_scenario
from simulators.stand import COMMON_ACTS
from simulators.usb.backend import SimulatedBackend
from simulators.usb.hands import usb_hand
from tests.patience import PATIENCE_S

LINE_BYTES = 11
"""A sample of the gauge that streams."""


def heard_of(device: DeviceProcess, *moments_s: float) -> bytes:
    """All that a device sends while its clock is moved to these moments, one after the other."""
    address = ("127.0.0.1", int(device.ready["tcp_port"]))
    with socket.create_connection(address, PATIENCE_S) as line:
        for to_s in moments_s:
            device.act("clock", to_s=to_s)
        device.close()
        data = b""
        while chunk := line.recv(65536):
            data += chunk
    return data


@pytest.mark.parametrize(
    ("moments_s", "samples"),
    [((7.0,), 0), ((7.25,), 250), ((7.125, 7.125, 7.0625, 7.375), 375), ((100.0,), 10_000)],
)
def test_a_gauge_that_streams_sends_a_thousand_samples_a_second_of_a_held_clock(
    moments_s: tuple[float, ...], samples: int
) -> None:
    with DeviceProcess(
        "force", layout="stream", serial="PG-0032", tcp_port=0, held_at_s=7.0
    ) as gauge:
        assert len(heard_of(gauge, *moments_s)) == LINE_BYTES * samples


@pytest.mark.parametrize(("to_s", "comes"), [(3.4, False), (3.5, True)])
def test_a_late_answer_comes_when_the_held_clock_is_there(to_s: float, comes: bool) -> None:
    with DeviceProcess(
        "gloss", layout="press", serial="SH-0417", tcp_port=0, held_at_s=3.0, latency_s=0.5
    ) as meter:
        address = ("127.0.0.1", int(meter.ready["tcp_port"]))
        with socket.create_connection(address, PATIENCE_S) as line:
            meter.act("power", on=False)
            meter.act("power", on=True)
            meter.act("clock", to_s=to_s)
            meter.close()
            assert (line.recv(1000) != b"") is comes


def test_a_device_by_the_computers_clock_knows_no_act_that_moves_it() -> None:
    assert "clock" not in COMMON_ACTS
    with (
        DeviceProcess("gloss", layout="press", serial="SH-0417", tcp_port=0) as meter,
        pytest.raises(DeviceFault, match=r'act: got "clock", wanted one of '),
    ):
        meter.act("clock", to_s=10)


def test_a_device_on_the_bus_goes_by_the_held_clock_and_its_transfers_do_not() -> None:
    clock = HeldClock(5.0)
    bus = SimulatedBackend(now_s=clock.now_s)
    scale = usb_hand("weighing", bus, "SG-0031", 1, {"noise_g": 0.0})
    gauge = scale.device.gauge  # type: ignore[attr-defined]
    assert gauge.next_input() is not None
    assert gauge.next_input() is None
    clock.move(5.05)
    assert gauge.next_input() is None
    clock.move(5.11)
    assert gauge.next_input() is not None
    assert bus.waiting.now_s() != clock.now_s()


TEXT = """
[scenario]
name = "Held"
seed = 1
[[device]]
name = "stream"
wire = "force-stream"
serial = "PG-0032"
port = "tcp"
[[device]]
name = "scale"
wire = "hid-weighing"
serial = "SG-0031"
"""


def test_a_rig_moves_the_time_of_every_device_to_that_of_its_script(tmp_path: Path) -> None:
    with Rig(read_scenario(TEXT, "held.toml"), tmp_path, held_at_s=20.0) as rig:
        gauge = rig.devices["stream"]
        assert isinstance(gauge, DeviceProcess)
        address = ("127.0.0.1", int(gauge.ready["tcp_port"]))
        with socket.create_connection(address, PATIENCE_S) as line:
            for now_s in (20.0, 20.5, 21.0):
                assert rig.tick(now_s) == []
            assert rig.backend.now_s() == 21.0
            gauge.close()
            data = b""
            while chunk := line.recv(65536):
                data += chunk
        assert len(data) == LINE_BYTES * 1000
