"""What befalls a line makes noise, repeats and gaps, but never a wrong value; and it can be proved.

The device stands on one thing and scatters not at all: whatever is read must be what it shows.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.control.client import Client
from acquire.daemon import running_daemon
from acquire.report.proof.proof import prove
from acquire.settings import load_bench
from acquire.store import StoreReader
from simulators.handle import DeviceProcess
from tests.flow.test_wires import LIGHT, TILES, WEIGHTS, WIRES, Act, Hand, Wire, write_bench

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals"),
]

STILL = {
    "force": {"noise_n": 0},
    "transmission": {"noise_sd": 0},
    "frames": {"scatter": 0},
    "modbus": {"scatter": 0},
}
STANDS_ON: dict[str, tuple[Act, ...]] = {
    "force": WEIGHTS[1].acts,
    "transmittance": LIGHT[2].acts,
    "gloss": TILES[0].acts,
}
SHOWS = {
    "force-peak": {("", "1.961")},
    "transmission-bands": {(band, "50.0") for band in WIRES["transmission-bands"].channels},
    "frame-gloss": {(angle, "91.4") for angle in ("20", "60", "85")},
    "frame-force": {("", "1.96")},
    "modbus-gloss": {(angle, "91.4") for angle in ("20", "60", "85")},
    "modbus-force": {("", "1.961")},
}
ANYWHERE: tuple[dict[str, object], ...] = (
    {"kind": "split"},
    {"kind": "repeated"},
    {"kind": "lost"},
    {"kind": "late", "delay_s": 0.1},
    {"kind": "corrupted"},
    {"kind": "glued"},
    {"kind": "stalled"},
    {"kind": "cut"},
)
OF_SERIAL_LINES: tuple[dict[str, object], ...] = (
    {"kind": "garbage"},
    {"kind": "wrong_terminator"},
    {"kind": "flood", "bytes": 3_000},
    {"kind": "endless", "bytes": 2_000, "gap_s": 0},
    {"kind": "wrong_speed", "baud": 9600, "heard_baud": 19_200},
    {"kind": "wrong_speed", "baud": 9600, "heard_format": "7E1"},
)


@pytest.fixture
def still(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[str, DeviceProcess]]:
    wire = WIRES[request.param]
    port = {"tcp_port": 0} if wire.network else {"link": tmp_path / "port"}
    with DeviceProcess(
        wire.simulator,
        layout=wire.layout,
        serial=wire.serial,
        seed=5,
        **port,
        **STILL[wire.simulator],
    ) as device:
        yield request.param, device


class Presser(Hand):
    """Presses, and waits until the press has come as a reading of its own."""

    def __init__(self, wire: Wire, device: DeviceProcess, client: Client, items: object) -> None:
        super().__init__(wire, device, client, items)
        self.disconnected = False

    def press_clean(self) -> None:
        """Press until a press has come: what befell the one before may spoil the next as well.

        Any press of this call will do. Where each press makes noise as well, the rows may come one
        press late for good, and who waits for the last press alone would never see it.
        """
        counts: set[int | None] = {None}  # One that has no count tells of its presses by a bit.
        while True:
            counts.add(self.device.act("press")["count"])
            for _ in range(200):
                item = next(self.items)
                if item.get("table") == "reading" and item["press"] in counts:
                    return
                if item.get("table") == "noise" or "alive" in item:
                    break


@pytest.mark.parametrize("still", SHOWS, indirect=True)
def test_no_fault_of_a_line_makes_a_wrong_value(
    still: tuple[str, DeviceProcess], tmp_path: Path
) -> None:
    name, device = still
    wire = WIRES[name]
    bench = load_bench(write_bench(tmp_path, wire, device))
    with running_daemon(bench), Client.of_store(bench.store) as client, client.watch() as items:
        hand = Presser(wire, device, client, items)
        hand.await_meter()
        hand.act(STANDS_ON[wire.quantity])
        hand.press_clean()
        for fault in ANYWHERE if wire.network else (*ANYWHERE, *OF_SERIAL_LINES):
            device.act("fault", **fault)
            device.act("press")
            hand.press_clean()
        if not wire.network:
            # What the host sends comes back to it, as behind an adapter of two wires.
            device.act("echo", on=True)
            device.act("press")
            hand.press_clean()
            device.act("echo", on=False)
            hand.press_clean()
        device.act("fault", kind="torn")
        device.act("press")
        assert next(item for item in items if item.get("table") == "disconnection")
        device.act("plug")
        assert next(item for item in items if item.get("table") == "connection")
        hand.press_clean()
    with StoreReader(bench.store) as reader:
        rows = reader.rows("SELECT * FROM readings")
        noises = reader.one("SELECT count(*) FROM noise")
    assert {(row["channel"], row["value"]) for row in rows} == SHOWS[name]
    assert noises > 0
    # One reading of each press: all of a press come of the same bytes, and a proof plays the whole
    # connection again.
    pressed = {(row["connection_id"], row["raw_start"]): row["reading_id"] for row in rows}
    assert [one for one in pressed.values() if not prove(bench.store, one).holds] == []
