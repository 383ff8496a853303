"""The simulated bus beneath pyusb: pyusb's own calls see what a real bus would show them.

What is checked follows USB 2.0 (descriptors 9.6, requests 9.4, short packets 5.8.3) and the
behaviour that libusb 1.0 documents for its calls.
"""

from __future__ import annotations

import errno
import pkgutil
import socket
import threading
from collections.abc import Iterator
from contextlib import closing
from typing import Any

import pytest
import usb.core
import usb.util

import simulators
import simulators.usb
from simulators.usb import faults
from simulators.usb.backend import SimulatedBackend
from simulators.usb.descriptors import Configuration
from simulators.usb.far_bus import FarBus, FarDevice
from simulators.usb.loopback import (
    BULK_IN,
    BULK_OUT,
    INTERRUPT_IN,
    LoopbackDevice,
    loopback,
    loopback_interface,
)
from simulators.usb.served_bus import ServedBus
from simulators.usb.waiting import HurriedWaiting
from tests.patience import PATIENCE_S


class FarEnd(FarBus):
    """A bus as another process sees it, beside the hand that plugs devices into it there."""

    def __init__(self, near: SimulatedBackend, address: str) -> None:
        super().__init__(address)
        self.plug, self.waiting = near.plug, near.waiting
        self._near = near

    @property
    def open_handles(self) -> int:
        return self._near.open_handles


@pytest.fixture(params=["in this process", "in another process"])
def backend(request: pytest.FixtureRequest) -> Iterator[SimulatedBackend | FarEnd]:
    near = SimulatedBackend(HurriedWaiting())
    if request.param == "in this process":
        yield near
        return
    with ServedBus(near) as served, closing(FarEnd(near, served.address)) as far:
        yield far


def found(backend: SimulatedBackend, **wanted: Any) -> Any:
    return usb.core.find(backend=backend, **wanted)


def plugged(backend: SimulatedBackend, **how: Any) -> tuple[LoopbackDevice, Any]:
    device = loopback(**how)
    backend.plug(device)
    return device, found(backend)


def number(error: pytest.ExceptionInfo[Any]) -> int:
    return int(error.value.errno)


def test_a_device_shows_its_descriptors_and_texts(backend: SimulatedBackend) -> None:
    _, dev = plugged(backend)
    assert (dev.idVendor, dev.idProduct) == (0xFFFF, 1)
    assert (dev.manufacturer, dev.product, dev.serial_number) == ("Slipway", "loop", "LB-1")
    assert dev.langids == (0x0409,)
    (interface,) = dev[0]
    assert [e.bEndpointAddress for e in interface] == [BULK_OUT, BULK_IN, INTERRUPT_IN]
    assert "CONFIGURATION 1" in str(dev)


def test_descriptors_by_request_are_those_by_value(backend: SimulatedBackend) -> None:
    _, dev = plugged(backend)
    # USB 2.0, table 9-8: 18 bytes, the ids at 8 and 10; table 9-10: total length at 2.
    one = bytes(dev.ctrl_transfer(0x80, 6, 0x0100, 0, 64))
    assert (len(one), one[0], one[8:12]) == (18, 18, bytes.fromhex("ffff0100"))
    head = bytes(dev.ctrl_transfer(0x80, 6, 0x0200, 0, 9))
    whole = bytes(dev.ctrl_transfer(0x80, 6, 0x0200, 0, 255))
    assert int.from_bytes(head[2:4], "little") == len(whole) == 9 + 9 + 3 * 7
    with pytest.raises(usb.core.USBError) as error:
        dev.ctrl_transfer(0x80, 6, 0x0309, 0x0409, 255)
    assert number(error) == errno.EPIPE


def test_a_device_without_a_text_has_none(backend: SimulatedBackend) -> None:
    _, dev = plugged(backend, serial_number=None)
    assert dev.serial_number is None


def test_a_second_handle_cannot_claim_what_one_has(backend: SimulatedBackend) -> None:
    _, first = plugged(backend)
    second = found(backend)
    usb.util.claim_interface(first, 0)
    with pytest.raises(usb.core.USBError) as error:
        usb.util.claim_interface(second, 0)
    assert number(error) == errno.EBUSY
    usb.util.dispose_resources(first)
    usb.util.claim_interface(second, 0)
    usb.util.dispose_resources(second)
    assert backend.open_handles == 0


