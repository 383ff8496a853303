"""Devices as processes of their own, held by a handle."""

from __future__ import annotations

import json
import os
import select
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psutil
import pytest
import serial

from simulators.handle import DeviceFault, DeviceGone, DeviceProcess
from tests.patience import PATIENCE_S
from tests.simulators.ports import until

WAIT_S = 10


@pytest.fixture(autouse=True)
def _nothing_is_left() -> Iterator[None]:
    me = psutil.Process()
    before = (me.num_fds(), threading.active_count(), me.children())
    yield
    assert (me.num_fds(), threading.active_count(), me.children()) == before


def shore(tmp_path: Path, **options: Any) -> DeviceProcess:
    merged = {"layout": "press", "serial": "SH-0417", "seed": 7, "link": tmp_path / "shore"}
    return DeviceProcess("gloss", **(merged | options))


def port_of(device: DeviceProcess, **settings: Any) -> serial.Serial:
    opened: serial.Serial = serial.serial_for_url(device.port, timeout=WAIT_S, **settings)
    return opened


def stand_on(device: DeviceProcess, gloss: float, **options: Any) -> None:
    angles = {angle: gloss for angle in ("20", "60", "85")}
    device.act("surface", name="zone", gloss=angles, **options)
    device.act("place", surface="zone")


def await_end(pid: int) -> None:
    """Until a process, which need not be a child of this one, has ended."""
    try:
        fd = os.pidfd_open(pid)
    except ProcessLookupError:
        return
    try:
        ready, _, _ = select.select([fd], [], [], WAIT_S)
        assert ready, f"process {pid} goes on"
    finally:
        os.close(fd)


@pytest.mark.parametrize("kind", ["pty", "tcp"])
def test_a_press_comes_out_of_a_real_port(tmp_path: Path, kind: str) -> None:
    options = {"host": kind, "link": tmp_path / "shore" if kind == "pty" else None}
    with shore(tmp_path, repeatability_sd=0, **options) as device, port_of(device) as port:
        assert device.ready["ready"] is True
        assert device.serial == "SH-0417"
        stand_on(device, 91.4)
        assert device.act("press")["shown"] == {"20": 91.4}
        assert port.read_until(b"\r\n") == b"R,0001,20,91.4,GU*51\r\n"
        port.write(b"I?\r\n")
        assert port.read_until(b"\r\n") == b"I,SH-0417*51\r\n"


def test_an_asked_meter_answers_on_a_port_of_its_own_settings(tmp_path: Path) -> None:
    settings = {"baudrate": 4800, "bytesize": 7, "parity": "E"}
    with (
        shore(tmp_path, layout="asked", serial="DK-2205", repeatability_sd=0) as device,
        port_of(device, **settings) as port,
    ):
        stand_on(device, 88.3)
        for question, answer in [
            (b"?\r", b"NONE\r"),
            (b"M\r", b"1 60   88,3 GU\r"),
            (b"S\r", b"S DK-2205\r"),
            (b"what\r", b"ERR\r"),
        ]:
            port.write(question)
            assert port.read_until(b"\r") == answer


def test_two_processes_with_the_same_seed_and_acts_send_the_same_bytes(tmp_path: Path) -> None:
    sent: list[bytes] = []
    for turn in range(2):
        with (
            shore(tmp_path, seed=11, chatter=0.4, angles=(20, 60)) as device,
            port_of(device) as port,
        ):
            stand_on(device, 80, texture_sd=0.8)
            device.act("drift", gain=1.0005, per_press=True)
            count = 0
            for _ in range(20):
                count += device.act("press")["sent_bytes"]
                if turn:
                    device.act("state")
            sent.append(port.read(count))
            assert len(sent[-1]) == count
    assert sent[0] == sent[1]


def test_a_line_pressed_while_nobody_listens_never_comes(tmp_path: Path) -> None:
    with shore(tmp_path) as device:
        stand_on(device, 80)
        device.act("press")
        for press in (b"R,0002", b"R,0004"):
            fd = os.open(device.port, os.O_RDWR | os.O_NOCTTY)
            try:
                device.act("press")
                assert os.read(fd, 6) == press
            finally:
                os.close(fd)
            device.act("press")


