"""Ports that cannot be opened: each gives one clear message with the next step."""

from __future__ import annotations

import contextlib
import grp
import os
import socket
import subprocess
import sys
import tempfile
import tty
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from acquire.driverapi import LinkNeeds, Parity
from acquire.errors import LinkLost, LinkUnavailable
from acquire.link import SerialOpener
from acquire.link.diagnose import RULES_FILE, permission_step, udev_step, unavailable
from acquire.link.inventory import named_port
from acquire.model import LinkAddress
from drivers.modbus import FAMILY as MODBUS
from tests.captures import profile

if sys.platform == "win32":
    pytest.skip("needs pseudo-terminals", allow_module_level=True)

NOBODY = 65534


class Terminal(NamedTuple):
    master: int
    slave: int
    name: str


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    master, slave = os.openpty()
    tty.setraw(slave)
    yield Terminal(master, slave, os.ttyname(slave))
    os.close(slave)
    os.close(master)


def opening(address: LinkAddress, needs: LinkNeeds | None = None) -> LinkUnavailable:
    """The error of an opening that fails."""
    with pytest.raises(LinkUnavailable) as caught:
        SerialOpener(address, needs or LinkNeeds(), list).open()
    assert "\n" not in str(caught.value)
    assert caught.value.next_step
    return caught.value


def test_an_absent_port(tmp_path: Path) -> None:
    error = opening(LinkAddress(port=str(tmp_path / "ttyUSB7")))
    assert error.what == f"{tmp_path}/ttyUSB7 is not there"
    assert error.got == "no such port; no serial port at all"
    assert error.next_step == "plug the device in and switch it on; it is found by itself"


def test_two_openers_on_one_port_leave_it_to_the_first(terminal: Terminal) -> None:
    address = LinkAddress(port=terminal.name)
    first = SerialOpener(address, LinkNeeds(), list).open()
    try:
        error = opening(address)
        assert error.what == f"{terminal.name} is in use"
        assert f"this program (process {os.getpid()}) has it for itself" in error.got
        assert "end the other program" in error.next_step
        # The first one still gets every byte.
        os.write(terminal.master, b"R,0001")
        assert first.read(10.0) == b"R,0001"
    finally:
        first.close()
    second = SerialOpener(address, LinkNeeds(), list).open()
    second.close()


