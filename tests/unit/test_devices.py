"""What is plugged in, which instrument it is, what could speak to it, and why it stays shut."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from acquire.cli.devices import (
    OPEN_HERE,
    absent_lines,
    alone,
    by_name,
    device_lines,
    instruments,
    link_words,
    named_ports,
    opened_here,
    reaching,
    speakers,
)
from acquire.cli.entry import run
from acquire.control.door import Door, door_path, write_door
from acquire.errors import LinkUnavailable
from acquire.link.inventory import Plugged, everything, serial_ports, usb_devices
from acquire.model import Bench, LinkAddress
from simulators.usb.backend import SimulatedBackend
from simulators.usb.scales import typing_device, weighing_gauge
from simulators.usb.served_bus import ServedBus
from simulators.usb.transmission import transmission_head
from tests.faults.test_link_open import without_rights
from tests.yard import bench

DRIVERS = {
    "line": ("serial",),
    "frame": ("serial",),
    "usbtmc": ("usb fe/03",),
    "hid": ("usb 03/00",),
}


@dataclass
class Port:
    device: str
    serial_number: str | None = None
    vid: int | None = None
    pid: int | None = None
    product: str | None = None


SHORE = Port("/dev/null", "ADAPTER1", 0x1A2B, 0x0001, "serial adapter")


def listing(*ports: Port) -> Iterable[Port]:
    return ports


def own_bench(tmp_path: Path, address: LinkAddress) -> Bench:
    found = bench(tmp_path / "s.sqlite")
    asked = {"identify": {"command": "I?"}}
    shore = replace(found.instruments[0], address=address, profile=asked)
    return replace(found, instruments=(shore,))


def test_a_port_is_named_with_what_finds_it_again_wherever_it_is_plugged() -> None:
    (one,) = serial_ports(lambda: [SHORE])
    assert one.identity == {"vid": "1a2b", "pid": "0001", "serial_number": "ADAPTER1"}
    assert link_words(one) == 'link = { serial_number = "ADAPTER1" }'
    assert link_words(replace(one, identity={"vid": "1a2b", "pid": "0001"})) == (
        'link = { vid = "1a2b", pid = "0001" }'
    )
    assert (
        link_words(Plugged("/dev/ttyS9", "", {}, ("serial",))) == 'link = { port = "/dev/ttyS9" }'
    )


def test_the_instrument_that_its_link_leads_to_is_named(tmp_path: Path) -> None:
    (one,) = serial_ports(lambda: [SHORE])
    for address, is_it in (
        (LinkAddress(identity={"serial_number": "ADAPTER1"}), True),
        (LinkAddress(identity={"vid": "1A2B", "pid": "0001"}), True),
        (LinkAddress(identity={"serial_number": "ADAPTER2"}), False),
        (LinkAddress(identity={"serial_number": "adapter1"}), False),
        (LinkAddress(port="/dev/null"), True),
        (LinkAddress(url="socket://127.0.0.1:1"), False),
    ):
        assert (instruments(one, own_bench(tmp_path, address)) == ["shore"]) is is_it


def test_two_things_that_one_link_leads_to_are_told_to_be_so_and_told_apart_by_their_ports(
    tmp_path: Path,
) -> None:
    own = own_bench(tmp_path, LinkAddress(identity={"serial_number": "ADAPTER1"}))
    other = Port("/dev/zero", "ADAPTER1", 0x1A2B, 0x0002)
    one, two = there = serial_ports(lambda: [SHORE, other])
    lines = device_lines(alone(one, there, own, DRIVERS), own, DRIVERS, there)
    assert lines[-2:] == [
        "  trouble   /dev/zero is shore as well by its link, so it is opened at none",
        "  next      name in bench.toml what tells it: "
        'link = { vid = "1a2b", pid = "0001", serial_number = "ADAPTER1" }',
    ]
    assert alone(one, [one], own, DRIVERS) == one
    twin = replace(two, identity=one.identity)
    assert link_words(one, [one, twin]).partition("   #")[0] == 'link = { port = "/dev/null" }'
    usb = replace(one, where="usb 001/002", reached_by=("usb fe/03/00",))
    assert link_words(usb, [usb, replace(usb, where="usb 001/003")]) == (
        "none: nothing tells it from usb 001/003; leave one of them plugged in"
    )


def test_a_link_that_leads_to_what_the_driver_cannot_speak_to_is_told(tmp_path: Path) -> None:
    backend = SimulatedBackend()
    backend.plug(transmission_head("LG-0093", seed=1))
    (head,) = there = usb_devices([], backend)
    own = own_bench(tmp_path, LinkAddress(identity={"serial_number": "LG-0093"}))
    lines = device_lines(alone(head, there, own, DRIVERS), own, DRIVERS, there)
    assert lines[-2:] == [
        "  trouble   it is shore by its link, whose driver line cannot speak to it: it is reached "
        "by usb fe/03/01",
        "  next      mend the link of shore in bench.toml, or name a driver that can",
    ]
    # A driver that is not installed is told elsewhere, and what speaks to it is no trouble.
    assert alone(head, there, own, {"usbtmc": ("usb fe/03",)}) == head
    assert alone(head, there, own, {"line": ("usb fe/03",)}) == head


def test_what_types_as_a_keyboard_is_told_to_and_how_a_meter_is_switched() -> None:
    backend = SimulatedBackend()
    backend.plug(typing_device("KB-1", boot=True))
    (one,) = usb_devices([], backend)
    assert one.trouble == "it types its readings as a keyboard does: nothing is read of it"
    assert "switch its USB output from keyboard to data" in one.next_step


def test_usb_devices_are_told_by_their_interfaces_and_adapters_of_ports_once() -> None:
    backend = SimulatedBackend()
    for device in (
        transmission_head("LG-0093", seed=1),
        weighing_gauge("WG-7", seed=1),
        typing_device(),
    ):
        backend.plug(device)
    found = usb_devices([], backend)
    by_number = {one.identity.get("serial_number", ""): one for one in found}
    assert speakers(by_number["LG-0093"], DRIVERS) == ("usbtmc",)
    assert speakers(by_number["WG-7"], DRIVERS) == ("hid",)
    assert sorted(map(bool, (speakers(one, DRIVERS) for one in found))) == [False, True, True]
    head = by_number["LG-0093"]
    port = Plugged("/dev/ttyUSB0", "", head.identity, ("serial",))
    assert head.where not in [one.where for one in usb_devices([port], backend)]


@pytest.mark.skipif(os.name != "posix", reason="elsewhere rights are not told beforehand")
def test_what_may_not_be_opened_says_what_to_do() -> None:
    near, far = os.openpty()
    backend = SimulatedBackend()
    backend.plug(transmission_head("LG-0093", seed=1))
    (head,) = usb_devices([], backend, files=None)
    bus, address = head.where.removeprefix("usb ").split("/")
    try:
        with without_rights(os.ttyname(far), 0):
            (one,) = serial_ports(lambda: [Port(os.ttyname(far))])
        # No folder of pytest's: nobody else may look into those.
        with TemporaryDirectory() as files:
            file = Path(files, bus, address)
            file.parent.mkdir()
            file.touch()
            Path(files).chmod(0o755)
            with without_rights(str(file), 0):
                (two,) = usb_devices([], backend, files=Path(files))
    finally:
        os.close(near)
        os.close(far)
    assert one.trouble == two.trouble == "may not be opened: no permission"
    assert 'SUBSYSTEM=="tty"' in one.next_step
    assert 'SUBSYSTEM=="usb"' in two.next_step
    assert head.trouble == ""


def test_a_usb_device_in_use_names_who_has_it_and_never_this_program(tmp_path: Path) -> None:
    backend = SimulatedBackend()
    backend.plug(transmission_head("LG-0093", seed=1))
    (head,) = usb_devices([], backend, files=None)
    bus, address = head.where.removeprefix("usb ").split("/")
    (tmp_path / bus).mkdir()
    with (tmp_path / bus / address).open("w") as file:
        assert usb_devices([], backend, files=tmp_path) == [head]
        with subprocess.Popen(
            [sys.executable, "-c", "print(flush=True); input()"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, pass_fds=[file.fileno()],
        ) as other:  # fmt: skip
            assert other.stdout is not None
            other.stdout.readline()
            (one,) = usb_devices([], backend, files=tmp_path)
            other.communicate(b"\n")
    assert f"(process {other.pid}) has it open" in one.trouble


def test_a_device_of_a_simulated_bus_that_may_not_be_opened_is_known_and_says_what_to_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    backend = SimulatedBackend()
    head = transmission_head("LG-0093", seed=1)
    backend.plug(head)
    monkeypatch.chdir(tmp_path)
    with ServedBus(backend) as served:
        for permitted, told in ((True, ""), (False, "may not be opened: no permission")):
            head.permitted = permitted
            assert run(["devices", "--json", "--simulated-usb", served.address]) == 0
            (one,) = [x for x in json.loads(capsys.readouterr().out) if "usb " in x["where"]]
            # Linux tells the number to everybody, whoever may open the device.
            assert one["identity"]["serial_number"] == "LG-0093"
            assert one["trouble"] == told
    assert 'ATTR{idProduct}=="' in one["next_step"]
    assert 'TAG+="uaccess" into /etc/udev/rules.d/' in one["next_step"]
    assert backend.open_handles == 0


def test_a_device_of_a_simulated_bus_is_told_to_be_in_use_by_the_benchs_own_daemon(
    tmp_path: Path,
) -> None:
    backend = SimulatedBackend()
    for number in ("LG-0093", "LG-0094"):
        backend.plug(transmission_head(number, seed=1))
    port = Plugged("/dev/ttyUSB0", "", {"serial_number": "LG-0093"}, ("serial",))
    there = [*usb_devices([], backend, files=None), port]
    own = own_bench(tmp_path, LinkAddress(identity={"serial_number": "LG-0093"}))
    told = opened_here(there, own, {"shore": "connected as usb ffff:0488"})
    assert [one.trouble for one in told] == [OPEN_HERE, "", ""]
    assert device_lines(told[0], own, DRIVERS)[-2:] == [
        "  state     in use: the daemon of this bench has it open",
        "  next      coatbench stop ends it, if the port is to be free",
    ]
    assert opened_here(there, own, {}) == opened_here(there, None, {"shore": ""}) == there


def test_a_port_in_use_names_who_has_it() -> None:
    near, far = os.openpty()
    try:
        (one,) = serial_ports(lambda: [Port(os.ttyname(far))])
    finally:
        os.close(near)
        os.close(far)
    assert one.trouble.startswith("in use: this program")


def test_a_computer_without_a_usb_library_still_lists_its_ports() -> None:
    def refuse(ports: list[Plugged]) -> list[Plugged]:
        raise LinkUnavailable("USB devices cannot be listed", got="no USB library")

    found, missing = everything(lambda: [SHORE], refuse)
    assert [one.where for one in found] == ["/dev/null"]
    assert missing is not None
    assert missing.got == "no USB library"


def test_a_device_reads_well_to_a_person(tmp_path: Path) -> None:
    one = Plugged(
        "/dev/ttyUSB0",
        "serial adapter",
        {"vid": "1a2b", "pid": "0001", "serial_number": "ADAPTER1"},
        ("serial",),
        "may not be opened: no permission",
        "add your user to the group dialout",
        ("/dev/serial/by-id/usb-ADAPTER1",),
    )
    known = own_bench(tmp_path, LinkAddress(identity={"serial_number": "ADAPTER1"}))
    assert device_lines(one, known, DRIVERS) == [
        "/dev/ttyUSB0: serial adapter",
        "  identity  vid 1a2b, pid 0001, serial_number ADAPTER1",
        "  also      /dev/serial/by-id/usb-ADAPTER1",
        "  is        shore",
        "  speaks    line, frame",
        "  trouble   may not be opened: no permission",
        "  next      add your user to the group dialout",
    ]
    other = own_bench(tmp_path, LinkAddress(port="/dev/ttyS0"))
    assert '  link      link = { serial_number = "ADAPTER1" }' in device_lines(one, other, DRIVERS)


def test_a_meter_that_cannot_be_asked_for_its_serial_number_is_told_with_what_to_do(
    tmp_path: Path,
) -> None:
    for address in (LinkAddress(port="/dev/null"), LinkAddress(url="socket://127.0.0.1:1")):
        asked = own_bench(tmp_path, address)
        saying = {"message": [{"means": "reading", "pattern": r"(?P<serial>\w+) (?P<value>\d+)"}]}
        says, unasked = (
            replace(asked, instruments=(replace(asked.instruments[0], profile=table),))
            for table in (saying, {"message": [{"means": "reading", "pattern": "(?P<value>1)"}]})
        )
        told: list[str] = []
        for own in (asked, says, unasked):
            there = [one for one in serial_ports(lambda: [SHORE]) if one.is_at(address)]
            lines = [line for one in there for line in device_lines(one, own, DRIVERS)]
            told += [line for line in lines + absent_lines(there, own) if "exchange" in line]
        assert told == [
            "  exchange  nothing tells shore from another meter on its cable, since its profile "
            "asks for no serial number: leave the cable alone between check and run, or check again"
        ]


def test_a_port_that_only_the_bench_file_names_is_listed_with_its_instrument(
    tmp_path: Path,
) -> None:
    near, far = os.openpty()
    try:
        link = tmp_path / "shore-port"
        link.symlink_to(os.ttyname(far))
        known = own_bench(tmp_path, LinkAddress(port=str(link)))
        (one,) = named_ports([], known)
        assert device_lines(one, known, DRIVERS)[:5] == [
            f"{os.ttyname(far)}:",
            "  identity  none",
            f"  also      {link}",
            "  is        shore",
            "  speaks    line, frame",
        ]
        assert one.trouble.startswith("in use: this program")
        assert named_ports([one], known) == []
        assert absent_lines([one], known) == []
    finally:
        os.close(near)
        os.close(far)


def test_instruments_that_are_not_plugged_in_are_listed_and_typed_ones_are_not(
    tmp_path: Path,
) -> None:
    gone = own_bench(tmp_path, LinkAddress(identity={"serial_number": "ADAPTER1"}))
    assert absent_lines([], gone) == [
        "shore: device with serial_number ADAPTER1",
        "  is        not plugged in",
        "  next      plug the device in and switch it on; it is found by itself",
        "",
    ]
    opened = absent_lines([], gone, {"shore": "connected as usb ffff:0488"})
    assert opened[1] == (
        "  is        connected as usb ffff:0488, by the daemon of this bench; not seen from here"
    )
    assert "--simulated-usb" in opened[2]
    port = own_bench(tmp_path, LinkAddress(port=str(tmp_path / "nowhere")))
    assert named_ports([], port) == []
    assert "  is        not plugged in" in absent_lines([], port)
    far = own_bench(tmp_path, LinkAddress(url="socket://127.0.0.1:1"))
    assert "on the network" in absent_lines([], far)[1]
    assert absent_lines([], own_bench(tmp_path, LinkAddress(typed=True))) == []


def test_what_is_plugged_in_is_listed_beside_a_bench_file_that_cannot_be_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "bench.toml").write_text("[bench]\nstore = 7\n", encoding="utf-8")
    status = run(["devices", "--all", "--bench", str(tmp_path / "bench.toml")])
    told = capsys.readouterr()
    assert status == 1
    assert "speaks" in told.out or "nothing is plugged in" in told.out
    assert "bench.toml has" in told.err


def test_every_installed_driver_says_what_it_reaches() -> None:
    found = reaching()
    assert found["line"] == found["frame"] == found["modbus"] == ("serial",)
    assert found["usbtmc"] == ("usb fe/03",)


def test_a_port_that_the_daemon_of_the_bench_has_open_says_so(tmp_path: Path) -> None:
    own = own_bench(tmp_path, LinkAddress(port="/dev/ttyS9"))
    write_door(door_path(own.store), Door("127.0.0.1", 4000, "token", 4711))
    used = "in use: python (process 4711) has it open"
    one = Plugged("/dev/ttyS9", "", {}, ("serial",), trouble=used, next_step="end that program")
    told = by_name(one, own)
    assert told.trouble == "in use: the daemon of this bench has it open"
    assert "coatbench stop" in told.next_step
    # That is how it should be, and is called no trouble.
    lines = device_lines(told, own, {})
    assert "  state     in use: the daemon of this bench has it open" in lines
    assert not any("trouble" in line for line in lines)
    other = replace(one, trouble="in use: python (process 12) has it open")
    assert by_name(other, own) == other