def test_the_systems_driver_keeps_others_out_until_it_lets_go(backend: SimulatedBackend) -> None:
    _, dev = plugged(backend, system_takes=frozenset({0}))
    with pytest.raises(usb.core.USBError) as error:
        usb.util.claim_interface(dev, 0)
    assert number(error) == errno.EBUSY
    assert dev.is_kernel_driver_active(0)
    dev.detach_kernel_driver(0)
    with pytest.raises(usb.core.USBError) as error:
        dev.detach_kernel_driver(0)
    assert number(error) == errno.ENOENT
    usb.util.claim_interface(dev, 0)
    with pytest.raises(usb.core.USBError) as error:
        dev.attach_kernel_driver(0)
    assert number(error) == errno.EBUSY
    usb.util.release_interface(dev, 0)
    dev.attach_kernel_driver(0)
    assert dev.is_kernel_driver_active(0)


def test_a_device_that_may_not_be_opened_is_enumerated_all_the_same(
    backend: SimulatedBackend,
) -> None:
    device, dev = plugged(backend)
    device.permitted = False
    assert found(backend, idProduct=1) is not None
    with pytest.raises(usb.core.USBError) as error:
        dev.ctrl_transfer(0x80, 0, 0, 0, 2)
    assert number(error) == errno.EACCES


@pytest.mark.parametrize("length", [0, 1, 63, 64, 65, 128, 1000])
def test_what_goes_out_in_packets_comes_back_as_one_transfer(
    backend: SimulatedBackend, length: int
) -> None:
    _, dev = plugged(backend)
    data = bytes(i % 251 for i in range(length))
    assert dev.write(BULK_OUT, data) == length
    if length and length % 64 == 0:
        # A full last packet does not end a transfer; an empty one does.
        assert dev.write(BULK_OUT, b"") == 0
    assert bytes(dev.read(BULK_IN, 1024)) == data


def test_a_read_of_whole_packets_leaves_the_rest_for_the_next(backend: SimulatedBackend) -> None:
    _, dev = plugged(backend)
    dev.write(BULK_OUT, bytes(range(100)))
    assert bytes(dev.read(BULK_IN, 64)) == bytes(range(64))
    assert bytes(dev.read(BULK_IN, 64)) == bytes(range(64, 100))


def test_a_packet_larger_than_the_room_for_it_is_an_overflow(backend: SimulatedBackend) -> None:
    _, dev = plugged(backend)
    dev.write(BULK_OUT, bytes(20))
    with pytest.raises(usb.core.USBError) as error:
        dev.read(BULK_IN, 10)
    assert number(error) == errno.EOVERFLOW


def test_a_transfer_that_moves_nothing_in_time_is_a_timeout(backend: SimulatedBackend) -> None:
    device, dev = plugged(backend)
    began_s = backend.waiting.now_s()
    with pytest.raises(usb.core.USBTimeoutError):
        dev.read(BULK_IN, 64, 1500)
    assert backend.waiting.now_s() - began_s == pytest.approx(1.5)
    device.behaviour.takes_packets = 0
    with pytest.raises(usb.core.USBTimeoutError):
        dev.write(BULK_OUT, b"abc", 100)
    device.behaviour.answers_control = False
    with pytest.raises(usb.core.USBTimeoutError):
        dev.ctrl_transfer(0xA1, 1, 0, 0, 2, 100)


def test_a_transfer_that_moves_some_in_time_says_how_much(backend: SimulatedBackend) -> None:
    device, dev = plugged(backend)
    device.behaviour.takes_packets = 2
    assert dev.write(BULK_OUT, bytes(200), 100) == 128
    device.behaviour.waiting.extend([bytes(64), bytes(64)])
    assert len(dev.read(BULK_IN, 1024, 100)) == 128


def test_a_stalled_request_halts_nothing_and_a_halted_pipe_waits_to_be_cleared(
    backend: SimulatedBackend,
) -> None:
    _, dev = plugged(backend)
    with pytest.raises(usb.core.USBError) as error:
        dev.ctrl_transfer(0xC0, 1, 0, 0, 2)
    assert number(error) == errno.EPIPE
    assert bytes(dev.ctrl_transfer(0xA1, 1, 5, 0, 4)) == b"\x05\0\0\0"
    dev.ctrl_transfer(0x02, 3, 0, BULK_IN)  # SET_FEATURE(ENDPOINT_HALT), USB 2.0, 9.4.9
    dev.write(BULK_OUT, b"x")
    assert bytes(dev.ctrl_transfer(0x82, 0, 0, BULK_IN, 2)) == b"\x01\0"
    for _ in range(2):
        with pytest.raises(usb.core.USBError) as error:
            dev.read(BULK_IN, 64)
        assert number(error) == errno.EPIPE
    dev.clear_halt(BULK_IN)
    assert bytes(dev.read(BULK_IN, 64)) == b"x"


