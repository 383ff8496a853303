"""The scenario: a boatyard, a dark gelcoat panel, five invented protectants, invented numbers.

The bench and the trial are the examples of ``config/boatyard``; only where the devices are found
and the dates of the certificates are put in anew, so that the demo works on any day.
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from acquire.errors import CoatbenchError
from acquire.schema import load_text
from acquire.settings import config_dir

# What the simulated panel truly shows at 20 degrees (GU): zone by zone, at every stage.
# Invented throughout: the control ages a little, one product does nothing, one loses gloss.
TRUE_GLOSS_20 = {
    "A1": {"bare": 79.6, "applied": 82.9, "wash-5": 82.1},  # Plover sealant
    "A2": {"bare": 80.3, "applied": 80.1, "wash-5": 79.7},  # Untreated
    "A3": {"bare": 78.9, "applied": 78.8, "wash-5": 78.2},  # Whimbrel oil
    "B1": {"bare": 80.8, "applied": 79.5, "wash-5": 79.1},  # Dunlin ceramic
    "B2": {"bare": 79.2, "applied": 81.8, "wash-5": 80.3},  # Grebe wax
    "B3": {"bare": 80.0, "applied": 81.0, "wash-5": 79.6},  # Curlew spray
}
TRUE_GLOSS_60_BARE = {"A1": 88.4, "A2": 88.9, "A3": 88.1, "B1": 89.3, "B2": 88.2, "B3": 88.7}
TEXTURE_SD_GU = 0.25

# The reference pieces as they truly are; their certificates are in bench.toml.
TRUE_PIECES = {"T1": {"20": 91.4, "60": 95.2}, "T2": {"20": 52.6, "60": 71.8}}
EDGE_GLOSS = {"20": 61.0, "60": 70.0}

STAGES = ("bare", "applied", "wash-5")
DRIFT_GAIN = 1.025


def write_bench(folder: Path, shore_port: str, deck_port: str) -> tuple[Path, Path]:
    """Write ``bench.toml`` and ``trial.toml`` of the demo; gives their paths."""
    source = config_dir() / "boatyard"
    text = load_text(source / "bench.toml")
    today = date.today()  # noqa: DTZ011 - certificates bear local dates
    for old, new in (
        ('serial_number = "BOATYARD-ADAPTER-1"', _link(shore_port)),
        ('url = "socket://127.0.0.1:4205"', _link(deck_port)),
        ("issued = 2025-03-10", f"issued = {today - timedelta(days=90)}"),
        ("due = 2030-03-10", f"due = {today + timedelta(days=275)}"),
    ):
        if old not in text:
            raise CoatbenchError(
                "the example bench is not the one this demo was written for",
                wanted=old,
                next_step="install coatbench again",
            )
        text = text.replace(old, new)
    bench_file, trial_file = folder / "bench.toml", folder / "trial.toml"
    bench_file.write_text(text, encoding="utf-8")
    trial_file.write_text(load_text(source / "trial.toml"), encoding="utf-8")
    return bench_file, trial_file


def _link(port: str) -> str:
    return f'url = "{port}"' if "://" in port else f"port = '{port}'"
