"""A bench with one meter on a given link, checked and with a run open that is wide enough."""

from __future__ import annotations

import time
from pathlib import Path

from acquire.control.client import Client
from acquire.daemon import Daemon
from acquire.model import Bench, InstrumentSpec, LinkAddress, Quantity
from acquire.schema import load_text, parse_toml
from acquire.settings import config_dir
from acquire.store.rows import ReadingRow
from tests.yard import pieces, policy

ZONES = 200
REPLICATES = 1000


SERIAL = "SH-0417"


def bench_of(store: Path, address: LinkAddress, *, is_asked: bool = False) -> Bench:
    """Meter shore behind `address`, with the pieces and the policy of the test yard.

    `is_asked`: it is asked who it is after each press, and has to answer.
    """
    text = load_text(config_dir() / "profiles" / "gloss-press.toml")
    if not is_asked:
        text = text.partition("[identify]")[0]
    profile = parse_toml(text, "profile gloss-press")
    spec = InstrumentSpec(
        "shore", Quantity.GLOSS, SERIAL, "line", "gloss-press", profile, text, address, policy()
    )
    return Bench("benchmark", store, "127.0.0.1", 0, (spec,), pieces())


def wide_trial() -> str:
    """A trial with room for two hundred thousand readings."""
    zones = "".join(
        f'[[zone]]\nid = "Z{i}"\ntreatment = "{"none" if i == 0 else "brine"}"\n'
        for i in range(ZONES)
    )
    return f"""
[trial]
id = "wide"
title = "Benchmark"
stages = ["bare"]
[panel]
name = "Panel"
[[treatment]]
id = "none"
name = "untreated"
control = true
[[treatment]]
id = "brine"
name = "Brine"
{zones}
[[measure]]
id = "gloss-20"
quantity = "gloss"
geometry = 20
replicates = {REPLICATES}
order = "interleaved"
"""


def get_going(daemon: Daemon, press: object) -> None:
    """Check shore by pressing on its pieces, then open a run. `press` sends one value."""
    assert callable(press)
    deadline = time.monotonic() + 20
    with Client.of_store(daemon.bench.store) as client, daemon.hub.watch() as watcher:
        while not client.call("status")["instruments"][0]["connected"]:
            assert time.monotonic() < deadline, "the meter did not connect"
            watcher.pull(0.1)
        client.call("begin_check", instrument="shore")
        for value in ("93.2", "93.2", "0.0", "0.0"):
            role = ""
            while role != "check":
                # Right after connection a reading passes for an echo of an old one: press again.
                assert time.monotonic() < deadline, "no reading was taken into the check"
                press(value)
                found: list[ReadingRow] = []
                while not found:
                    assert time.monotonic() < deadline, "no reading came"
                    found = [x for x in watcher.pull(1.0)[0] if isinstance(x, ReadingRow)]
                role = found[0].role
                if role != "check":
                    time.sleep(0.2)
        client.call(
            "begin_run", text=wide_trial(), source="benchmark", stage="bare", instrument="shore"
        )
