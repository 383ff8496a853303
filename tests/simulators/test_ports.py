"""Both kinds of port, each a real one of the operating system, without a process."""

from __future__ import annotations

import contextlib
import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial

from simulators.host import PENDING_BYTES
from simulators.pty_host import PtyHost
from simulators.tcp_host import TcpHost
from tests.patience import PATIENCE_S
from tests.simulators.ports import read_bytes, until

OLD = b"R,0001,20,91.4,GU*51\r\n"
NEW = b"R,0002,20,52.6,GU*5F\r\n"


@pytest.fixture
def link(tmp_path: Path) -> Path:
    return tmp_path / "by-id" / "shore"


@pytest.fixture
def pty(link: Path) -> Iterator[PtyHost]:
    link.parent.mkdir()
    host = PtyHost(link)
    host.plug()
    yield host
    host.unplug()


@pytest.fixture
def tcp() -> Iterator[TcpHost]:
    host = TcpHost()
    host.plug()
    yield host
    host.unplug()


def open_slave(path: Path) -> int:
    """Open a port and nothing else: no flush, no settings."""
    return os.open(path, os.O_RDWR | os.O_NOCTTY)


def connect(host: TcpHost) -> socket.socket:
    return socket.create_connection(("127.0.0.1", host.port), timeout=PATIENCE_S)


def heard(host: PtyHost | TcpHost, count: int) -> bytes:
    data = bytearray()
    until(lambda: len(data) >= count, lambda: data.extend(host.receive()))
    return bytes(data)


@pytest.mark.parametrize(
    "settings", [{"baudrate": 9600}, {"baudrate": 4800, "bytesize": 7, "parity": "E"}]
)
def test_a_serial_port_carries_every_byte_both_ways(
    pty: PtyHost, link: Path, settings: dict[str, object]
) -> None:
    every = bytes(range(256))
    with serial.Serial(str(link), timeout=PATIENCE_S, **settings) as port:
        assert pty.write(every) == 256
        assert port.read(256) == every
        port.write(every)
        assert heard(pty, 256) == every


def test_the_link_points_at_the_present_port_and_goes_with_it(pty: PtyHost, link: Path) -> None:
    assert os.readlink(link) == pty.slave
    pty.unplug()
    assert not os.path.lexists(link)
    pty.plug()
    assert os.readlink(link) == pty.slave
    assert [path.name for path in link.parent.iterdir()] == ["shore"]


def test_a_link_left_behind_by_a_device_that_died_is_taken_over(tmp_path: Path) -> None:
    link = tmp_path / "shore"
    link.symlink_to(tmp_path / "gone")
    host = PtyHost(link)
    host.plug()
    assert os.readlink(link) == host.slave
    host.unplug()


def test_a_file_in_the_place_of_the_link_is_left_alone(tmp_path: Path) -> None:
    link = tmp_path / "shore"
    link.write_text("mine")
    host = PtyHost(link)
    with pytest.raises(FileExistsError, match="wanted a free name"):
        host.plug()
    assert not host.plugged
    assert link.read_text() == "mine"


def test_a_link_that_points_elsewhere_by_now_is_left_alone(pty: PtyHost, link: Path) -> None:
    link.unlink()
    link.symlink_to("elsewhere")
    pty.unplug()
    assert os.readlink(link) == "elsewhere"


def test_what_is_sent_while_nobody_has_the_port_open_never_comes(pty: PtyHost, link: Path) -> None:
    assert pty.write(OLD) == 0
    slave = open_slave(link)
    assert pty.write(NEW) == len(NEW)
    assert read_bytes(slave, len(NEW)) == NEW
    os.close(slave)
    assert pty.write(OLD) == 0
    assert pty.lost_bytes == 2 * len(OLD)


def test_what_a_reader_left_unread_is_gone_for_the_next_one(pty: PtyHost, link: Path) -> None:
    slave = open_slave(link)
    many = OLD * 5000
    pty.write(many)
    os.close(slave)
    pty.receive()
    slave = open_slave(link)
    pty.write(NEW)
    assert read_bytes(slave, len(NEW)) == NEW
    os.close(slave)
    assert pty.lost_bytes == len(many)


def test_two_readers_on_one_port_are_one_listener_until_both_have_gone(
    pty: PtyHost, link: Path
) -> None:
    first, second = open_slave(link), open_slave(link)
    os.close(first)
    assert pty.write(NEW) == len(NEW)
    assert read_bytes(second, len(NEW)) == NEW
    os.close(second)
    assert pty.write(NEW) == 0