def test_a_port_that_another_program_holds_is_told_with_its_name(terminal: Terminal) -> None:
    holds = "import fcntl, sys; fcntl.flock(0, fcntl.LOCK_EX); print('held', flush=True); input()"
    with open(terminal.name, "rb", buffering=0) as port:
        other = subprocess.Popen(
            [sys.executable, "-c", holds.replace("input()", "sys.stderr.read()")],
            stdin=port,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        try:
            assert other.stdout is not None
            assert other.stdout.readline() == "held\n"
            error = opening(LinkAddress(port=terminal.name))
        finally:
            other.kill()
            other.communicate()
    assert f"(process {other.pid}) has it for itself" in error.got


@contextlib.contextmanager
def without_rights(path: str, mode: int, group: int = 0) -> Iterator[None]:
    """Be a user who is neither the owner of a file nor in its group, as far as we can."""
    before = os.stat(path)
    os.chmod(path, mode)
    is_root = os.geteuid() == 0
    if is_root:
        os.chown(path, 0, group)
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        if is_root:
            os.seteuid(0)
            os.chown(path, before.st_uid, before.st_gid)
        os.chmod(path, before.st_mode)


def test_a_port_without_permission_names_the_group_that_owns_it(terminal: Terminal) -> None:
    own = grp.getgrgid(os.getegid()).gr_name
    dialout = next((g for g in grp.getgrall() if g.gr_name in ("dialout", "uucp", "tty")), None)
    group = dialout.gr_gid if dialout and os.geteuid() == 0 else os.getegid()
    name = dialout.gr_name if dialout and os.geteuid() == 0 else own
    # Its owner, where we are no root, has no right either: 0060 is for the group alone.
    with without_rights(terminal.name, 0o060, group):
        error = opening(LinkAddress(port=terminal.name))
    assert error.what == f"{terminal.name} may not be opened"
    assert (error.got, error.wanted) == ("no permission", "read and write")
    assert f"add your user to the group {name}" in error.next_step


def test_a_port_that_no_group_may_open_is_told_with_a_rule_for_udev(terminal: Terminal) -> None:
    with without_rights(terminal.name, 0o000):
        error = opening(LinkAddress(port=terminal.name))
    assert error.got == "no permission"
    # On a pseudo-terminal its number is its name. No other terminal may be meant with it.
    name = Path(terminal.name).name
    assert f'SUBSYSTEM=="tty", KERNEL=="{name}", MODE="0660"' in error.next_step


def test_a_rule_for_udev_says_where_it_goes_and_names_a_group_that_this_computer_has() -> None:
    group = grp.getgrall()[-1].gr_name
    step = udev_step('SUBSYSTEM=="usb", ATTR{idVendor}=="1a2b"', ("no-such-group", group))
    rule = 'SUBSYSTEM=="usb", ATTR{idVendor}=="1a2b", MODE="0660", '
    assert f'write the line {rule}GROUP="{group}", TAG+="uaccess" into ' in step
    assert " into /etc/udev/rules.d/70-coatbench.rules, then udevadm control --reload, " in step
    assert f"usermod -aG {group} USER" in step
    # systemd reads the tag in 73-seat-late.rules (from memory), and files go by their names.
    assert Path(RULES_FILE).name < "73-seat-late.rules"
    bare = udev_step('SUBSYSTEM=="usb"', ("no-such-group",))
    assert "GROUP" not in bare
    assert "usermod" not in bare
    assert 'MODE="0660", TAG+="uaccess" into ' in bare


def test_a_rule_for_a_port_is_for_its_sort_alone(tmp_path: Path) -> None:
    step = permission_step(tmp_path / "ttyUSB12")
    assert 'SUBSYSTEM=="tty", KERNEL=="ttyUSB[0-9]*", MODE' in step


@pytest.fixture
def devices() -> Iterator[Path]:
    """A folder that everybody may look into, as /dev; that of a test is its user's own."""
    with tempfile.TemporaryDirectory() as folder:
        os.chmod(folder, 0o755)
        yield Path(folder)


def test_a_port_that_a_name_leads_to_is_told_by_the_kernels_name_for_it(devices: Path) -> None:
    """The names below /dev/serial/by-path and by-id are links (udev(7), SYMLINK)."""
    port = devices / "ttyUSB0"
    port.touch(0o000)
    by_path = devices / "pci-0000:00:14.0-usb-0:2:1.0-port0"
    by_path.symlink_to("ttyUSB0")
    again = devices / "gloss-meter-7"
    again.symlink_to(by_path.name)
    for name in (by_path, again):
        with without_rights(str(port), 0o000):
            step = permission_step(name)
            told = named_port(str(name))
        assert 'SUBSYSTEM=="tty", KERNEL=="ttyUSB[0-9]*", MODE' in step
        assert "port[0-9]" not in step
        assert "gloss-meter" not in step
        assert told is not None
        assert told.next_step == step, "devices says what learn, serve and status say"


def test_the_group_that_is_told_owns_the_port_and_not_the_name_that_leads_to_it(
    devices: Path, terminal: Terminal
) -> None:
    by_path = devices / "pci-0000:00:14.0-usb-0:2:1.0-port0"
    by_path.symlink_to(terminal.name)
    is_root = os.geteuid() == 0
    others = (g for g in grp.getgrall() if g.gr_gid not in (0, os.getegid()))
    group = next(others).gr_gid if is_root else os.getegid()
    if is_root:
        assert by_path.lstat().st_gid != group
    with without_rights(terminal.name, 0o060, group):
        step = permission_step(by_path)
    assert f"add your user to the group {grp.getgrgid(group).gr_name} that owns it" in step


def test_a_file_that_is_no_port(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("not a meter")
    error = opening(LinkAddress(port=str(path)))
    assert error.what == f"{path} is no serial port"
    assert error.next_step == "name another port in bench.toml"
    assert path.read_text() == "not a meter"


def test_settings_that_the_port_cannot_do(terminal: Terminal) -> None:
    error = opening(LinkAddress(port=terminal.name), LinkNeeds(data_bits=9))
    assert error.what == f"{terminal.name} does not take the line settings"
    assert "[line] in the profile" in error.next_step


def test_a_refused_network_connection() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    error = opening(LinkAddress(url=f"socket://127.0.0.1:{port}"))
    assert error.what == f"socket://127.0.0.1:{port} does not answer"
    assert error.got == "connection refused"
    assert "switch the serial server on" in error.next_step


def test_a_device_that_is_on_the_network_itself_is_not_called_a_serial_server() -> None:
    needs = MODBUS.needs(profile("modbus-force"), "modbus-force")
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    error = opening(LinkAddress(url=f"socket://127.0.0.1:{port}"), needs)
    assert error.wanted == "a device that takes connections there"
    assert error.next_step == "switch the device on, or mend its url in bench.toml"
    # That of a bus is behind a server.
    error = opening(
        LinkAddress(url=f"socket://127.0.0.1:{port}"),
        MODBUS.needs(profile("modbus-gloss"), "modbus-gloss"),
    )
    assert error.wanted == "a serial server that takes connections there"


def test_a_network_that_does_not_answer_or_is_not_there_is_told_apart() -> None:
    silent = unavailable("socket://10.0.0.1:1", TimeoutError("timed out"))
    assert silent.got == "no answer"
    nowhere = unavailable("socket://10.0.0.1:1", OSError(113, "No route to host"))
    assert nowhere.got == "no way to it in the network"
    strange = unavailable("gopher://x", ValueError("invalid URL, protocol 'gopher' not known"))
    assert "not known" in strange.got
    assert "mend the url" in strange.next_step


def test_a_name_without_a_port_behind_it_and_a_fault_nobody_knows(tmp_path: Path) -> None:
    path = str(tmp_path / "ttyS3")
    Path(path).touch()
    assert "without a port behind it" in unavailable(path, OSError(5, "Input/output error")).what
    odd = unavailable(path, OSError(121, "Remote I/O error"))
    assert odd.what == f"{path} cannot be opened"
    assert "Remote I/O error" in odd.got


@pytest.mark.skipif(sys.platform != "linux", reason="flags as Linux keeps them")
def test_a_byte_of_wrong_parity_does_not_pass_for_a_good_one(terminal: Terminal) -> None:
    import termios

    needs = LinkNeeds(4800, 7, Parity.EVEN, 1)
    link = SerialOpener(LinkAddress(port=terminal.name), needs, list).open()
    try:
        flags = termios.tcgetattr(terminal.slave)[0]
        assert flags & termios.INPCK
        assert not flags & (termios.IGNPAR | termios.PARMRK | termios.ISTRIP)
    finally:
        link.close()


@pytest.mark.parametrize("needs", [LinkNeeds(19_200, 8, Parity.EVEN), LinkNeeds(19_200, 7)])
def test_a_pseudo_terminal_is_opened_again_though_it_keeps_no_format(
    terminal: Terminal, needs: LinkNeeds
) -> None:
    for _ in range(3):
        SerialOpener(LinkAddress(port=terminal.name), needs, list).open().close()


def test_a_line_that_breaks_is_told_without_the_words_of_a_library() -> None:
    master, slave = os.openpty()
    tty.setraw(slave)
    name = os.ttyname(slave)
    link = SerialOpener(LinkAddress(port=name), LinkNeeds(), list).open()
    os.close(slave)
    os.close(master)
    try:
        with pytest.raises(LinkLost) as caught:
            link.read(10.0)
    finally:
        link.close()
    assert str(caught.value) == (
        f"the line {name} broke. Next: plug the device in and switch it on; it is found by itself"
    )
