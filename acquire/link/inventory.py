"""What is plugged in, what each thing is, and whether it could be opened; opens no port.

Serial ports and USB devices, the adapters of the ports told once. Looks at the system's lists and
rights alone, for opening a port would switch lines of it that some devices listen to. Any thread.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from serial.tools.list_ports import comports

from acquire.errors import LinkUnavailable
from acquire.link.diagnose import permission_step
from acquire.link.find import PortInfo, PortLister, fits
from acquire.link.usb import (
    KEYBOARD,
    TYPES,
    UNTYPED,
    devices,
    identity_of,
    is_refused,
    usb_permission_step,
)
from acquire.link.users import opened_by
from acquire.model import LinkAddress

SERIAL = "serial"
NO_PERMISSION = "may not be opened: no permission"
_FIGURES = "usb 03/00"
"""A human interface device that is no keyboard or mouse to a computer that starts."""
_HUB = 0x09
Texts = Callable[[int, int], Mapping[str, str]]
"""What the system tells of the device at a bus and an address: its ``serial`` and ``product``."""
USB_FILES = Path("/dev/bus/usb")
"""Where Linux has a file for each device of each bus; who may open it may speak to the device."""
USB_TEXTS = Path("/sys/bus/usb/devices")
"""Where Linux tells everybody what the devices say of themselves (sysfs-bus-usb of its ABI)."""
PORT_NAMES = Path("/dev/serial")
"""Where udev has names of ports that stay: by what is plugged in, and by the socket it is in."""


@dataclass(frozen=True, slots=True)
class Plugged:
    """One thing that is plugged in.

    `where` is its port, or where it sits on the bus. `identity` has what ``bench.toml`` can find it
    by; `reached_by` how a driver reaches it: `SERIAL`, or ``usb`` with the class codes of each of
    its interfaces (``usb fe/03/01``). `trouble` and `next_step` say why it could not be opened.
    """

    where: str
    name: str
    identity: Mapping[str, str]
    reached_by: tuple[str, ...]
    trouble: str = ""
    next_step: str = ""
    links: tuple[str, ...] = field(default=())
    """Other names of the port, which stay the same when it is plugged elsewhere."""
    sockets: tuple[str, ...] = field(default=())
    """Those that stay the same as long as it is plugged into the same socket."""

    def is_at(self, address: LinkAddress) -> bool:
        """Whether an address of ``bench.toml`` leads here."""
        if address.port is not None:
            return os.path.realpath(address.port) == os.path.realpath(self.where)
        return fits(self.identity, address.identity or {})


def serial_ports(list_ports: PortLister = comports, names: Path = PORT_NAMES) -> list[Plugged]:
    """Every serial port, in the order of their names."""
    return [_port(port, names) for port in sorted(list_ports(), key=lambda port: port.device)]


def usb_devices(
    ports: Iterable[Plugged], backend: Any = None, files: Path | None = USB_FILES,
    texts: Texts | None = None,
) -> list[Plugged]:  # fmt: skip
    """USB devices that are no hub and no adapter of `ports`.

    `files` None: no file stands for one, so that whether it may be opened is tried. `texts` None:
    those of this computer, where it has files. Raises `LinkUnavailable` if it cannot be asked.
    """
    adapters = [port.identity for port in ports if port.identity]
    if texts is None:
        texts = texts_in(USB_TEXTS) if files is not None else lambda _bus, _address: {}
    found = [
        _device(device, files, texts) for device in devices(backend) if device.bDeviceClass != _HUB
    ]
    return sorted(
        (one for one in found if not any(_is_adapter(one, port) for port in adapters)),
        key=lambda one: one.where,
    )


def _is_adapter(one: Plugged, adapter: Mapping[str, str]) -> bool:
    """Whether a device is this adapter: what may not be opened does not tell its number."""
    own = {**adapter, **one.identity}
    return own == dict(adapter) and {"vid", "pid"} <= one.identity.keys()


def everything(
    list_ports: PortLister = comports,
    list_usb: Callable[[list[Plugged]], list[Plugged]] | None = None,
) -> tuple[list[Plugged], LinkUnavailable | None]:
    """All of it, and why the USB devices are missing where they cannot be listed."""
    ports = serial_ports(list_ports)
    try:
        return [*ports, *(list_usb or usb_devices)(ports)], None
    except LinkUnavailable as error:
        return ports, error


def named_port(path: str) -> Plugged | None:
    """A port that no list of the system has, but a bench file names; None if it is not there.

    Such as a serial server's port on this computer, or that of a program.
    """
    if not os.path.exists(path):
        return None
    trouble, step = _port_trouble(path)
    return Plugged(os.path.realpath(path), "", {}, (SERIAL,), trouble, step, (path,))


def _port(port: PortInfo, names: Path) -> Plugged:
    identity: dict[str, str] = {}
    if port.vid is not None and port.pid is not None:
        identity = {"vid": f"{port.vid:04x}", "pid": f"{port.pid:04x}"}
    if port.serial_number:
        identity["serial_number"] = port.serial_number
    trouble, step = _port_trouble(port.device)
    name = getattr(port, "product", None) or getattr(port, "description", None) or ""
    return Plugged(
        port.device,
        "" if name == "n/a" else str(name),
        identity,
        (SERIAL,),
        trouble,
        step,
        _steady_names(port.device, names / "by-id"),
        _steady_names(port.device, names / "by-path"),
    )


def _port_trouble(target: str) -> tuple[str, str]:
    if os.name == "posix" and not _may_open(target):
        return NO_PERMISSION, permission_step(Path(target))
    return _use(opened_by(target))


def _may_open(target: str | Path) -> bool:
    # Whoever it is that opens, where the system can tell.
    effective = os.access in os.supports_effective_ids
    return os.access(target, os.R_OK | os.W_OK, effective_ids=effective)


def _use(users: list[str]) -> tuple[str, str]:
    if users:
        have = "has" if len(users) == 1 else "have"
        step = "it is" if len(users) == 1 else "they are"
        it = "that program" if len(users) == 1 else "those programs"
        return f"in use: {', '.join(users)} {have} it open", f"end {it}, if {step} not Coatbench"
    return "", ""


def _steady_names(target: str, folder: Path) -> tuple[str, ...]:
    real = os.path.realpath(target)
    try:
        names = sorted(folder.iterdir())
    except OSError:
        return ()
    return tuple(str(name) for name in names if os.path.realpath(name) == real)


def _device(device: Any, files: Path | None, texts: Texts) -> Plugged:
    own = identity_of(device)
    identity = {"vid": own.vid, "pid": own.pid}
    bus, address = getattr(device, "bus", None) or 0, getattr(device, "address", None) or 0
    # One that may not be opened tells its texts to nobody but the system.
    hidden = {} if own.serial_number else texts(bus, address)
    if number := own.serial_number or hidden.get("serial", ""):
        identity["serial_number"] = number
    ways = tuple(dict.fromkeys(_interfaces(device)))
    trouble, step = "", ""
    if files is None:
        if is_refused(device):
            trouble, step = NO_PERMISSION, usb_permission_step(device)
    elif (file := files / f"{bus:03}" / f"{address:03}").exists():
        # This program had it open a moment ago, to read its texts.
        users = opened_by(str(file), but=os.getpid())
        trouble, step = (
            _use(users) if _may_open(file) else (NO_PERMISSION, usb_permission_step(device))
        )
    if f"usb {KEYBOARD}" in ways and not any(way.startswith(_FIGURES) for way in ways):
        trouble, step = f"it {TYPES}: nothing is read of it", UNTYPED
    return Plugged(
        f"usb {bus:03}/{address:03}",
        own.product or hidden.get("product", ""),
        identity,
        ways,
        trouble,
        step,
    )


def texts_in(folder: Path) -> Texts:
    """What Linux has read of the devices on its busses, out of the folder where it tells it."""

    def texts(bus: int, address: int) -> dict[str, str]:
        for place in folder.glob("*"):
            if [_line(place / "busnum"), _line(place / "devnum")] == [str(bus), str(address)]:
                return {name: _line(place / name) for name in ("serial", "product")}
        return {}

    return texts


def _line(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""


def _interfaces(device: Any) -> Iterable[str]:
    for configuration in device:
        for interface in configuration:
            codes = (
                interface.bInterfaceClass,
                interface.bInterfaceSubClass,
                interface.bInterfaceProtocol,
            )
            yield "usb {:02x}/{:02x}/{:02x}".format(*codes)
