"""A scenario's devices running, told in the words of the bench: ports, links, files, errors.

The one door from the product to the simulators, beside the demo. One thread.
"""

from __future__ import annotations

import os
import select
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import NamedTuple

from acquire.driverapi import Needs, UsbNeeds
from acquire.errors import Fault, LinkUnavailable, Misuse, NotFound, SettingsError
from acquire.link import Opener, opener_for
from acquire.link.usblink import UsbOpener
from acquire.model import LinkAddress
from acquire.schema import load_text
from acquire.schema.depth import too_deep
from acquire.settings import config_dir
from acquire.testkit.bench_file import BenchFiles, driver_of, quoted
from simulators.arguments import ActFault
from simulators.commands import Answer
from simulators.control import open_control
from simulators.handle import DeviceFault, DeviceGone
from simulators.rig import Rig
from simulators.scenario import Device, Scenario
from simulators.scenario_file import ScenarioFault, read_scenario
from simulators.usb.served_bus import ServedBus
from simulators.wires import TCP, USB

SHIPPED = "scenarios"
LONGEST_LINE_BYTES = 10_000


class Place(NamedTuple):
    """Where a device of a bench is found. `link` is what stands for it in a bench file."""

    name: str
    wire: str
    port: str
    driver: str
    link: str
    is_usb: bool


def load_scenario(named: str | Path) -> Scenario:
    """The scenario of a file, or a shipped one by its name. Raises `NotFound`, `SettingsError`."""
    path = Path(named)
    shipped = config_dir() / SHIPPED
    # A folder of that name, such as the one that its bench was written into, is no scenario.
    if not path.is_file() and not path.suffix and path.parent == Path():
        path = shipped / f"{path}.toml"
    if not path.is_file():
        names = ", ".join(sorted(one.stem for one in shipped.glob("*.toml")))
        raise NotFound(
            f"there is no scenario {named}",
            got="no such file",
            wanted=f"a scenario file, or one that is shipped: {names}",
            next_step="name a file, or one of these",
        )
    return scenario_of(load_text(path), str(path))


def scenario_of(text: str, source: str) -> Scenario:
    """The scenario of a file's text. Raises `SettingsError` with every fault."""
    if (fault := too_deep(text)) is not None:
        raise SettingsError(source, [fault])
    try:
        return read_scenario(text, source)
    except ScenarioFault as error:
        raise SettingsError(source, [Fault(*one) for one in error.faults]) from error


class Simulated:
    """The devices of a scenario, running: ``with Simulated(scenario, folder) as bench``.

    `folder` holds the names of the ports. `held_at_s`: the devices' time stands there, in seconds,
    and goes on to what each `tick` is given; otherwise it is the computer's. Raises
    `LinkUnavailable` if a device does not start.
    """

    def __init__(
        self,
        scenario: Scenario,
        folder: Path,
        *,
        has_terminals: bool = os.name == "posix",
        held_at_s: float | None = None,
    ) -> None:
        self.scenario = scenario
        try:
            self.rig = Rig(scenario, folder, has_terminals=has_terminals, held_at_s=held_at_s)
        except DeviceGone as gone:
            raise LinkUnavailable(
                "a simulated device did not start",
                got=str(gone),
                next_step="mend what it says; a port may be in use, or this computer too busy",
            ) from gone

    @property
    def places(self) -> list[Place]:
        """Where each device is found, in the order of the file."""
        return [self._place(device) for device in self.scenario.devices]

    def write(
        self, bench_file: Path, on: date | None = None, *, with_trial: bool = True
    ) -> list[Path]:
        """Write bench file, policies and trial; their paths. Raises `Misuse`.

        The certificates are valid on the day `on`, today by default. `with_trial` False: there is
        a trial already.
        """
        return self._files(on).write(bench_file, with_trial=with_trial)

    def measure_of(self, name: str) -> str:
        """The measure of the trial that is a device's."""
        (device,) = (device for device in self.scenario.devices if device.name == name)
        return self._files().measure_of(device)

    def _files(self, on: date | None = None) -> BenchFiles:
        links = {place.name: place.link for place in self.places}
        day = on or date.today()  # noqa: DTZ011 - certificates bear local dates
        return BenchFiles(self.scenario, links, day)

    def opener(self, address: LinkAddress, needs: Needs) -> Opener:
        """The opener of an instrument: USB devices are those of the scenario."""
        if isinstance(needs, UsbNeeds):
            return UsbOpener(address, needs, self.rig.backend)
        return opener_for(address, needs)

    def usb_bus(self) -> ServedBus:
        """Its USB devices, open to daemons in other programs; to be closed before the bench."""
        return ServedBus(self.rig.backend)

    def do(self, line: str) -> Answer:
        """Do a line of the tester's hand. Raises `Misuse`, or `LinkUnavailable`."""
        with _told():
            return self.rig.do(line)

    def tick(self, now_s: float | None = None) -> list[str]:
        """Do what the script has for now; what was done, and what could not be."""
        done = self.rig.tick(time.monotonic() if now_s is None else now_s)
        return [
            f"{one.step.do}: {one.fault}" if one.fault else f"{one.step.do}: {told(one.answer)}"
            for one in done
        ]

    def close(self) -> None:
        """End every device."""
        self.rig.close()

    def __enter__(self) -> Simulated:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        tb: TracebackType | None,
    ) -> None:
        self.close()

    def _place(self, device: Device) -> Place:
        port = self.rig.devices[device.name].port
        kind = self.rig.kind_of_port(device)
        if kind == USB:
            _, ids, serial = port.split(" ", 2)
            vid, pid = ids.split(":")
            link = (
                f"{{ vid = {quoted(vid)}, pid = {quoted(pid)}, serial_number = {quoted(serial)} }}"
            )
        else:
            link = f"{{ {'url' if kind == TCP else 'port'} = {quoted(port)} }}"
        return Place(device.name, device.wire_name, port, driver_of(device), link, kind == USB)


