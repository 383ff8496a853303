"""Serial lines and serial servers on the network, through pySerial (its only importer).

A port is taken for this program alone where the system can do that, so that two daemons cannot
halve one meter's bytes between them.
"""

from __future__ import annotations

import contextlib
import errno
import os
import stat
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import serial
from serial.tools.list_ports import comports
from serial.tools.list_ports_common import ListPortInfo

from acquire.driverapi import LinkNeeds, Parity
from acquire.errors import LinkLost, LinkUnavailable
from acquire.model import LinkAddress

READ_LIMIT_BYTES = 65536
_PARITY = {
    Parity.NONE: serial.PARITY_NONE,
    Parity.EVEN: serial.PARITY_EVEN,
    Parity.ODD: serial.PARITY_ODD,
}
_PLUG = "plug the device in and switch it on; it is found by itself"

PortLister = Callable[[], Iterable[ListPortInfo]]


class SerialLink:
    """An open serial line. One thread; `cancel` from any."""

    def __init__(self, port: serial.SerialBase, where: str, adapter: str) -> None:
        # Any: what every kind of port has (in_waiting, cancel_read) is not in the base's stub.
        self._port: Any = port
        self.where = where
        self.adapter = adapter

    def read(self, timeout_s: float) -> bytes:
        port = self._port
        try:
            if port.timeout != timeout_s:
                port.timeout = timeout_s
            data: bytes = port.read(1)
            while data and len(data) < READ_LIMIT_BYTES:
                waiting = port.in_waiting
                if not waiting:
                    break
                data += port.read(waiting)
        except (serial.SerialException, OSError, TypeError) as e:
            # pySerial raises TypeError when the port is closed under a reading thread.
            raise self._lost(e) from e
        return data

    def write(self, data: bytes) -> None:
        try:
            self._port.write(data)
        except (serial.SerialException, OSError) as e:
            raise self._lost(e) from e

    def cancel(self) -> None:
        with contextlib.suppress(AttributeError, OSError):
            self._port.cancel_read()

    def close(self) -> None:
        with contextlib.suppress(OSError, serial.SerialException):
            self._port.close()

    def _lost(self, error: Exception) -> LinkLost:
        return LinkLost(f"the line {self.where} broke", got=str(error), next_step=_PLUG)


class SerialOpener:
    """Opens a device by identity, port or URL, with the line settings its driver needs."""

    def __init__(
        self, address: LinkAddress, needs: LinkNeeds, list_ports: PortLister = comports
    ) -> None:
        self._address = address
        self._needs = needs
        self._list_ports = list_ports
        self.address = str(address)

    def open(self) -> SerialLink:
        target, adapter = self._find()
        needs = self._needs
        # Any: pySerial's settings differ by kind of port, and its stubs name only some of them.
        settings: dict[str, Any] = {
            "baudrate": needs.baud_rate,
            "bytesize": needs.data_bits,
            "parity": _PARITY[needs.parity],
            "stopbits": needs.stop_bits,
            "rtscts": needs.flow_control,
            "timeout": 0.25,
            "write_timeout": needs.write_timeout_s,
        }
        if "://" not in target and os.name == "posix":
            settings["exclusive"] = True
        try:
            port = serial.serial_for_url(target, **settings)
        except (serial.SerialException, OSError, ValueError) as e:
            raise _unavailable(target, e) from e
        return SerialLink(port, target, adapter)

    def _find(self) -> tuple[str, str]:
        """The port's present name, and the adapter's serial number."""
        address = self._address
        if address.url is not None:
            return address.url, ""
        if address.port is not None:
            return address.port, ""
        wanted = address.identity or {}
        there = list(self._list_ports())
        found = [p for p in there if _matches(p, wanted)]
        if len(found) == 1:
            return found[0].device, found[0].serial_number or ""
        seen = ", ".join(f"{p.device} ({_identity(p)})" for p in there) or "no serial port at all"
        raise LinkUnavailable(
            f"no port is the {address}" if not found else f"several ports are the {address}",
            got=seen,
            wanted="exactly one",
            next_step=_PLUG if not found else "add serial_number to the link in bench.toml",
        )


def opener_for(address: LinkAddress, needs: LinkNeeds) -> SerialOpener:
    """The opener for an address of ``bench.toml``."""
    return SerialOpener(address, needs)


def _matches(port: ListPortInfo, wanted: object) -> bool:
    assert isinstance(wanted, dict)
    have = {
        "serial_number": port.serial_number,
        "vid": None if port.vid is None else f"{port.vid:04x}",
        "pid": None if port.pid is None else f"{port.pid:04x}",
    }
    return all(
        (have.get(key) or "") == (value if key == "serial_number" else value.lower())
        for key, value in wanted.items()
    )


def _identity(port: ListPortInfo) -> str:
    if port.vid is None:
        return "no USB identity"
    return f"serial_number {port.serial_number or 'none'}, vid {port.vid:04x}, pid {port.pid:04x}"


def _unavailable(target: str, error: Exception) -> LinkUnavailable:
    code = getattr(error, "errno", None)
    text = str(error)
    path = Path(target)
    if code == errno.ENOENT or (os.name == "posix" and "://" not in target and not path.exists()):
        return LinkUnavailable(f"{target} is not there", got="no such port", next_step=_PLUG)
    if code in (errno.EACCES, errno.EPERM):
        return LinkUnavailable(
            f"{target} may not be opened",
            got="no permission",
            wanted="read and write",
            next_step=_permission_step(path),
        )
    if code in (errno.EBUSY, errno.EAGAIN) or "lock" in text.lower():
        return LinkUnavailable(
            f"{target} is in use",
            got=_holder(path),
            wanted="the port free",
            next_step="end the other program, or name another port in bench.toml",
        )
    if "refused" in text.lower() or code == errno.ECONNREFUSED:
        return LinkUnavailable(
            f"{target} does not answer",
            got="connection refused",
            next_step="switch the serial server on, or mend its address in bench.toml",
        )
    return LinkUnavailable(
        f"{target} cannot be opened", got=text, next_step="see the message; mend bench.toml"
    )


def _permission_step(path: Path) -> str:
    try:
        import grp  # noqa: PLC0415 - POSIX only

        found = path.stat()
        group = grp.getgrgid(found.st_gid).gr_name
        if found.st_mode & stat.S_IRGRP and group != "root":
            return f"add your user to the group {group} (usermod -aG {group} USER) and log in again"
    except (ImportError, OSError, KeyError):
        pass
    return (
        "let your user read and write it: a udev rule such as "
        'SUBSYSTEM=="tty", MODE="0660", GROUP="dialout", and your user in that group'
    )


def _holder(path: Path) -> str:
    """The programs that have the port open, where the system lets us see them."""
    try:
        wanted = path.resolve().stat()
    except OSError:
        return "another program has it open"
    holders: dict[int, str] = {}
    for fd in Path("/proc").glob("[0-9]*/fd/*"):
        pid = int(fd.parts[2])
        try:
            if pid != os.getpid() and pid not in holders and os.path.samestat(fd.stat(), wanted):
                holders[pid] = Path(f"/proc/{pid}/comm").read_text().strip()
        except OSError:
            continue
    if not holders:
        return "another program, or this one, has it open"
    return ", ".join(f"{name} (process {pid})" for pid, name in holders.items())
