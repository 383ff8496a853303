"""Every wire from end to end: a simulated device on a real port, the daemon, a check, a run.

The device is a process of its own, driven by its acts; profile and policy are those that ship,
where one ships. Every reading is proved from its bytes afterwards.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from acquire.control.client import Client
from acquire.daemon import running_daemon
from acquire.report.proof.proof import prove
from acquire.settings import load_bench
from acquire.settings.shipped import config_dir
from acquire.store import StoreReader
from simulators.handle import DeviceProcess

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals"),
]

Act = tuple[str, dict[str, Any]]

BENCH = """[bench]
name = "wires"
store = "wires.sqlite"

[[instrument]]
id = "it"
kind = "{quantity}"
serial = "{serial}"
driver = "{driver}"
profile = "{profile}"
policy = "{policy}"
link = {link}
"""
PIECE = """
[[piece]]
id = "{id}"
kind = "{kind}"
"""
CERTIFICATE = """[[piece.certificate]]
quantity = "{quantity}"
{channel}
value = {value}
unit = "{unit}"
expanded_uncertainty = 0.1
coverage_factor = 2
issued = 2025-01-31
due = 2099-01-31
issuer = "Invented calibration laboratory"
"""
TRIAL = """
[trial]
id = "wires"
title = "Two zones on every wire"
stages = ["bare"]

[panel]
name = "Panel 1"

[[treatment]]
id = "none"
name = "untreated"
control = true

[[treatment]]
id = "tern"
name = "Tern sealant"

[[zone]]
id = "A1"
treatment = "none"

[[zone]]
id = "A2"
treatment = "tern"

