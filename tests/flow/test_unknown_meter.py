"""From plug to readings with a meter that nobody documented: devices, learn, check, run.

A program at a pseudo-terminal is the meter; what the bench file says of it are the lines that learn
tells, with a name and a serial number put in. The layouts are of our own making.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from functools import reduce
from operator import xor
from pathlib import Path
from typing import Any

import pytest

from acquire.control.client import Client
from acquire.daemon import running_daemon
from acquire.report.proof.proof import prove
from acquire.settings import load_bench
from acquire.store import StoreReader
from tests.flow.test_learn_port import Plug
from tests.flow.test_wires import CERTIFICATE, PIECE, TRIAL
from tests.patience import PATIENCE_S

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals"),
]

PIECES = {"T1": ("gloss-tile", "91.4"), "T2": ("gloss-tile", "52.6"), "Z0": ("black-trap", "0.0")}
LESSON = ("91.4", "45.2", "112.0")
Send = Callable[[int, str], bytes]


def three_lines(count: int, shown: str) -> bytes:
    return f"SEQ {count:05d}\r\nMODE SINGLE\r\n  {shown:>6} GU\r\n".encode()


def framed(count: int, shown: str) -> bytes:
    """Packed decimals, a status, and the exclusive or in hexadecimal digits before the end."""
    digits = shown.replace(".", "").rjust(6, "0")
    body = bytes([0x1B, 0x10]) + bytes.fromhex(digits)
    return body + f"{reduce(xor, body[1:]):02X}".encode() + b"\x04"


def comma(count: int, shown: str) -> bytes:
    text = f"@{count % 100:02d};{shown.replace('.', ',')};60GU"
    return f"{text};{sum(text.encode()) & 0xFF:02x}\r".encode()


class Meter:
    """A meter in a socket of the computer, with its display."""

    def __init__(self, plug: Plug, send: Send) -> None:
        self._plug, self._send, self._count = plug, send, 300

    def press(self, shown: str) -> None:
        self._count += 1
        self._plug.press(self._send(self._count, shown))


@pytest.fixture
def plug(tmp_path: Path) -> Iterator[Plug]:
    plug = Plug(tmp_path / "ttyUSB0")
    plug.plug()
    yield plug
    plug.pull()


def coatbench(*words: str) -> list[str]:
    return [sys.executable, "-m", "acquire.cli", *words]


def learned(meter: Meter, port: Path, folder: Path) -> str:
    """What learn tells of the meter, which is pressed whenever it says so."""
    shown = [word for value in LESSON for word in ("--shown", value)]
    out = folder / "profiles" / "mine.toml"
    words = ["--kind", "gloss", "--geometry", "60", "--least", "0", "--most", "199.9"]
    words += ["--baud", "9600", "--out", str(out)]
    values, told = iter(LESSON), ""
    program = subprocess.Popen(
        coatbench("learn", str(port), *shown, *words),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    with program, program.stdout as stdout:  # type: ignore[union-attr]
        for line in stdout:
            told += line
            if "press the button now" in line:
                meter.press(next(values))
    assert program.wait(PATIENCE_S) == 0, told
    return told


def bench_file(told: str, folder: Path) -> Path:
    lines = told.partition("name it in bench.toml (README, Describe the bench):\n")[2]
    own = lines.partition("then: ")[0].replace('id = "NAME"', 'id = "it"')
    text = '[bench]\nname = "unknown"\nstore = "unknown.sqlite"\n\n'
    text += own.replace('serial = "..."', 'serial = "UM-1"')
    for piece, (kind, value) in PIECES.items():
        text += PIECE.format(id=piece, kind=kind) + CERTIFICATE.format(
            quantity="gloss", channel="geometry = 60", value=value, unit="gloss_unit"
        )
    file = folder / "bench.toml"
    file.write_text(text, encoding="utf-8")
    return file


def read(meter: Meter, items: Any, shown: str, role: str, times: int) -> None:
    """Press on a thing until so many readings of it count so: the first ones may be echoes."""
    taken = 0
    while taken < times:
        meter.press(shown)
        while (item := next(items)).get("table") not in ("reading", "noise"):
            pass
        assert item["table"] == "reading", item
        if item["loose_reason"] != "echo":
            assert (item["role"], float(item["value"])) == (role, float(shown))
            taken += 1


@pytest.mark.parametrize("send", [three_lines, framed, comma])
def test_a_person_gets_from_plug_to_readings(send: Send, plug: Plug, tmp_path: Path) -> None:
    meter = Meter(plug, send)
    file = bench_file(learned(meter, plug.path, tmp_path), tmp_path)
    listed = subprocess.run(
        coatbench("devices", "--bench", str(file)),
        capture_output=True,
        text=True,
        check=True,
        timeout=PATIENCE_S,
    ).stdout
    assert "is        it" in listed
    bench = load_bench(file)
    with (
        running_daemon(bench),
        Client.of_store(bench.store) as client,
        client.watch() as items,
    ):
        while not client.call("status")["instruments"][0]["connected"]:
            next(items)
        client.call("begin_check", instrument="it")
        for _, value in PIECES.values():
            read(meter, items, value, "check", 3)
        assert client.call("status")["instruments"][0]["check"]["valid"] is True
        trial = TRIAL.format(quantity="gloss", channel="geometry = 60")
        client.call("begin_run", text=trial, source="trial.toml", stage="bare", instrument="it")
        for value in ("84.9", "7.3"):
            read(meter, items, value, "run", 2)
    with StoreReader(bench.store) as reader:
        rows = reader.rows("SELECT * FROM readings WHERE counts ORDER BY reading_id")
        assert reader.one("SELECT count(*) FROM noise") == 0
    assert [float(row["value"]) for row in rows if row["role"] == "run"] == [84.9] * 2 + [7.3] * 2
    assert all(prove(bench.store, row["reading_id"]).holds for row in rows)
