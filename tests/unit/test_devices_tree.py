"""`devices` on a computer whose files a test made: names of ports, texts, locks, rights."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from acquire.cli.devices import alone, device_lines, link_words, named_ports
from acquire.link.diagnose import waits_for_login
from acquire.link.inventory import Plugged, serial_ports, texts_in, usb_devices
from acquire.link.users import opened_by
from acquire.model import LinkAddress
from simulators.usb.backend import SimulatedBackend
from simulators.usb.transmission import transmission_head
from tests.unit.test_devices import DRIVERS, Port, own_bench

pytestmark = pytest.mark.skipif(os.name != "posix", reason="these files are those of Linux")


class Tree:
    """What a Linux has in /dev and /sys, in a folder."""

    def __init__(self, folder: Path) -> None:
        self.dev, self.names = folder / "dev", folder / "dev" / "serial"
        self.bus, self.texts, self.locks = folder / "bus", folder / "sys", folder / "lock"
        for made in (self.names / "by-id", self.names / "by-path", self.bus, self.texts):
            made.mkdir(parents=True)
        self.locks.mkdir()

    def port(self, name: str, number: str | None, socket: str, by_id: str = "") -> Port:
        """An adapter in a socket; of adapters that say the same the last one has the name by id."""
        path = self.dev / name
        path.touch()
        (self.names / "by-path" / socket).symlink_to(path)
        if by_id:
            link = self.names / "by-id" / by_id
            link.unlink(missing_ok=True)
            link.symlink_to(path)
        return Port(str(path), number, 0x1A2B, 0x7523, "serial adapter")

    def ports(self, *ports: Port) -> list[Plugged]:
        return serial_ports(lambda: ports, self.names)


@pytest.fixture
def tree(tmp_path: Path) -> Tree:
    return Tree(tmp_path)


def port_of(words: str) -> str:
    link = tomllib.loads(words)["link"]
    assert set(link) == {"port"}
    return str(link["port"])


def test_twins_without_a_number_are_named_by_their_sockets_and_never_by_what_both_say(
    tree: Tree,
) -> None:
    one, two = there = tree.ports(
        tree.port("ttyUSB0", None, "pci-usb-1", "usb-1a2b_serial-if00"),
        tree.port("ttyUSB1", None, "pci-usb-2", "usb-1a2b_serial-if00"),
    )
    assert (one.links, len(two.links)) == ((), 1)
    assert port_of(link_words(one, there)).endswith("by-path/pci-usb-1")
    assert port_of(link_words(two, there)).endswith("by-path/pci-usb-2")
    assert "as long as it is plugged in there" in link_words(two, there)


def test_adapters_that_all_have_the_number_of_their_kind_are_twins_as_well(tree: Tree) -> None:
    one, two = there = tree.ports(
        tree.port("ttyUSB0", "0001", "pci-usb-1", "usb-1a2b_serial_0001-if00"),
        tree.port("ttyUSB1", "0001", "pci-usb-2", "usb-1a2b_serial_0001-if00"),
    )
    assert {port_of(link_words(each, there)).rpartition("/")[2] for each in (one, two)} == {
        "pci-usb-1", "pci-usb-2",
    }  # fmt: skip


def test_the_ports_of_one_adapter_are_named_by_it_wherever_it_is_plugged_in(tree: Tree) -> None:
    one, two = there = tree.ports(
        tree.port("ttyUSB0", "A7", "pci-usb-1-if00", "usb-1a2b_A7-if00"),
        tree.port("ttyUSB1", "A7", "pci-usb-1-if01", "usb-1a2b_A7-if01"),
    )
    assert port_of(link_words(one, there)).endswith("by-id/usb-1a2b_A7-if00")
    assert port_of(link_words(two, there)).endswith("by-id/usb-1a2b_A7-if01")


def test_twins_that_no_name_tells_apart_are_told_to_trade_theirs(tree: Tree) -> None:
    there = serial_ports(
        lambda: [Port("/dev/cu.1", None, 1, 2), Port("/dev/cu.2", None, 1, 2)], tree.names
    )
    words = link_words(there[0], there)
    assert tomllib.loads(words)["link"] == {"port": "/dev/cu.1"}
    assert "changes with the order in which they are plugged in" in words


def test_an_instrument_whose_link_is_a_name_of_twins_is_told_so(tree: Tree, tmp_path: Path) -> None:
    ports = [
        tree.port("ttyUSB0", None, "pci-usb-1", "usb-1a2b_serial-if00"),
        tree.port("ttyUSB1", None, "pci-usb-2", "usb-1a2b_serial-if00"),
    ]
    there = tree.ports(*ports)
    by_id = str(tree.names / "by-id" / "usb-1a2b_serial-if00")
    own = own_bench(tmp_path, LinkAddress(port=by_id))
    told = device_lines(alone(there[1], there, own, DRIVERS), own, DRIVERS, there)
    assert any("leads to one of them by chance" in line for line in told)
    assert any("by-path/pci-usb-2" in line for line in told if line.startswith("  next"))
    (single,) = tree.ports(ports[1])
    assert alone(single, [single], own, DRIVERS) == single
    by_path = own_bench(tmp_path, LinkAddress(port=str(tree.names / "by-path" / "pci-usb-2")))
    assert alone(there[1], there, by_path, DRIVERS) == there[1]


def test_a_port_that_says_nothing_of_itself_is_no_twin_of_the_ports_that_every_computer_has(
    tmp_path: Path,
) -> None:
    port = tmp_path / "shore-port"
    port.touch()
    own = own_bench(tmp_path, LinkAddress(port=str(port)))
    (one,) = named_ports([], own)
    there = [Plugged("/dev/ttyS0", "", {}, ("serial",)), one]
    assert alone(one, there, own, DRIVERS) == one


def test_a_number_that_toml_would_not_take_as_it_is_can_be_copied() -> None:
    odd = 'A"7\\ \x7f'
    one = Plugged("/dev/ttyUSB0", "", {"serial_number": odd}, ("serial",))
    assert tomllib.loads(link_words(one))["link"] == {"serial_number": odd}


def test_a_usb_device_that_may_not_be_opened_is_known_by_what_the_system_read(tree: Tree) -> None:
    backend = SimulatedBackend()
    backend.plug(transmission_head("LG-0093", seed=1))
    (head,) = usb_devices([], backend, files=None)
    bus, address = map(int, head.where.removeprefix("usb ").split("/"))
    shown = {"busnum": bus, "devnum": address, "serial": "LG-0093", "product": "head"}
    for name, text in shown.items():
        (tree.texts / "1-7").mkdir(exist_ok=True)
        (tree.texts / "1-7" / name).write_text(f"{text}\n", encoding="utf-8")
    (tree.texts / "usb1").mkdir()
    backend_without = SimulatedBackend()
    backend_without.plug(transmission_head("", seed=1))
    (hidden,) = usb_devices([], backend_without, files=tree.bus, texts=texts_in(tree.texts))
    assert hidden.identity["serial_number"] == "LG-0093"
    assert hidden.is_at(LinkAddress(identity={"serial_number": "LG-0093"}))


def test_an_adapter_that_hides_its_number_is_told_once(tree: Tree) -> None:
    backend = SimulatedBackend()
    backend.plug(transmission_head("", seed=1))
    (bare,) = usb_devices([], backend, files=None)
    port = Plugged("/dev/ttyUSB0", "", {**bare.identity, "serial_number": "A7"}, ("serial",))
    assert usb_devices([port], backend, files=None) == []
    other = Plugged("/dev/ttyUSB0", "", {"vid": "0001", "pid": bare.identity["pid"]}, ("serial",))
    assert usb_devices([other], backend, files=None) == [bare]
    onboard = Plugged("/dev/ttyS0", "", {}, ("serial",))
    assert usb_devices([onboard], backend, files=None) == [bare]


def test_a_port_that_a_program_of_somebody_else_has_locked_names_it(tree: Tree) -> None:
    port = tree.dev / "ttyUSB0"
    port.touch()
    lock = tree.locks / "LCK..ttyUSB0"
    assert opened_by(str(port), lock_files=tree.locks) == []
    with subprocess.Popen(
        [sys.executable, "-c", "input()"], stdin=subprocess.PIPE, text=True
    ) as other:
        lock.write_text(f"{other.pid:10d}\n", encoding="ascii")
        (named,) = opened_by(str(port), lock_files=tree.locks)
        assert f"(process {other.pid})" in named
        other.communicate("\n")
    # A lock of a program that has ended holds nothing, nor does one that makes no sense.
    assert opened_by(str(port), lock_files=tree.locks) == []
    for text in ("", "words", "-1", "\xff"):
        lock.write_text(text, encoding="latin-1")
        assert opened_by(str(port), lock_files=tree.locks) == []


def test_who_was_added_to_the_group_and_has_not_logged_in_again_is_told_to() -> None:
    assert waits_for_login("ann", ["ann", "bob"], 20, [100])
    assert not waits_for_login("ann", ["bob"], 20, [100])
    # Who is in it already has another trouble.
    assert not waits_for_login("ann", ["ann"], 20, [100, 20])