def test_an_unplugged_device_is_gone_for_every_handle_also_when_it_is_back(
    backend: SimulatedBackend,
) -> None:
    device, dev = plugged(backend)
    dev.write(BULK_OUT, b"x")
    device.unplug()
    assert found(backend) is None
    for act in (
        lambda: dev.read(BULK_IN, 64),
        lambda: dev.write(BULK_OUT, b"x"),
        lambda: dev.ctrl_transfer(0x80, 0, 0, 0, 2),
        lambda: dev.clear_halt(BULK_IN),
        lambda: dev.is_kernel_driver_active(0),
    ):
        with pytest.raises(usb.core.USBError) as error:
            act()
        assert number(error) == errno.ENODEV
    backend.plug(device)
    with pytest.raises(usb.core.USBError):
        dev.read(BULK_IN, 64)
    again = found(backend)
    assert again.address != dev.address
    again.write(BULK_OUT, b"y")
    assert bytes(again.read(BULK_IN, 64)) == b"y"


def test_a_read_that_waits_ends_with_the_plug_or_with_a_packet() -> None:
    backend = SimulatedBackend()
    device, dev = plugged(backend)
    got: list[Any] = []

    def listen() -> None:
        try:
            got.append(bytes(dev.read(INTERRUPT_IN, 8, 0)))
            dev.read(INTERRUPT_IN, 8, 0)
        except usb.core.USBError as error:
            got.append(error.errno)

    thread = threading.Thread(target=listen)
    thread.start()
    with device.touched():
        device.behaviour.interrupts.append(b"\x81\x41")
    while not got:
        thread.join(0.001)
    device.unplug()
    thread.join(PATIENCE_S)
    assert got == [b"\x81\x41", errno.ENODEV]


def test_many_threads_may_use_the_bus_while_devices_come_and_go() -> None:
    backend = SimulatedBackend()
    steady = [loopback(f"LB-{n}", pid=n) for n in range(1, 5)]
    for device in steady:
        backend.plug(device)
    comes_and_goes = loopback("LB-9", pid=9)
    wrong: list[object] = []

    def talk(pid: int) -> None:
        dev = found(backend, idProduct=pid)
        for turn in range(50):
            data = bytes((pid, turn)) * (turn + 1)
            if len(data) % 64 == 0:
                data += b"x"
            dev.write(BULK_OUT, data)
            came = bytes(dev.read(BULK_IN, 1024))
            if came != data:
                wrong.append((pid, turn, came))
        usb.util.dispose_resources(dev)

    def listen() -> None:
        dev = found(backend, idProduct=1)
        for _ in range(50):
            if found(backend, idProduct=1) != dev:
                wrong.append("the steady one is not found")

    threads = [threading.Thread(target=talk, args=(d.descriptors.pid,)) for d in steady]
    threads.append(threading.Thread(target=listen))
    for thread in threads:
        thread.start()
    for _ in range(100):
        backend.plug(comes_and_goes)
        comes_and_goes.unplug()
    for thread in threads:
        thread.join(PATIENCE_S)
    assert wrong == []
    assert not any(thread.is_alive() for thread in threads)
    assert backend.open_handles == 0


def test_a_setting_and_a_configuration_are_chosen(backend: SimulatedBackend) -> None:
    bare = loopback_interface(0, 0)
    bare = type(bare)(0, bare.class_code, bare.subclass, bare.protocol)
    both = Configuration((bare, loopback_interface(0, 1)))
    _, dev = plugged(backend, configurations=(both,), configured=False)
    with pytest.raises(usb.core.USBError, match="not set"):
        dev.get_active_configuration()
    dev.set_configuration()
    with pytest.raises(ValueError, match="endpoint"):
        dev.write(BULK_OUT, b"x")
    dev.set_interface_altsetting(0, 1)
    dev.write(BULK_OUT, b"x")
    assert bytes(dev.read(BULK_IN, 64)) == b"x"
    with pytest.raises(usb.core.USBError) as error:
        dev.set_configuration()
    assert number(error) == errno.EBUSY


