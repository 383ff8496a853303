"""The bus: pyusb's backend interface over simulated devices, with the errors of a real library.

What pyusb asks is answered as libusb 1.0 on Linux would: an interface is claimed by one handle
alone and not while a driver of the system has it; a device that was unplugged gives ENODEV to
every handle of then, and is no longer enumerated; a transfer that delivered something before its
time was over is no timeout. Any number of threads; a transfer that waits lets the others through.
"""

from __future__ import annotations

import errno
import math
import threading
from array import array
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any, NamedTuple

import usb.backend

from simulators.usb.behaviour import Setup, Stall
from simulators.usb.descriptors import INTERRUPT, Endpoint
from simulators.usb.device import SimulatedDevice
from simulators.usb.errors import usb_error
from simulators.usb.waiting import STEP_S, RealWaiting, Waiting

BUS = 1


class Plugged(NamedTuple):
    """A device as it was enumerated: after an unplug it is none any more."""

    device: SimulatedDevice
    plug_number: int

    @property
    def there(self) -> bool:
        return self.device.plugged and self.device.plug_number == self.plug_number


class Handle:
    """An open device."""

    def __init__(self, plugged: Plugged) -> None:
        self.plugged = plugged
        self.open = True

    @property
    def device(self) -> SimulatedDevice:
        """The device. Raises USBError (ENODEV) if it is gone."""
        if not self.open or not self.plugged.there:
            raise usb_error(errno.ENODEV)
        return self.plugged.device