def test_what_the_host_sent_before_it_closed_the_port_is_heard(pty: PtyHost, link: Path) -> None:
    slave = open_slave(link)
    os.write(slave, b"I?\r\n")
    os.close(slave)
    assert heard(pty, 4) == b"I?\r\n"
    assert pty.receive() == b""


def test_unplugging_hangs_up_whoever_has_the_port_open(pty: PtyHost, link: Path) -> None:
    with serial.Serial(str(link), timeout=PATIENCE_S) as port:
        pty.write(NEW)
        assert port.read(len(NEW)) == NEW
        pty.unplug()
        with pytest.raises(serial.SerialException):
            port.read(1)


def test_a_port_plugged_in_again_is_a_fresh_one(pty: PtyHost, link: Path) -> None:
    held = open_slave(link)
    before = pty.slave
    pty.write(OLD)
    pty.unplug()
    pty.plug()
    # The old one is still held, so that the new one cannot bear its name.
    assert pty.slave != before
    slave = open_slave(link)
    pty.write(NEW)
    assert read_bytes(slave, len(NEW)) == NEW
    os.close(slave)
    os.close(held)


def test_plugging_in_or_pulling_out_twice_does_nothing(pty: PtyHost) -> None:
    slave = pty.slave
    pty.plug()
    assert pty.slave == slave
    pty.unplug()
    pty.unplug()
    assert pty.write(OLD) == 0
    assert pty.receive() == b""
    assert pty.readers() == pty.writers() == []


def test_a_slow_reader_gets_a_flood_whole_and_in_order(pty: PtyHost, link: Path) -> None:
    flood = bytes(range(256)) * 1000
    slave = open_slave(link)
    assert pty.write(flood) == len(flood)
    assert pty.writers()
    os.set_blocking(slave, False)
    data = bytearray()

    def read_some() -> None:
        with contextlib.suppress(BlockingIOError):
            data.extend(os.read(slave, 4096))
        pty.receive()

    until(lambda: len(data) == len(flood), read_some)
    assert data == flood
    os.close(slave)


def test_a_reader_that_never_reads_cannot_make_the_device_grow(pty: PtyHost, link: Path) -> None:
    slave = open_slave(link)
    for _ in range(5):
        pty.write(bytes(PENDING_BYTES // 2))
    assert pty.lost_bytes > PENDING_BYTES
    os.close(slave)


def test_a_network_port_carries_every_byte_both_ways(tcp: TcpHost) -> None:
    every = bytes(range(256))
    with connect(tcp) as client:
        assert tcp.write(every) == 256
        assert read_bytes(client.fileno(), 256) == every
        client.sendall(every)
        assert heard(tcp, 256) == every


def test_a_network_port_opens_by_its_url(tcp: TcpHost) -> None:
    with serial.serial_for_url(str(tcp.address()["url"]), timeout=PATIENCE_S) as port:
        tcp.write(NEW)
        assert port.read(len(NEW)) == NEW


def test_what_is_sent_while_nobody_is_connected_never_comes(tcp: TcpHost) -> None:
    assert tcp.write(OLD) == 0
    with connect(tcp) as client:
        tcp.write(NEW)
        assert read_bytes(client.fileno(), len(NEW)) == NEW
    until(lambda: not tcp.write(OLD), tcp.receive)


def test_a_second_client_is_turned_away_until_the_first_has_gone(tcp: TcpHost) -> None:
    with connect(tcp) as first:
        tcp.receive()
        with connect(tcp) as second:
            tcp.receive()
            assert read_bytes(second.fileno(), 1) == b""
        tcp.write(NEW)
        assert read_bytes(first.fileno(), len(NEW)) == NEW
        first.sendall(b"I?\r\n")
    with connect(tcp) as third:
        # The last words of the first and the coming of the third are found in one look.
        assert tcp.write(NEW) == len(NEW)
        assert read_bytes(third.fileno(), len(NEW)) == NEW
        assert tcp.wait_s == 0.0
        assert tcp.receive() == b"I?\r\n"


def test_unplugging_a_network_port_hangs_up_and_plugging_in_brings_its_number_back(
    tcp: TcpHost,
) -> None:
    port = tcp.port
    with connect(tcp) as client:
        tcp.receive()
        tcp.unplug()
        assert read_bytes(client.fileno(), 1) == b""
    with pytest.raises(ConnectionRefusedError):
        connect(tcp)
    tcp.plug()
    assert tcp.port == port
    with connect(tcp) as client:
        tcp.write(NEW)
        assert read_bytes(client.fileno(), len(NEW)) == NEW


def test_a_network_port_that_is_taken_is_refused(tcp: TcpHost) -> None:
    other = TcpHost(tcp.port)
    with pytest.raises(OSError, match="in use"):
        other.plug()
    assert not other.plugged
