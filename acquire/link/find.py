"""Finding a serial port by what is plugged in, since a port's name changes with the order of plugs.

Opens nothing: it looks through a list of ports somebody else made. Any thread.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from typing import Protocol

from acquire.errors import LinkUnavailable
from acquire.model import LinkAddress

PLUG = "plug the device in and switch it on; it is found by itself"


class PortInfo(Protocol):
    """What is known of a port; pySerial's own port information fits."""

    @property
    def device(self) -> str: ...

    @property
    def serial_number(self) -> str | None: ...

    @property
    def vid(self) -> int | None: ...

    @property
    def pid(self) -> int | None: ...


PortLister = Callable[[], Iterable[PortInfo]]


def find(address: LinkAddress, list_ports: PortLister) -> str:
    """What to open for an address now. Raises `LinkUnavailable` if none or several ports fit."""
    if address.url is not None or address.port is not None:
        return address.url or address.port or ""
    there = list(list_ports())
    fitting = [port for port in there if fits(_identity(port), address.identity or {})]
    if len(fitting) == 1:
        return fitting[0].device
    if fitting:
        raise LinkUnavailable(
            f"several ports are the {address}",
            got=", ".join(map(_shown, fitting)),
            wanted="exactly one",
            next_step="add serial_number to the link in bench.toml, or name the port",
        )
    raise LinkUnavailable(
        f"no port is the {address}",
        got=ports_in_words(there),
        wanted="exactly one",
        next_step=PLUG,
    )


def ports_in_words(ports: Iterable[PortInfo]) -> str:
    """The ports that are there instead, for a message."""
    shown = ", ".join(map(_shown, ports))
    return f"other ports that are there: {shown}" if shown else "no serial port at all"


def adapter_of(target: str, list_ports: PortLister) -> str:
    """The serial number of the adapter behind an open port; empty if it has none."""
    real = os.path.realpath(target)
    for port in list_ports():
        if os.path.realpath(port.device) == real:
            return port.serial_number or ""
    return ""


def fits(have: Mapping[str, str | None], wanted: Mapping[str, str]) -> bool:
    """Whether what is plugged in is what an identity of ``bench.toml`` names."""
    # An identity without any key would fit whatever is plugged in first.
    return bool(wanted) and all(
        have.get(key) == (value if key == "serial_number" else value.lower())
        for key, value in wanted.items()
    )


def _identity(port: PortInfo) -> dict[str, str | None]:
    return {
        "serial_number": port.serial_number,
        "vid": None if port.vid is None else f"{port.vid:04x}",
        "pid": None if port.pid is None else f"{port.pid:04x}",
    }


def _shown(port: PortInfo) -> str:
    if port.vid is None or port.pid is None:
        return f"{port.device} (no USB identity)"
    number = port.serial_number or "none"
    return f"{port.device} (serial_number {number}, vid {port.vid:04x}, pid {port.pid:04x})"
