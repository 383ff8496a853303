"""Where USB cannot be looked at, nobody is told that a meter is unplugged: it is not known."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from usb.backend import libusb0, libusb1, openusb

from acquire.cli.devices import absent_lines, usb_alone
from acquire.cli.entry import run
from acquire.driverapi import UsbNeeds
from acquire.errors import LinkUnavailable
from acquire.model import LinkAddress
from acquire.testkit.far_usb import opener_on
from acquire.testkit.simulated import Simulated, scenario_of
from simulators.usb.backend import SimulatedBackend
from simulators.usb.served_bus import ServedBus
from tests.unit.test_devices import DRIVERS, own_bench

HEAD = """
[scenario]
name = "Dark"
seed = 1
[[zone]]
name = "A1"
[[piece]]
name = "N50"
percent = 50
[[device]]
name = "light"
wire = "usbtmc-head"
serial = "LG-0093"
"""


def test_a_usb_meter_that_could_not_be_looked_for_is_not_said_to_be_unplugged(
    tmp_path: Path,
) -> None:
    own = own_bench(tmp_path, LinkAddress(identity={"serial_number": "LG-0093"}))
    assert usb_alone(own, DRIVERS) == [], "an adapter is found without a USB library"
    (shore,) = own.instruments
    own = replace(own, instruments=(replace(shore, driver="usbtmc"),))
    assert usb_alone(own, DRIVERS) == ["shore"]
    assert absent_lines([], own, unseen={"shore": "install libusb 1.0"}) == [
        "shore: device with serial_number LG-0093",
        "  is        not known: USB could not be looked at",
        "  next      install libusb 1.0",
        "",
    ]
    (connected,) = absent_lines([], own, {"shore": "connected"}, {"shore": ""})[1:2]
    assert "connected, by the daemon" in connected


def test_a_computer_without_a_usb_library_is_told_which_to_install_beside_the_list(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    for library in (libusb0, libusb1, openusb):
        monkeypatch.setattr(library, "get_backend", lambda: None)
    for options in ([], ["--json"]):
        assert run(["devices", *options]) == 0, "whoever has no USB meter needs none"
        told = capsys.readouterr().err
        assert told.startswith("USB devices cannot be listed: got no USB library on this computer")
        assert "Next: install libusb 1.0" in told
        assert "bench.toml" not in told, "a port named there makes no port of a USB meter"


def test_a_simulated_bus_that_does_not_answer_is_told_and_nothing_is_said_to_be_unplugged(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    with ServedBus(SimulatedBackend()) as served:
        pass
    own = tmp_path / "bench.toml"
    with Simulated(scenario_of(HEAD, "a head"), tmp_path) as simulated:
        simulated.write(own)
    for options in ([], ["--json"]):
        assert run(["devices", "--simulated-usb", served.address, "--bench", str(own), *options])
        told = capsys.readouterr()
        assert f"the simulated USB bus at {served.address} does not answer" in told.err
        assert "next    start coatbench simulate" in told.err
        assert "not plugged in" not in told.out


def test_a_daemon_on_a_simulated_bus_that_does_not_answer_says_so_of_each_meter_on_it() -> None:
    with ServedBus(SimulatedBackend()) as served:
        opener = opener_on(served.address)(
            LinkAddress(identity={"serial_number": "LG-0093"}), UsbNeeds(0xFE, 3)
        )
        with pytest.raises(LinkUnavailable, match="no USB device is the device with serial_number"):
            opener.open()
    with pytest.raises(LinkUnavailable) as told:
        opener.open()
    assert str(told.value) == (
        f"the simulated USB bus at {served.address} does not answer. Next: start coatbench "
        "simulate, and give --simulated-usb the address that it tells then"
    )
