"""A reading that waits for its meter's name, through a port, a session, a daemon and a store.

Whatever happens meanwhile, it is in the store once, counts only where it is sure whose and where it
belongs, and the tape gives the same again.
"""

from __future__ import annotations

import os
import select
import sys
import tty
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest

from acquire.control.client import Client
from acquire.daemon import running_daemon
from acquire.model import UNKNOWN_SERIAL
from acquire.report.replay.replaying import cast, played
from acquire.report.replay.taped import taped
from acquire.settings import load_bench
from acquire.store import StoreReader
from tests.flow.test_wires import BENCH, CERTIFICATE, PIECE, TRIAL
from tests.patience import PATIENCE_S

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals"),
]

PIECES = {"T1": ("gloss-tile", 91.4), "T2": ("gloss-tile", 52.6), "Z0": ("black-trap", 0.0)}


class Meter:
    """gloss-press, by drivers/line/WIRE.md, which tells its name when the test says so."""

    def __init__(self) -> None:
        self.near, self._held = os.openpty()
        for end in (self.near, self._held):
            tty.setraw(end)
        self.port = os.ttyname(self._held)
        self._presses = 0

    def press(self, value: float) -> None:
        self._presses += 1
        self._send(f"R,{self._presses:04d},20,{value:.1f},GU")

    def await_question(self) -> None:
        heard = b""
        while not heard.endswith(b"I?\r\n"):
            assert select.select([self.near], [], [], PATIENCE_S)[0], "it is asked nothing"
            heard += os.read(self.near, 1)

    def tell_name(self) -> None:
        self._send("I,SH-0417")

    def pull_out(self) -> None:
        """The port is gone with it."""
        os.close(self._held)
        os.close(self.near)

    def _send(self, body: str) -> None:
        parity = 0
        for byte in body.encode():
            parity ^= byte
        os.write(self.near, f"{body}*{parity:02X}\r\n".encode())


class Bench:
    """A daemon with the meter, and a person at it."""

    def __init__(self, folder: Path, stack: ExitStack) -> None:
        self.meter = Meter()
        file = folder / "bench.toml"
        text = BENCH.format(
            link=f'{{ port = "{self.meter.port}" }}', quantity="gloss", serial="SH-0417",
            driver="line", profile="gloss-press", policy="gloss-20",
        )  # fmt: skip
        for piece, (kind, value) in PIECES.items():
            text += PIECE.format(id=piece, kind=kind)
            text += CERTIFICATE.format(
                quantity="gloss", channel="geometry = 20", value=value, unit="gloss_unit"
            )
        file.write_text(text, "utf-8")
        bench = load_bench(file)
        self.store = bench.store
        self.daemon = stack.enter_context(ExitStack())
        self.daemon.enter_context(running_daemon(bench))
        self.client = self.daemon.enter_context(Client.of_store(bench.store))
        self._items = self.daemon.enter_context(self.client.watch())
        self.meter.await_question()
        self.meter.tell_name()

    def next(self, table: str) -> dict[str, Any]:
        return next(item for item in self._items if item.get("table") == table)

    def read(self, value: float) -> dict[str, Any]:
        """A press whose meter answers at once."""
        self.meter.press(value)
        self.meter.await_question()
        self.meter.tell_name()
        return self.next("reading")

    def in_a_run(self) -> None:
        self.client.call("begin_check", instrument="it")
        for _, value in PIECES.values():
            taken = 0
            while taken < 3:
                taken += self.read(value)["role"] == "check"
        trial = TRIAL.format(quantity="gloss", channel="geometry = 20")
        self.client.call(
            "begin_run", text=trial, source="trial.toml", stage="bare", instrument="it"
        )

    @property
    def is_checked(self) -> object:
        return self.client.call("status")["instruments"][0]["check"]["valid"]

    def stored(self, value: float) -> list[dict[str, Any]]:
        """Every reading of this value, once the daemon has ended; the tape gives all of it."""
        self.daemon.close()
        with StoreReader(self.store) as reader:
            tape = taped(reader, 1)
            done = played(tape, cast(tape.whose))
            assert (done.comparison().differences, done.failed) == ([], "")
            rows = reader.rows("SELECT * FROM readings WHERE sent_text = ?", (f"{value:.1f}",))
            return [dict(row) for row in rows]


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with ExitStack() as stack:
        bench = Bench(tmp_path, stack)
        bench.in_a_run()
        yield bench


def test_a_daemon_that_is_stopped_meanwhile_keeps_it_as_of_nobody_known(bench: Bench) -> None:
    bench.meter.press(77.7)
    bench.meter.await_question()
    (row,) = bench.stored(77.7)
    assert (row["serial"], row["counts"], row["role"]) == (UNKNOWN_SERIAL, 0, "loose")


def test_a_meter_that_is_pulled_out_meanwhile_leaves_it_as_of_nobody_known(bench: Bench) -> None:
    bench.meter.press(77.7)
    bench.meter.await_question()
    bench.meter.pull_out()
    assert bench.next("reading")["role"] == "loose"
    bench.next("disconnection")
    (row,) = bench.stored(77.7)
    assert (row["serial"], row["counts"]) == (UNKNOWN_SERIAL, 0)


def test_a_name_at_the_second_question_leaves_it_aside_and_the_pass_goes_on(bench: Bench) -> None:
    bench.meter.press(77.7)
    bench.meter.await_question()
    bench.meter.await_question()
    bench.meter.tell_name()
    assert bench.next("reading")["loose_reason"] == "not sure whose"
    assert bench.is_checked is True
    assert bench.read(80.1)["role"] == "run"
    (row,) = bench.stored(77.7)
    assert (row["serial"], row["flags"], row["counts"]) == ("SH-0417", "not sure whose", 0)


def test_a_person_who_goes_on_meanwhile_does_not_move_it_elsewhere(bench: Bench) -> None:
    bench.meter.press(77.7)
    bench.meter.await_question()
    bench.client.call("skip")
    bench.meter.tell_name()
    assert "pressed before" in bench.next("reading")["loose_reason"]
    assert bench.read(80.1)["replicate"] == 2
    (row,) = bench.stored(77.7)
    assert (row["zone"], row["counts"]) == (None, 0)


def test_presses_and_noise_meanwhile_come_once_each_and_in_their_order(bench: Bench) -> None:
    bench.meter.press(77.7)
    bench.meter.await_question()
    os.write(bench.meter.near, b"?!\r\n")
    bench.meter.press(78.8)
    bench.meter.tell_name()
    assert [bench.next("reading")["text"] for _ in range(2)] == ["77.7", "78.8"]
    first, second = bench.stored(77.7) + bench.stored(78.8)
    assert (first["counts"], second["counts"]) == (1, 1)
    assert first["reading_id"] < second["reading_id"]