def test_unplug_hangs_up_and_plug_brings_the_same_link_back(tmp_path: Path) -> None:
    with shore(tmp_path, repeatability_sd=0) as device:
        stand_on(device, 91.4)
        with port_of(device) as port:
            device.act("unplug")
            with pytest.raises(serial.SerialException):
                port.read(1)
        assert not os.path.lexists(device.port)
        device.act("press")
        assert device.act("plug")["path"] == device.port
        with port_of(device) as port:
            device.act("press")
            assert port.read_until(b"\r\n").startswith(b"R,0002,")


def test_a_line_is_torn_in_the_middle_when_the_plug_is_pulled(tmp_path: Path) -> None:
    with shore(tmp_path, repeatability_sd=0) as device:
        stand_on(device, 91.4)
        with port_of(device) as port:
            device.act("fault", kind="torn", at=8, gap_s=1.0)
            device.act("press")
            assert port.read(8) == b"R,0001,2"
            with pytest.raises(serial.SerialException):
                port.read(1)
        until(lambda: not device.act("state")["plugged"], lambda: None)


def test_another_meter_at_the_same_port_says_so_when_asked(tmp_path: Path) -> None:
    with shore(tmp_path) as device:
        with port_of(device) as port:
            device.act("swap", serial="SH-0999", hang_up=False)
            assert port.read_until(b"\r\n") == b"B,SH-0999,1.4*56\r\n"
            device.act("swap", serial="SH-0417")
            with pytest.raises(serial.SerialException):
                port.read(1)
        with port_of(device) as port:
            port.write(b"I?\r\n")
            assert port.read_until(b"\r\n") == b"I,SH-0417*51\r\n"


def test_split_late_and_latency_keep_their_times_and_lose_nothing(tmp_path: Path) -> None:
    with shore(tmp_path, latency_s=0.02, repeatability_sd=0) as device, port_of(device) as port:
        stand_on(device, 91.4)
        device.act("fault", kind="split", gap_s=0.001)
        device.act("fault", kind="late", delay_s=0.05)
        assert "sent_bytes" not in device.act("press")
        device.act("press")
        expected = b"R,0001,20,91.4,GU*51\r\nR,0002,20,91.4,GU*52\r\n"
        assert port.read(len(expected)) == expected


def test_a_flood_comes_whole(tmp_path: Path) -> None:
    with shore(tmp_path, repeatability_sd=0) as device, port_of(device) as port:
        stand_on(device, 91.4)
        device.act("fault", kind="flood", bytes=300_000)
        device.act("press")
        flood = port.read(300_024)
        assert len(flood) == 300_024
        assert flood.endswith(b"\r\nR,0001,20,91.4,GU*51\r\n")


def test_an_endless_line_ends_at_hush(tmp_path: Path) -> None:
    with shore(tmp_path, repeatability_sd=0) as device, port_of(device) as port:
        stand_on(device, 91.4)
        device.act("fault", kind="endless", bytes=1_000_000, gap_s=0.001)
        device.act("press")
        assert port.read(500) == b"7" * 500
        device.act("hush")
        device.act("press")
        assert port.read_until(b"\r\n").lstrip(b"7") == b"R,0002,20,91.4,GU*52\r\n"


def test_surfaces_come_from_a_file(tmp_path: Path) -> None:
    surfaces = tmp_path / "surfaces.json"
    surfaces.write_text(json.dumps([{"name": "tile", "gloss": {"20": 93.2}}]))
    with shore(tmp_path, surfaces=surfaces, repeatability_sd=0) as device:
        device.act("place", surface="tile")
        assert device.act("press")["shown"] == {"20": 93.2}


def test_a_refused_act_is_an_exception_and_the_device_goes_on(tmp_path: Path) -> None:
    with shore(tmp_path) as device:
        with pytest.raises(DeviceFault, match="gloss SH-0417: drift gain: got 0, wanted a number"):
            device.act("drift", gain=0)
        assert device.act("state")["ok"]


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"serial": "SH,1"}, "--serial: got SH,1, wanted 1 to 32 letters"),
        ({"layout": "spoken"}, "invalid choice"),
        ({"firmware": "1,4"}, "--firmware: got 1,4, wanted major.minor"),
        ({"angles": (45,)}, "angles: got .45., wanted some of"),
        ({"host": "tcp"}, "--link: got a name, wanted --host pty"),
        ({"host": "tcp", "link": None, "tcp_port": 70000}, "got 70000, wanted a port number"),
        ({"chatter": 2}, "got 2, wanted a number from 0 to 1"),
        ({"latency_s": "nan"}, "got nan, wanted a number from 0 to 60"),
        ({"surfaces": "nowhere.json"}, "nowhere.json"),
        ({"link": f"{__file__}/shore"}, "test_device_process"),
    ],
)
def test_options_that_do_not_fit_are_told_and_nothing_is_left_running(
    tmp_path: Path, options: dict[str, Any], message: str
) -> None:
    with pytest.raises(DeviceGone, match=message):
        shore(tmp_path, **options)


