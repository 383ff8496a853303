"""Force, transmission, frame and Modbus devices as processes of their own, held by a handle."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from simulators.frames.commands import ExactCommands
from simulators.handle import DeviceFault, DeviceProcess
from simulators.modbus.framing import rtu
from simulators.transmission.device import line
from tests.patience import PATIENCE_S
from tests.simulators.ports import read_bytes, until

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals")

WHO = bytes.fromhex("02 3F 03")
NAMED = bytes.fromhex("02 53 46 47 2D 32 32 30 37 28 03")
_TRIES = 5
"""So often may the machine do something else while a stream is timed."""


@contextmanager
def plugged(
    kind: str, layout: str, serial: str, folder: Path, **options: Any
) -> Iterator[tuple[DeviceProcess, int]]:
    """A device on a pseudo-terminal, and the other end of its line."""
    link = folder / "port"
    with DeviceProcess(kind, layout=layout, serial=serial, link=link, **options) as device:
        fd = os.open(device.port, os.O_RDWR | os.O_NOCTTY)
        try:
            yield device, fd
        finally:
            os.close(fd)


def test_a_pull_is_pressed_out_of_a_real_port(tmp_path: Path) -> None:
    with plugged("force", "peak", "PG-0031", tmp_path, seed=3, noise_n=0) as (gauge, fd):
        gauge.act("zone", name="wax", static=0.25, kinetic=0.2, ageing=0, texture=0, first=1)
        gauge.act("place", zone="wax")
        pulled = gauge.act("pull", dwell_s=0)
        assert pulled["true_n"] == pytest.approx(0.2 * 9.80665 * 0.25, rel=0.03)
        gauge.act("press")
        assert read_bytes(fd, 17) == b"P001    +%.3f N\r" % pulled["true_n"]
        gauge.act("weight", mass_g=200)
        gauge.act("unit", unit="gf")
        gauge.act("press")
        assert read_bytes(fd, 18) == b"P002    +200.0 gf\r"
        assert gauge.act("state")["hangs_g"] == 200
        gauge.act("power", on=False)
        assert gauge.act("press") == {"ok": True, "count": None, "code": "OFF"}
        gauge.act("power", on=True)
        assert read_bytes(fd, 6) == b"READY\r"
        with pytest.raises(DeviceFault, match=r"act: got .*adjust"):
            gauge.act("adjust", value_g=200)


def test_a_stream_holds_a_thousand_samples_a_second_and_answers_between_two(
    tmp_path: Path,
) -> None:
    with plugged("force", "stream", "PG-0032", tmp_path) as (gauge, fd):
        read_bytes(fd, 1100)
        data = b""
        for _ in range(_TRIES):
            begun = time.monotonic()
            data += read_bytes(fd, 11 * 2000)
            took_s = time.monotonic() - begun
            # What waited when the clock was started makes it quicker, a busy machine slower.
            if took_s == pytest.approx(2.0, abs=0.5):
                break
        os.write(fd, b"#SN?\r\n")
        while b"#SN PG-0032\r\n" not in data[-4000:]:
            data += read_bytes(fd, 11)
        lines = data.split(b"\r\n")[1:-1]
        samples = [line for line in lines if line != b"#SN PG-0032"]
        assert all(len(line) == 9 and line.endswith(b" N") for line in samples)
        assert took_s == pytest.approx(2.0, abs=0.5)
        assert gauge.act("state")["count"] == 0


def test_bands_come_in_one_line_and_a_torn_one_pulls_the_plug(tmp_path: Path) -> None:
    whole = line("T1 UV=100,0 VIS=100,0 IR=100,0")
    with plugged("transmission", "bands", "TB-0117", tmp_path, noise_sd=0) as (head, fd):
        head.act("press")
        assert read_bytes(fd, len(whole)) == whole
        head.act("place", piece="dark")
        head.act("fault", kind="torn", at=5)
        head.act("press")
        assert read_bytes(fd, 100) == b"T2 UV"
        head.act("plug")
        assert head.act("state")["plugged"] is True


def test_frames_are_split_glued_doubled_and_lost_as_frames(tmp_path: Path) -> None:
    with plugged("frames", "force", "FG-2207", tmp_path, scatter=0) as (gauge, fd):
        for kind in ("split", "repeated", "lost", "wrong_terminator"):
            gauge.act("fault", kind=kind)
        os.write(fd, WHO)
        assert read_bytes(fd, 11) == NAMED
        os.write(fd, WHO)
        assert read_bytes(fd, 22) == NAMED * 2
        os.write(fd, WHO + WHO)
        assert read_bytes(fd, 11) == NAMED[:-1] + b"\n"
        gauge.act("fault", kind="glued")
        os.write(fd, WHO)
        os.write(fd, WHO)
        assert read_bytes(fd, 22) == NAMED * 2
        gauge.act("fault", kind="corrupted")
        os.write(fd, WHO)
        bad = read_bytes(fd, 11)
        assert sum(a != b for a, b in zip(bad, NAMED, strict=True)) == 1
        gauge.act("fault", kind="stalled", at=4, gap_s=0.2)
        # From before the first part: whoever reads may come late to it, and not to the question.
        begun = time.monotonic()
        os.write(fd, WHO)
        assert read_bytes(fd, 4) == NAMED[:4]
        assert read_bytes(fd, 7) == NAMED[4:]
        assert time.monotonic() - begun > 0.1


def test_two_presses_of_bands_have_a_silence_between_them(tmp_path: Path) -> None:
    with plugged("frames", "bands", "TM-1", tmp_path, scatter=0) as (head, fd):
        begun = time.monotonic()
        head.act("press")
        head.act("press")
        first = read_bytes(fd, 9)
        second = read_bytes(fd, 9)
        assert time.monotonic() - begun > 0.04
        assert (first[7], second[7]) == (1, 2)
        head.act("power", on=False)
        head.act("power", on=True)
        head.act("press")
        assert read_bytes(fd, 9)[0] == 0x00
        head.act("wait", seconds=3600)
        head.act("adjust")
        head.act("press")
        assert read_bytes(fd, 9)[0] == 0x80


def test_a_binary_gloss_meter_measures_the_angles_that_are_chosen(tmp_path: Path) -> None:
    with plugged("frames", "gloss", "GF-0931", tmp_path, scatter=0, memory=True) as (meter, fd):
        meter.act("surface", name="zone", gloss={"20": 91.4, "60": 95.8, "85": 98.2})
        meter.act("place", surface="zone")
        assert meter.act("press")["shown"] == {"20": 91.4, "60": 95.8, "85": 98.2}
        assert read_bytes(fd, 15).hex(" ") == "a5 5a 0a 52 00 01 00 03 92 03 be 03 d6 1c 9b"
        meter.act("angles", **{"60": True})
        meter.act("press", unsettled=True)
        assert read_bytes(fd, 15)[6] == 0x52
        meter.act("memory", on=False)
        meter.act("swap", serial="GF-0932", hang_up=False)
        assert read_bytes(fd, 14)[4:12] == b"GF-0932\0"


def test_a_modbus_meter_is_asked_over_a_line_with_an_adapter_that_echoes(tmp_path: Path) -> None:
    poll = rtu(17, bytes.fromhex("04 0000 0006"))
    with plugged("modbus", "gloss", "SH-0417", tmp_path, scatter=0) as (meter, fd):
        meter.act("surface", name="zone", gloss={"20": 91.4, "60": 95.8, "85": 98.0})
        meter.act("place", surface="zone")
        meter.act("battery", low=True)
        meter.act("press")
        os.write(fd, poll)
        answer = read_bytes(fd, 17)
        assert answer[3:15].hex(" ", 2) == "0001 0004 0392 03be 03d4 0000"
        meter.act("echo", on=True)
        os.write(fd, poll[:3])
        os.write(fd, poll[3:])
        assert read_bytes(fd, 25) == poll + answer
        meter.act("fault", kind="lost")
        meter.act("adjust", values={"20": 90})
        os.write(fd, poll)
        until(lambda: meter.act("state")["waiting_faults"] == 0, lambda: None)
        os.write(fd, poll)
        assert read_bytes(fd, 25)[-4:-2] == b"\0\1"


def test_a_modbus_gauge_on_the_network_is_busy_while_it_is_pulled() -> None:
    ready = bytes.fromhex("0002 0000 0006 FF 02 0000 0001")
    options = {"layout": "force", "serial": "FG-00921", "tcp_port": 0, "scatter": 0}
    with (
        DeviceProcess("modbus", **options) as gauge,
        socket.create_connection(("127.0.0.1", gauge.ready["tcp_port"])) as host,
    ):

        def is_ready() -> int:
            host.sendall(ready)
            return read_bytes(host.fileno(), 10)[-1]

        assert is_ready() == 0
        gauge.act("place", zone="bare")
        begun = time.monotonic()
        lasts_s = gauge.act("pull")["lasts_s"]
        while not is_ready():
            assert time.monotonic() < begun + lasts_s + PATIENCE_S
        assert time.monotonic() - begun > lasts_s - 0.2


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        (("modbus", "--layout", "force", "--serial", "FG-1", "--host", "pty"), "wanted tcp"),
        (("modbus", "--layout", "force", "--serial", "FG-000921"), "at most 8 characters"),
        (("frames", "--layout", "gloss", "--serial", "GF-093100"), "at most 8 characters"),
        (("force", "--layout", "peak", "--serial", "a b"), "1 to 32 letters"),
        (("force", "--layout", "peak", "--serial", "P", "--noise-n", "2"), "a number from 0 to 1"),
        (("force", "--layout", "peak", "--serial", "P", "--tcp", "x"), "a port number"),
        (("force", "--layout", "peak", "--serial", "P", "--tcp", "0", "--link", "l"), "host pty"),
        (("force", "--layout", "peak", "--serial", "P", "--tcp", "0", "--host", "pty"), "host tcp"),
    ],
)
def test_options_that_do_not_fit_are_refused_in_one_line(
    words: tuple[str, ...], wanted: str
) -> None:
    kind, *rest = words
    found = subprocess.run(
        [sys.executable, "-m", f"simulators.{kind}", *rest],
        input="",
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE_S,
        cwd=Path(__file__).parents[2],
    )
    assert found.returncode == 2
    assert wanted in found.stderr
    assert "Traceback" not in found.stderr


@pytest.mark.parametrize(
    ("act", "arguments", "wanted"),
    [
        ("pull", {}, "a sled that was placed on a zone"),
        ("pull", {"mass_g": 1}, "a number from 10 to 20000"),
        ("zone", {"name": "x", "static": 0.2, "kinetic": 0.3}, "a number from 0.3 to 3"),
        ("place", {"zone": "nowhere"}, "one of bare"),
        ("unit", {"unit": "stone"}, "one of N, gf"),
        ("drift", {}, "a gain, an offset or both"),
        ("tare", {"now": True}, "no argument"),
    ],
)
def test_acts_that_cannot_be_are_refused_with_what_is_wanted(
    gauge: DeviceProcess, act: str, arguments: dict[str, Any], wanted: str
) -> None:
    with pytest.raises(DeviceFault, match=wanted):
        gauge.act(act, **arguments)


@pytest.fixture(scope="module")
def gauge() -> Iterator[DeviceProcess]:
    with DeviceProcess("force", layout="peak", serial="PG-0031", tcp_port=0) as device:
        yield device


def test_commands_are_found_wherever_they_are_cut() -> None:
    text = b"xx\x02\x3f\x03\x02\x02\x4d\x03\x02\x3f"
    for size in range(1, 12):
        commands = ExactCommands(WHO, b"\x02\x4d\x03")
        found = [
            one for at in range(0, len(text), size) for one in commands.feed(text[at : at + size])
        ]
        assert found == [WHO, b"\x02\x4d\x03"]