class SimulatedBackend(usb.backend.IBackend):  # type: ignore[misc]
    """A bus with the devices that were plugged into it.

    A device that only needs time is looked at every `step_s`: less for one that reports faster.
    `now_s` is the time of its devices, by default that of the bus, by which transfers time out.
    """

    def __init__(
        self,
        waiting: Waiting | None = None,
        step_s: float = STEP_S,
        now_s: Callable[[], float] | None = None,
    ) -> None:
        super().__init__()
        self._step_s = step_s
        self.waiting: Waiting = waiting or RealWaiting()
        self.now_s = now_s or self.waiting.now_s
        self.open_handles = 0
        self._changed = threading.Condition(threading.RLock())
        self._devices: list[SimulatedDevice] = []
        self._last_address = 0

    def plug(self, device: SimulatedDevice) -> None:
        """Plug a device in, for the first time or again."""
        with self._changed:
            if device.plugged:
                raise ValueError("the device is plugged in already")
            if device not in self._devices:
                self._devices.append(device)
            self._last_address += 1
            device.put_on(self._changed, self._last_address)

    def look_again(self) -> None:
        """Let transfers that wait look at their devices: the time of these has moved."""
        with self._changed:
            self._changed.notify_all()

    # -- what is there ---------------------------------------------------------------------------

    def enumerate_devices(self) -> Iterator[Plugged]:
        with self._changed:
            there = [Plugged(d, d.plug_number) for d in self._devices if d.plugged]
        return iter(sorted(there, key=lambda p: p.device.address))

    def get_parent(self, dev: Plugged) -> None:  # noqa: ARG002 - all hang on the root
        return None

    def get_device_descriptor(self, dev: Plugged) -> Any:
        return dev.device.descriptors.view(BUS, dev.device.address)

    def get_configuration_descriptor(self, dev: Plugged, config: int) -> Any:
        return dev.device.descriptors.configurations[config].view()

    def get_interface_descriptor(self, dev: Plugged, intf: int, alt: int, config: int) -> Any:
        return self._setting(dev, intf, alt, config).view()

    def get_endpoint_descriptor(
        self, dev: Plugged, ep: int, intf: int, alt: int, config: int
    ) -> Any:
        return self._setting(dev, intf, alt, config).endpoints[ep].view()

    def _setting(self, dev: Plugged, intf: int, alt: int, config: int) -> Any:
        configuration = dev.device.descriptors.configurations[config]
        return configuration.settings(configuration.numbers[intf])[alt]

    def texts(self, bus: int, address: int) -> dict[str, str]:
        """What a computer's system has read of a device and tells everybody, as Linux does."""
        with self._changed:
            for one in self._devices:
                if one.plugged and (BUS, one.address) == (bus, address):
                    told = one.descriptors
                    return {"serial": told.serial_number or "", "product": told.product or ""}
        return {}

    # -- handles ---------------------------------------------------------------------------------

    def open_device(self, dev: Plugged) -> Handle:
        with self._changed:
            if not dev.there:
                raise usb_error(errno.ENODEV)
            if not dev.device.permitted:
                raise usb_error(errno.EACCES)
            self.open_handles += 1
            return Handle(dev)

    def close_device(self, dev_handle: Handle) -> None:
        with self._changed:
            if not dev_handle.open:
                return
            claims = dev_handle.plugged.device.claims
            for number in [n for n, owner in claims.items() if owner is dev_handle]:
                del claims[number]
            dev_handle.open = False
            self.open_handles -= 1

    def set_configuration(self, dev_handle: Handle, config_value: int) -> None:
        with self._changed:
            dev_handle.device.configure(config_value)

    def get_configuration(self, dev_handle: Handle) -> int:
        with self._changed:
            return dev_handle.device.configuration_value

    def set_interface_altsetting(self, dev_handle: Handle, intf: int, altsetting: int) -> None:
        with self._changed:
            self._claimed(dev_handle, intf).choose(intf, altsetting)

    def claim_interface(self, dev_handle: Handle, intf: int) -> None:
        with self._changed:
            device = dev_handle.device
            device.interface(intf)
            if intf in device.kernel_drivers:
                raise usb_error(errno.EBUSY)
            if device.claims.setdefault(intf, dev_handle) is not dev_handle:
                raise usb_error(errno.EBUSY)

    def release_interface(self, dev_handle: Handle, intf: int) -> None:
        with self._changed:
            device = dev_handle.device
            if device.claims.get(intf) is not dev_handle:
                raise usb_error(errno.ENOENT)
            del device.claims[intf]

    def is_kernel_driver_active(self, dev_handle: Handle, intf: int) -> bool:
        with self._changed:
            return intf in dev_handle.device.kernel_drivers

    def detach_kernel_driver(self, dev_handle: Handle, intf: int) -> None:
        with self._changed:
            drivers = dev_handle.device.kernel_drivers
            if intf not in drivers:
                raise usb_error(errno.ENOENT)
            drivers.remove(intf)

    def attach_kernel_driver(self, dev_handle: Handle, intf: int) -> None:
        with self._changed:
            device = dev_handle.device
            if intf in device.claims or intf in device.kernel_drivers:
                raise usb_error(errno.EBUSY)
            device.kernel_drivers.add(intf)

    def clear_halt(self, dev_handle: Handle, ep: int) -> None:
        with self._changed:
            dev_handle.device.clear_halt(ep)
            self._changed.notify_all()

    def reset_device(self, dev_handle: Handle) -> None:
        with self._changed:
            device = dev_handle.device
            device.halted.clear()
            device.behaviour.reset()

    # -- transfers -------------------------------------------------------------------------------

    def ctrl_transfer(
        self,
        dev_handle: Handle,
        bmRequestType: int,  # noqa: N803 - pyusb's names
        bRequest: int,  # noqa: N803
        wValue: int,  # noqa: N803
        wIndex: int,  # noqa: N803
        data: array[int],
        timeout: int,
    ) -> int:
        is_in = bool(bmRequestType & 0x80)
        length = len(data) * data.itemsize
        setup = Setup(bmRequestType, bRequest, wValue, wIndex, length)
        with self._changed:
            end_s = self._end_s(timeout)
            while True:
                device = dev_handle.device
                try:
                    answer = device.request(setup, b"" if is_in else data.tobytes())
                except Stall:
                    raise usb_error(errno.EPIPE) from None
                if not device.plugged:
                    raise usb_error(errno.ENODEV)
                if answer is not None:
                    break
                if not self._waited(end_s):
                    raise usb_error(errno.ETIMEDOUT)
            self._changed.notify_all()
            if not is_in:
                return length
            came = answer[:length]
            data[: len(came)] = array("B", came)
            return len(came)

    def bulk_write(
        self, dev_handle: Handle, ep: int, intf: int, data: array[int], timeout: int
    ) -> int:
        rest = data.tobytes()
        sent = 0
        with self._changed:
            end_s = self._end_s(timeout)
            while True:
                endpoint = self._pipe(dev_handle, intf, ep)
                packet = rest[sent : sent + endpoint.packet_bytes]
                device = dev_handle.device
                take = partial(device.behaviour.handle_bulk_out, ep, packet)
                if self._asked(device, ep, take):
                    sent += len(packet)
                    if sent == len(rest):
                        return sent
                elif not self._waited(end_s):
                    return self._timed_out(sent)

    def bulk_read(
        self, dev_handle: Handle, ep: int, intf: int, buff: array[int], timeout: int
    ) -> int:
        limit = len(buff) * buff.itemsize
        came = b""
        with self._changed:
            end_s = self._end_s(timeout)
            while True:
                endpoint = self._pipe(dev_handle, intf, ep)
                behaviour = dev_handle.device.behaviour
                interrupt = endpoint.kind == INTERRUPT
                poll = behaviour.poll_interrupt_in if interrupt else behaviour.poll_bulk_in
                packet = self._asked(dev_handle.device, ep, partial(poll, ep))
                if packet is None:
                    if self._waited(end_s):
                        continue
                    self._timed_out(len(came))
                elif len(came) + len(packet) > limit:
                    # What a packet holds beyond the buffer is lost, and the library says so.
                    raise usb_error(errno.EOVERFLOW)
                else:
                    came += packet
                    if len(came) < limit and len(packet) == endpoint.packet_bytes:
                        continue
                buff[: len(came)] = array("B", came)
                return len(came)

    intr_write = bulk_write
    intr_read = bulk_read

    def _claimed(self, handle: Handle, number: int) -> SimulatedDevice:
        device = handle.device
        if device.claims.get(number) is not handle:
            raise usb_error(errno.EIO)
        return device

    def _pipe(self, handle: Handle, number: int, address: int) -> Endpoint:
        """The endpoint, fit for a transfer. Raises USBError."""
        device = self._claimed(handle, number)
        endpoint = device.endpoint(number, address)
        if address in device.halted:
            raise usb_error(errno.EPIPE)
        return endpoint

    def _asked(self, device: SimulatedDevice, address: int, ask: Callable[[], Any]) -> Any:
        """What the behaviour says; a refusal halts the endpoint."""
        try:
            answer = ask()
        except Stall:
            device.halted.add(address)
            raise usb_error(errno.EPIPE) from None
        if not device.plugged:
            raise usb_error(errno.ENODEV)
        return answer

    def _end_s(self, timeout_ms: int) -> float:
        """When the time is over; 0 milliseconds are without end."""
        return self.waiting.now_s() + timeout_ms / 1000 if timeout_ms else math.inf

    def _waited(self, end_s: float) -> bool:
        """Wait a little; False once the time is over."""
        left_s = end_s - self.waiting.now_s()
        if left_s <= 0:
            return False
        self.waiting.wait(self._changed, min(self._step_s, left_s))
        return True

    def _timed_out(self, moved_bytes: int) -> int:
        """What has been moved before; a transfer that moved nothing is a timeout."""
        if not moved_bytes:
            raise usb_error(errno.ETIMEDOUT)
        return moved_bytes