@pytest.mark.parametrize("text", ["[", '{"name": "tile"}', "[1]", '[{"name": "x", "gloss": 3}]'])
def test_a_file_of_surfaces_that_is_none_is_told(tmp_path: Path, text: str) -> None:
    surfaces = tmp_path / "surfaces.json"
    surfaces.write_text(text)
    with pytest.raises(DeviceGone, match=r"surfaces\.json.*got .*, wanted"):
        shore(tmp_path, surfaces=surfaces)


def test_a_device_that_died_is_told_and_so_is_every_act_after(tmp_path: Path) -> None:
    device = shore(tmp_path)
    os.kill(device.pid, signal.SIGKILL)
    with pytest.raises(DeviceGone, match=r"has ended|input is closed"):
        device.act("state")
    with pytest.raises(DeviceGone, match="closed handle"):
        device.act("state")
    device.close()


def test_a_device_that_does_not_answer_in_time_is_ended(tmp_path: Path) -> None:
    device = shore(tmp_path)
    os.kill(device.pid, signal.SIGSTOP)
    try:
        with pytest.raises(DeviceGone, match=r"no answer within 0\.1 s"):
            device.act("state", timeout_s=0.1)
    finally:
        device.close()
    assert not psutil.pid_exists(device.pid)


def test_a_device_told_to_quit_ends_and_its_handle_closes(tmp_path: Path) -> None:
    with shore(tmp_path) as device:
        assert device.act("quit") == {"ok": True}
        with pytest.raises(DeviceGone):
            device.act("state")
    assert not os.path.lexists(tmp_path / "shore")


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_device_that_is_asked_to_end_removes_its_link(
    tmp_path: Path, number: signal.Signals
) -> None:
    with shore(tmp_path) as device:
        os.kill(device.pid, number)
        with pytest.raises(DeviceGone):
            until(lambda: False, lambda: device.act("state"))
    assert not os.path.lexists(tmp_path / "shore")


@pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="no way to wait for a stranger")
def test_a_device_ends_with_the_program_that_holds_it(tmp_path: Path) -> None:
    program = (
        "import os, sys\n"
        "from simulators.handle import DeviceProcess\n"
        "device = DeviceProcess('gloss', layout='press', serial='X', link=sys.argv[1])\n"
        "print(device.pid, flush=True)\n"
        "os._exit(1)\n"
    )
    root = Path(__file__).parent.parent.parent
    ran = subprocess.run(
        [sys.executable, "-c", program, str(tmp_path / "x")],
        cwd=root,
        capture_output=True,
        timeout=PATIENCE_S,
        check=False,
    )
    await_end(int(ran.stdout))
    assert not os.path.lexists(tmp_path / "x")


@pytest.mark.parametrize("lost", [("stdin", "stdout"), ("stdin",)])
def test_a_device_whose_holder_has_died_before_it_was_up_ends(
    tmp_path: Path, lost: tuple[str, ...]
) -> None:
    link = tmp_path / "x"
    words = ["-m", "simulators.gloss", "--layout", "press", "--serial", "X", "--link", str(link)]
    pipe = subprocess.PIPE
    root = Path(__file__).parent.parent.parent
    with subprocess.Popen(
        [sys.executable, *words], stdin=pipe, stdout=pipe, stderr=pipe, cwd=root
    ) as device:
        # As the system does when it takes down whoever has started it.
        for end in lost:
            getattr(device, end).close()
        try:
            assert device.wait(WAIT_S) == 0
        finally:
            device.kill()
        assert device.stderr is not None
        assert device.stderr.read() == b""
    assert not os.path.lexists(link)
