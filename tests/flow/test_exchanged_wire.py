"""Two meters behind one adapter that stays open: what the other one reads never counts.

The meters are processes of their own, the adapter is a real pseudo-terminal; its cable is moved
from one meter to the other within no time, and nothing on the link shows it.
"""

from __future__ import annotations

import os
import select
import sys
import threading
import tty
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from acquire.control.client import Client
from acquire.daemon import running_daemon
from acquire.errors import Refused
from acquire.settings import load_bench
from simulators.handle import DeviceProcess
from tests.flow.test_wires import TRIAL, WIRES, Act, Hand, Wire, write_bench

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals"),
]

OTHER = {"force-peak": "PG-0099", "frame-gloss": "GF-0099"}


class Adapter:
    """A port that stays, and a cable to whichever meter it is put into. Takes the place of a device
    in a bench file."""

    def __init__(self) -> None:
        self._near, self._held = os.openpty()
        for end in (self._near, self._held):
            tty.setraw(end)
        self.port = os.ttyname(self._held)
        self._far: int | None = None
        self._woken, self._wake = os.pipe()
        self._is_over = False
        self._lock = threading.Lock()
        self._thread = threading.Thread(target=self._pass_on)
        self._thread.start()

    def put_into(self, meter: DeviceProcess) -> None:
        with self._lock:
            if self._far is not None:
                os.close(self._far)
            self._far = os.open(meter.port, os.O_RDWR | os.O_NOCTTY)
            tty.setraw(self._far)
        os.write(self._wake, b"w")

    def close(self) -> None:
        self._is_over = True
        os.write(self._wake, b"w")
        self._thread.join()
        for end in (self._near, self._held, self._woken, self._wake, self._far):
            if end is not None:
                os.close(end)

    def _pass_on(self) -> None:
        while not self._is_over:
            far = self._far
            ends = [end for end in (self._near, self._woken, far) if end is not None]
            ready = select.select(ends, [], [])[0]
            with self._lock:
                if self._woken in ready:
                    os.read(self._woken, 64)
                if far is None or far != self._far:
                    continue
                if self._near in ready:
                    os.write(far, os.read(self._near, 4096))
                if far in ready:
                    os.write(self._near, os.read(far, 4096))


class Bench(Hand):
    """Whatever is done to the meter at the cable is done to the other one, so that the count of
    both is the same; only what the cable leads to is heard."""

    def __init__(self, wire: Wire, meters: list[DeviceProcess], client: Client, items: object):
        super().__init__(wire, meters[0], client, items)
        self.meters = meters

    def act(self, acts: tuple[Act, ...]) -> None:
        for name, arguments in acts:
            for meter in self.meters:
                meter.act(name, **arguments)


@pytest.fixture
def stack() -> Iterator[ExitStack]:
    with ExitStack() as stack:
        yield stack


@pytest.mark.parametrize("name", OTHER)
def test_a_reading_of_the_other_meter_is_of_its_serial_number_and_counts_for_nothing(
    name: str, tmp_path: Path, stack: ExitStack
) -> None:
    wire = WIRES[name]
    meters = [
        stack.enter_context(
            DeviceProcess(
                wire.simulator,
                layout=wire.layout,
                serial=serial,
                seed=5,
                latency_s=wire.latency_s,
                link=tmp_path / serial,
            )
        )
        for serial in (wire.serial, OTHER[name])
    ]
    adapter = Adapter()
    stack.callback(adapter.close)
    own, other = meters
    adapter.put_into(own)
    bench = load_bench(write_bench(tmp_path, wire, adapter))
    stack.enter_context(running_daemon(bench))
    client = stack.enter_context(Client.of_store(bench.store))
    hand = Bench(wire, meters, client, stack.enter_context(client.watch()))
    hand.act(wire.set_up)
    hand.await_meter()
    client.call("begin_check", instrument="it")
    for piece in wire.pieces:
        hand.read(piece.acts, "check", 3)
    trial = TRIAL.format(quantity=wire.quantity, channel=wire.channel_line(wire.channels))
    client.call("begin_run", text=trial, source="trial.toml", stage="bare", instrument="it")
    hand.read(wire.zones[0], "run", 1)
    # Its count goes on by one, as if nothing had happened.
    adapter.put_into(other)
    hand.act((*wire.zones[0], *wire.press))
    found = [hand.next_reading() for _ in range(hand.a_press)]
    assert {(row["serial"], row["role"]) for row in found} == {(OTHER[name], "loose")}
    assert f"{OTHER[name]} answers where {wire.serial}" in found[0]["loose_reason"]
    assert found[0]["press"] is not None
    assert client.call("status")["instruments"][0]["check"]["valid"] is False
    with pytest.raises(Refused, match="may not count"):
        client.call(
            "assign", reading_id=found[0]["id"], trial="wires", measure=None, zone="A1",
            stage="bare", replicate=2, reason="it looked right",
        )  # fmt: skip
    # Back again it is known at once, and waits for a check.
    adapter.put_into(own)
    hand.act((*wire.zones[0], *wire.press))
    again = [hand.next_reading() for _ in range(hand.a_press)]
    assert {(row["serial"], row["role"]) for row in again} == {(wire.serial, "loose")}
    standing = client.call("status")["instruments"][0]
    assert standing["serial"] == wire.serial
    assert standing["check"]["reason"] == "other serial number"
