"""One simulated device on the bus: its state, its standard requests, its plug.

Whatever a hand does to a device from outside the bus is done inside ``with device.touched():``,
which keeps transfers out meanwhile and lets waiting ones look again.
"""

from __future__ import annotations

import errno
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from simulators.usb.behaviour import Behaviour, Setup, Stall
from simulators.usb.descriptors import Configuration, Descriptors, Endpoint, Interface
from simulators.usb.errors import usb_error

_DEVICE, _CONFIGURATION, _TEXT = 1, 2, 3
_GET_STATUS, _CLEAR_FEATURE, _SET_FEATURE, _GET_DESCRIPTOR = 0, 1, 3, 6
_GET_CONFIGURATION, _GET_INTERFACE = 8, 10
_TO_DEVICE, _TO_INTERFACE, _TO_ENDPOINT = 0, 1, 2


class SimulatedDevice:
    """A device with a plug. `permitted` False: the user may not open it.

    `kernel_drivers` are the interfaces that a driver of the system has; `system_takes` those that
    one would take when the device is plugged in.
    """

    def __init__(
        self,
        descriptors: Descriptors,
        behaviour: Behaviour,
        *,
        system_takes: frozenset[int] = frozenset(),
        configured: bool = True,
    ) -> None:
        self.descriptors = descriptors
        self.behaviour = behaviour
        self.permitted = True
        self.kernel_drivers: set[int] = set()
        self.claims: dict[int, object] = {}
        self.halted: set[int] = set()
        self.plugged = False
        self.plug_number = 0
        self.address = 0
        self._system_takes = system_takes
        self._configured = configured
        self._configuration = 0
        self._alternates: dict[int, int] = {}
        self._changed = threading.Condition(threading.RLock())

    # -- a hand ----------------------------------------------------------------------------------

    @contextmanager
    def touched(self) -> Iterator[None]:
        """Do something to the device; transfers that wait look again afterwards."""
        with self._changed:
            yield
            self._changed.notify_all()

    def unplug(self) -> None:
        """Pull the plug, at any time: every transfer that waits ends with it."""
        with self.touched():
            self.plugged = False
            self.claims.clear()
            self.kernel_drivers.clear()
            self.halted.clear()

    # -- the bus ---------------------------------------------------------------------------------

    def put_on(self, changed: threading.Condition, address: int) -> None:
        """The bus takes it; `changed` is the bus's own."""
        self._changed = changed
        with self.touched():
            self.plugged = True
            self.plug_number += 1
            self.address = address
            self._configuration = self.descriptors.configurations[0].value * self._configured
            self._alternates = {}
            self.kernel_drivers = set(self._system_takes)
            self.behaviour.reset()

    @property
    def configuration_value(self) -> int:
        """The value of the configuration in use; 0 if there is none."""
        return self._configuration

    def configuration(self) -> Configuration | None:
        """The configuration in use."""
        for one in self.descriptors.configurations:
            if one.value == self._configuration:
                return one
        return None

    def configure(self, value: int) -> None:
        """Set the configuration; 0 for none. Raises USBError (ENOENT, EBUSY)."""
        if value and all(c.value != value for c in self.descriptors.configurations):
            raise usb_error(errno.ENOENT)
        if self.claims or self.kernel_drivers:
            raise usb_error(errno.EBUSY)
        self._configuration = value
        self._alternates = {}
        self.halted.clear()

    def choose(self, number: int, alternate: int) -> None:
        """Set the setting of an interface. Raises USBError (ENOENT)."""
        if all(i.alternate != alternate for i in self._settings(number)):
            raise usb_error(errno.ENOENT)
        self._alternates[number] = alternate

    def interface(self, number: int) -> Interface:
        """An interface in its present setting. Raises USBError (ENOENT)."""
        for one in self._settings(number):
            if one.alternate == self._alternates.get(number, 0):
                return one
        raise usb_error(errno.ENOENT)

    def endpoint(self, number: int, address: int) -> Endpoint:
        """An endpoint of an interface's present setting. Raises USBError (ENOENT)."""
        for one in self.interface(number).endpoints:
            if one.address == address:
                return one
        raise usb_error(errno.ENOENT)

    def clear_halt(self, address: int) -> None:
        """Raises USBError (ENOENT) where no interface has such an endpoint."""
        if address not in self._addresses():
            raise usb_error(errno.ENOENT)
        self.halted.discard(address)
        self.behaviour.halt_cleared(address)

    def request(self, setup: Setup, data: bytes) -> bytes | None:
        """A control transfer; gives what comes in, None if not yet. Raises `Stall`."""
        if (setup.request_type >> 5) & 3:
            return self.behaviour.handle_control(setup, data)
        recipient = setup.request_type & 0x1F
        if setup.request == _GET_DESCRIPTOR and recipient == _TO_DEVICE:
            return self._descriptor(setup.value >> 8, setup.value & 0xFF)
        if setup.request == _GET_STATUS:
            halted = recipient == _TO_ENDPOINT and setup.index in self.halted
            return bytes((halted, 0))
        if setup.request == _GET_CONFIGURATION:
            return bytes((self._configuration,))
        if setup.request == _GET_INTERFACE and recipient == _TO_INTERFACE:
            return bytes((self._alternates.get(setup.index, 0),))
        if recipient == _TO_ENDPOINT and setup.index in self._addresses() and not setup.value:
            if setup.request == _CLEAR_FEATURE:
                self.clear_halt(setup.index)
                return b""
            if setup.request == _SET_FEATURE:
                self.halted.add(setup.index)
                return b""
        return self.behaviour.handle_control(setup, data)

    def _descriptor(self, kind: int, index: int) -> bytes:
        if kind == _DEVICE and index == 0:
            return self.descriptors.to_bytes()
        if kind == _CONFIGURATION and index < len(self.descriptors.configurations):
            return self.descriptors.configurations[index].to_bytes()
        if kind == _TEXT:
            text = self.descriptors.text(index)
            if text is not None:
                return text
        raise Stall

    def _settings(self, number: int) -> list[Interface]:
        configuration = self.configuration()
        return configuration.settings(number) if configuration else []

    def _addresses(self) -> set[int]:
        configuration = self.configuration()
        interfaces = configuration.interfaces if configuration else ()
        return {e.address for i in interfaces for e in i.endpoints}