class TypedLines:
    """The lines of the standard input as they come; at its end no more come."""

    def __init__(self, input_fd: int = 0) -> None:
        self._control: socket.socket | None = open_control(input_fd)
        self._rest = b""

    def next(self, wait_s: float) -> list[str]:
        """What has come; waits for so long if nothing has."""
        if self._control is None:
            # Its end came. Whoever simulates goes on until told otherwise.
            threading.Event().wait(wait_s)
            return []
        if not select.select([self._control], [], [], wait_s)[0]:
            return []
        data = self._control.recv(65536)
        *lines, rest = (self._rest + data).split(b"\n")
        self._rest = rest[-LONGEST_LINE_BYTES:]
        if not data:
            self.close()
            lines = [rest] if rest else []
        return [line.decode(errors="replace") for line in lines]

    def close(self) -> None:
        """Take no more."""
        if self._control is not None:
            self._control.close()
            self._control = None

    def __enter__(self) -> TypedLines:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        tb: TracebackType | None,
    ) -> None:
        self.close()


SHOWN = "shown"
UNTOLD = ("ok", "sent_bytes", "sent_mono_ns", "true")


def told(answer: Answer) -> str:
    """What a device answered, in a few words."""
    words = [
        f"{key} {_displayed(value) if key == SHOWN else _short(value)}"
        for key, value in answer.items()
        if key not in UNTOLD
    ]
    return ", ".join(words) or "done"


def _displayed(value: object) -> str:
    """As it stands on the display: gloss has one decimal, others give their text."""
    if isinstance(value, float):
        return f"{value:.1f}"
    if isinstance(value, dict):
        return " ".join(f"{key}: {_displayed(inner)}" for key, inner in value.items())
    return _short(value)


def _short(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.4g}"
    if isinstance(value, dict):
        return " ".join(f"{key}: {_short(inner)}" for key, inner in value.items())
    if isinstance(value, list):
        return " ".join(map(_short, value))
    if isinstance(value, bool) or value is None:
        return {True: "yes", False: "no", None: "none"}[value]
    return str(value)


@contextmanager
def _told() -> Iterator[None]:
    """Errors of the simulators as ours."""
    try:
        yield
    except ActFault as fault:
        raise Misuse(fault.what, got=fault.got, wanted=fault.wanted) from fault
    except DeviceFault as fault:
        raise Misuse(str(fault)) from fault
    except DeviceGone as gone:
        raise LinkUnavailable(str(gone), next_step="start the simulation again") from gone