[[measure]]
id = "m"
quantity = "{quantity}"
{channel}
replicates = 2
order = "by-zone"
"""


@dataclass(frozen=True)
class Piece:
    """A reference piece: what it is, its certified value, and how the device is set on it."""

    id: str
    kind: str
    value: float
    acts: tuple[Act, ...]


@dataclass(frozen=True)
class Wire:
    """A device, how it is checked, and what is done for each of the two zones of the run."""

    simulator: str
    layout: str
    serial: str
    driver: str
    profile: str
    policy: str
    quantity: str
    unit: str
    pieces: tuple[Piece, ...]
    zones: tuple[tuple[Act, ...], ...]
    press: tuple[Act, ...] = (("press", {}),)
    channels: tuple[str, ...] = ("",)
    besides: int = 0
    """Readings of each press that the policy does not ask for."""
    network: bool = False
    change_policy: tuple[tuple[str, str], ...] = ()
    without: str = ""
    """A piece of the policy that such a device cannot read."""
    set_up: tuple[Act, ...] = ()
    latency_s: float = 0.15
    """Between a press and its bytes, so that the time in which a result passes for an echo of an
    old one is over after a few of them."""

    def channel_line(self, channels: tuple[str, ...]) -> str:
        if self.quantity == "force":
            return ""
        word = "geometry" if self.quantity == "gloss" else "band"
        quoted = [one if self.quantity == "gloss" else f'"{one}"' for one in channels]
        return f"{word} = {quoted[0] if len(quoted) == 1 else '[' + ', '.join(quoted) + ']'}"


WEIGHTS = tuple(
    Piece(
        f"W{mass_g}",
        "check-weight" if mass_g else "no-load",
        mass_g,
        (("weight", {"mass_g": mass_g}),),
    )
    for mass_g in (0, 200, 500)
)
# To a gauge that streams a reading is a pull: nothing on the hook makes none.
HUNG = tuple(
    Piece(piece.id, piece.kind, piece.value, (("weight", {"mass_g": piece.value, "for_s": 1.0}),))
    for piece in WEIGHTS[1:]
)
LANES: tuple[tuple[Act, ...], ...] = (
    (("weight", {"mass_g": 0}), ("place", {"zone": "bare"}), ("pull", {"slides_s": 0.3})),
    (("place", {"zone": "slick"}), ("pull", {"slides_s": 0.3})),
)
SLICK: Act = ("zone", {"name": "slick", "static": 0.25, "kinetic": 0.2})

TILES = tuple(
    Piece(name, kind, gloss, (
        ("surface", {"name": name, "gloss": dict.fromkeys(("20", "60", "85"), gloss)}),
        ("place", {"surface": name}),
    ))
    for name, kind, gloss in (
        ("T1", "gloss-tile", 91.4), ("T2", "gloss-tile", 52.6), ("Z0", "black-trap", 0.0),
    )
)  # fmt: skip
SPOTS: tuple[tuple[Act, ...], ...] = (TILES[0].acts, TILES[1].acts)

LIGHT = (
    Piece("OPEN", "open-beam", 100, (("place", {"piece": "open"}),)),
    Piece("DARK", "dark", 0, (("place", {"piece": "dark"}),)),
    Piece("N50", "neutral-filter", 50, (("place", {"piece": "N50"}),)),
)
SLIDES: tuple[tuple[Act, ...], ...] = (
    (("place", {"piece": "blank"}),),
    (
        ("piece", {"name": "tern", "film": {"380-780": 1.01}}),
        ("place", {"piece": "tern"}),
    ),
)

WIRES = {
    "force-peak": Wire(
        "force", "peak", "PG-0031", "line", "force-peak", "force", "force", "gram_force",
        WEIGHTS, LANES, set_up=(SLICK, ("unit", {"unit": "gf"})),
    ),
    "force-powers": Wire(
        "force", "powers", "PW-0041", "line", "force-powers", "force", "force", "gram_force",
        WEIGHTS, LANES, set_up=(SLICK,),
    ),
    "force-stream": Wire(
        "force", "stream", "PG-0032", "line", "force-stream", "force", "force", "gram_force",
        HUNG, LANES, set_up=(SLICK,), press=(), latency_s=0, without="W0",
    ),
    "transmission-bands": Wire(
        "transmission", "bands", "TB-0117", "line", "transmission-bands", "transmission-bands",
        "transmittance", "percent", LIGHT, SLIDES, channels=("315-400", "380-780", "780-1400"),
    ),
    "frame-gloss": Wire(
        "frames", "gloss", "GF-0931", "frame", "frame-gloss", "gloss-20", "gloss", "gloss_unit",
        TILES, SPOTS, channels=("20",), besides=2,
    ),
    "frame-force": Wire(
        "frames", "force", "FG-2207", "frame", "frame-force", "force", "force", "gram_force",
        WEIGHTS, LANES, set_up=(SLICK,),
    ),
    "frame-bands": Wire(
        "frames", "bands", "TM-1", "frame", "frame-bands", "transmission-bands", "transmittance",
        "percent", LIGHT, SLIDES, channels=("315-400", "380-780", "940"),
        change_policy=(("780-1400", "940"),),
    ),
    "modbus-gloss": Wire(
        "modbus", "gloss", "SH-0417", "modbus", "modbus-gloss", "gloss-20", "gloss", "gloss_unit",
        TILES, SPOTS, channels=("20",), besides=2, latency_s=0,
    ),
    "modbus-gloss-network": Wire(
        "modbus", "gloss", "SH-0417", "modbus", "modbus-gloss", "gloss-20", "gloss", "gloss_unit",
        TILES, SPOTS, channels=("20",), besides=2, network=True, latency_s=0,
    ),
    "modbus-force": Wire(
        "modbus", "force", "FG-00921", "modbus", "modbus-force", "force", "force", "gram_force",
        WEIGHTS, LANES, network=True, set_up=(SLICK,), latency_s=0,
    ),
    "modbus-transmission": Wire(
        "modbus", "transmission", "TH-3310", "modbus", "modbus-transmission",
        "transmission-bands", "transmittance", "percent", LIGHT[1:], SLIDES,
        press=(("take", {}),), channels=("380-780",), latency_s=0,
        # 100 % is above its range: half of its open beams have no value.
        change_policy=(
            ('["315-400", "380-780", "780-1400"]', '"380-780"'),
            ("linearity_limit = 1.5", "# without OPEN there is but one filter"),
        ),
        without="OPEN",
    ),
}  # fmt: skip


def changed_policy(wire: Wire) -> str:
    """The shipped policy, but for what does not fit the device."""
    text = (config_dir() / "policies" / f"{wire.policy}.toml").read_text("utf-8")
    for old, new in wire.change_policy:
        assert old in text
        text = text.replace(old, new)
    head, *steps = text.split("[[step]]\n")
    kept = [step for step in steps if f'piece = "{wire.without}"' not in step]
    return "[[step]]\n".join([head, *kept])


def write_bench(folder: Path, wire: Wire, device: DeviceProcess) -> Path:
    link = f'{{ url = "{device.port}" }}' if wire.network else f'{{ port = "{device.port}" }}'
    text = BENCH.format(link=link, **{k: getattr(wire, k) for k in (
        "quantity", "serial", "driver", "profile", "policy")})  # fmt: skip
    for piece in wire.pieces:
        text += PIECE.format(id=piece.id, kind=piece.kind)
        for channel in wire.channels:
            text += CERTIFICATE.format(
                quantity=wire.quantity,
                channel=wire.channel_line((channel,)),
                value=piece.value,
                unit=wire.unit,
            )
    if wire.change_policy or wire.without:
        (folder / "policies").mkdir()
        (folder / "policies" / f"{wire.policy}.toml").write_text(changed_policy(wire), "utf-8")
    file = folder / "bench.toml"
    file.write_text(text, "utf-8")
    return file


class Hand:
    """Somebody at the bench: sets the device on things, presses, and looks at what came."""

    def __init__(self, wire: Wire, device: DeviceProcess, client: Client, items: Any) -> None:
        self.wire = wire
        self.device = device
        self.client = client
        self.items = items

    def act(self, acts: tuple[Act, ...]) -> None:
        for name, arguments in acts:
            if name == "take":
                self.client.call("take", instrument="it")
            else:
                self.device.act(name, **arguments)

    def await_meter(self) -> None:
        while not self.client.call("status")["instruments"][0]["connected"]:
            next(self.items)

    def read(self, on: tuple[Act, ...], role: str, times: int) -> None:
        """Set it on something and press until so many presses were taken in that role."""
        taken = 0
        while taken < times:
            self.act(on)
            self.act(self.wire.press)
            roles = [self.next_reading()["role"] for _ in range(self.a_press)]
            taken += role in roles

    @property
    def a_press(self) -> int:
        return len(self.wire.channels) + self.wire.besides

    def next_reading(self) -> dict[str, Any]:
        for item in self.items:
            if item.get("table") == "reading":
                assert isinstance(item, dict)
                return item
        raise AssertionError("the daemon hung up before a reading came")


@pytest.fixture
def plugged(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[Wire, DeviceProcess]]:
    wire = WIRES[request.param]
    options = {"tcp_port": 0} if wire.network else {"link": tmp_path / "port"}
    with DeviceProcess(
        wire.simulator,
        layout=wire.layout,
        serial=wire.serial,
        seed=5,
        latency_s=wire.latency_s,
        **options,
    ) as device:
        yield wire, device


@pytest.mark.parametrize("plugged", WIRES, indirect=True)
def test_a_device_on_its_wire_is_checked_runs_and_every_reading_is_proved(
    plugged: tuple[Wire, DeviceProcess], tmp_path: Path
) -> None:
    wire, device = plugged
    bench = load_bench(write_bench(tmp_path, wire, device))
    with (
        running_daemon(bench),
        Client.of_store(bench.store) as client,
        client.watch() as items,
    ):
        hand = Hand(wire, device, client, items)
        hand.act(wire.set_up)
        hand.await_meter()
        client.call("begin_check", instrument="it")
        for piece in wire.pieces:
            hand.read(piece.acts, "check", 3)
        assert client.call("status")["instruments"][0]["check"]["valid"] is True
        trial = TRIAL.format(quantity=wire.quantity, channel=wire.channel_line(wire.channels))
        client.call("begin_run", text=trial, source="trial.toml", stage="bare", instrument="it")
        for zone in wire.zones:
            hand.read(zone, "run", 2)
    with StoreReader(bench.store) as reader:
        rows = reader.rows("SELECT * FROM readings ORDER BY reading_id")
        assert reader.one("SELECT count(*) FROM noise") == 0
    proofs = {row["reading_id"]: prove(bench.store, row["reading_id"]) for row in rows}
    assert [proof.lines for proof in proofs.values() if not proof.holds] == []
    roles = Counter(row["role"] for row in rows)
    assert roles["check"] == 3 * len(wire.pieces) * len(wire.channels)
    assert roles["run"] == 4 * len(wire.channels)
    assert {row["serial"] for row in rows} == {wire.serial}