def test_when_the_other_process_ends_its_devices_are_unplugged() -> None:
    near = SimulatedBackend()
    device = loopback()
    near.plug(device)
    served = ServedBus(near)
    with closing(FarBus(served.address)) as far:
        dev = usb.core.find(backend=far)
        usb.util.claim_interface(dev, 0)
        served.close()
        assert usb.core.find(backend=far) is None
        with pytest.raises(usb.core.USBError) as error:
            dev.read(BULK_IN, 64, 100)
        assert number(error) == errno.ENODEV
        usb.util.dispose_resources(dev)


def test_when_a_program_dies_its_devices_are_free_again() -> None:
    near = SimulatedBackend()
    near.plug(loopback())
    with ServedBus(near) as served, closing(FarBus(served.address)) as other:
        dying = FarBus(served.address)
        usb.util.claim_interface(usb.core.find(backend=dying), 0)
        dying.close()
        dev = usb.core.find(backend=other)
        # Its last word and ours go different ways: once may be too early.
        while near.open_handles:
            usb.core.find(backend=other)
        usb.util.claim_interface(dev, 0)
        usb.util.dispose_resources(dev)


def test_a_bus_that_comes_back_is_found_again_and_read() -> None:
    near = SimulatedBackend()
    near.plug(loopback())
    served = ServedBus(near)
    port = int(served.address.rpartition(":")[2])
    with closing(FarBus(served.address)) as far:
        assert usb.core.find(backend=far) is not None
        served.close()
        assert usb.core.find(backend=far) is None
        with ServedBus(near, port):
            dev = usb.core.find(backend=far)
            dev.write(BULK_OUT, b"again")
            assert bytes(dev.read(BULK_IN, 64)) == b"again"
            usb.util.dispose_resources(dev)


@pytest.mark.parametrize(
    "line",
    [b"{}\n", b"[]\n", b"x\n", b"[" * 5000 + b"\n", b'{"call": "read", "args": [9]}\n'],
)
def test_a_caller_that_asks_nonsense_is_told_or_hung_up_on(
    line: bytes, capsys: pytest.CaptureFixture[str]
) -> None:
    near = SimulatedBackend()
    near.plug(loopback())
    with ServedBus(near) as served, closing(FarBus(served.address)) as far:
        host, _, port = served.address.rpartition(":")
        with socket.create_connection((host, int(port))) as caller:
            caller.sendall(line)
            assert caller.recv(100) in (b"", b'{"errno": 22}\n')
        assert usb.core.find(backend=far) is not None
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("address", ["", "127.0.0.1", "127.0.0.1:99999", "a b:1", "x:1;rm"])
def test_an_address_of_another_form_is_refused(address: str) -> None:
    with pytest.raises(ValueError, match="wanted HOST:PORT"):
        FarBus(address)


def test_the_package_names_its_parts_and_its_faults() -> None:
    for name in sorted(module.name for module in pkgutil.iter_modules(simulators.usb.__path__)):
        assert f"`{name}`" in (simulators.usb.__doc__ or ""), name
    for kind in faults.KINDS:
        assert f"\n`{kind}`" in (faults.__doc__ or "")
    assert "`usb`" in (simulators.__doc__ or "")


@pytest.fixture
def standing_still() -> Iterator[str]:
    """A bus that takes calls and does not answer them, as of a process that was stopped."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        yield f"127.0.0.1:{server.getsockname()[1]}"


def test_a_bus_that_stands_still_is_as_if_it_were_unplugged(standing_still: str) -> None:
    with closing(FarBus(standing_still, answer_s=0.05)) as far:
        assert list(far.enumerate_devices()) == []
        with pytest.raises(usb.core.USBError) as raised:
            far.open_device(FarDevice(1))
    assert raised.value.errno == errno.ENODEV


def test_closing_a_bus_that_stands_still_ends_whoever_waits_for_it(standing_still: str) -> None:
    far = FarBus(standing_still, answer_s=60)
    found: list[list[FarDevice]] = []
    waiting = threading.Thread(target=lambda: found.append(list(far.enumerate_devices())))
    waiting.start()
    while far._looking is None:
        pass
    far.close()
    waiting.join(PATIENCE_S)
    assert found == [[]]
