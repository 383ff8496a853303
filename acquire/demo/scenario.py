"""The scenario: a boatyard, a dark gelcoat panel, five invented protectants, invented numbers.

Bench, trial and devices are the files of ``config/demo``; only where the devices are found and the
dates of the certificates are put in anew, so that the demo works on any day.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

from acquire.errors import CoatbenchError
from acquire.schema import load_text
from acquire.settings import config_dir
from acquire.testkit.simulated import load_scenario
from simulators.scenario import Scenario

# How the zones truly are once their films are on, and after five and ten washes: gloss in GU at 20
# degrees. Invented throughout: the control ages a little, one product lasts, one is gone by ten
# washes, one does nothing, one loses gloss.
TRUE_GLOSS_20: Mapping[str, Mapping[str, float]] = {
    "A1": {"applied": 82.9, "wash-5": 82.1, "wash-10": 81.7},  # Plover sealant
    "A2": {"applied": 80.1, "wash-5": 79.7, "wash-10": 79.5},  # Untreated
    "A3": {"applied": 78.8, "wash-5": 78.2, "wash-10": 78.0},  # Whimbrel oil
    "B1": {"applied": 79.5, "wash-5": 79.1, "wash-10": 78.9},  # Dunlin ceramic
    "B2": {"applied": 81.8, "wash-5": 80.3, "wash-10": 79.1},  # Grebe wax
    "B3": {"applied": 81.0, "wash-5": 79.6, "wash-10": 79.3},  # Curlew spray
}
# Friction under the sled, static and kinetic, and the share of ultraviolet that a film lets pass.
TRUE_FILMS: Mapping[str, tuple[float, float, float]] = {
    "A1": (0.27, 0.21, 0.62),
    "A2": (0.40, 0.30, 1.00),
    "A3": (0.52, 0.41, 0.97),
    "B1": (0.24, 0.19, 0.88),
    "B2": (0.31, 0.24, 0.95),
    "B3": (0.30, 0.25, 0.99),
}

PANEL = tuple(TRUE_GLOSS_20)
STAGES = ("bare", "applied", "wash-5", "wash-10")
WASHES_GAIN, AFTER_GAIN = 1.004, 1.0165
"""How the first meter's scale goes off in the weeks of the washes, and after them (invented)."""
KNOCK_GAIN = 0.975
"""What a knock does to it between two checks (invented)."""

CLOCK = (
    "A demo on simulated devices, all names and numbers invented. The weeks between its stages "
    "pass in a moment, so what was foreseen for weeks ahead stands on the day of the demo. The "
    "weekly checks before that day were recorded by a clock that was set back and moved on by "
    "hand."
)
"""What whoever reads a page of the demo has to know of its times."""

_PLACES = {
    "shore": 'link = { serial_number = "BOATYARD-ADAPTER-1" }',
    "deck": 'link = { serial_number = "BOATYARD-ADAPTER-2" }',
    "hook": 'link = { serial_number = "BOATYARD-ADAPTER-3" }',
    "scale": 'link = { serial_number = "SG-0031" }',
    "light": 'link = { serial_number = "LG-0093" }',
}


def scenario(seed: int) -> Scenario:
    """The devices and what lies on the bench, all scatter drawn from the seed."""
    found = load_scenario(_source("scenario.toml"))
    return replace(found, devices=tuple(replace(one, seed=seed) for one in found.devices))


def lay_lines(stage: str) -> list[str]:
    """What the hand is told so that the zones are as they are at a stage after the bare one."""
    lines = []
    for zone, by_stage in TRUE_GLOSS_20.items():
        static, kinetic, passes = TRUE_FILMS[zone]
        lines.append(
            f"zone {zone} gloss.20={by_stage[stage]} static={static} kinetic={kinetic} "
            f"film.315-400={passes}"
        )
    return lines


def write_bench(folder: Path, links: Mapping[str, str]) -> tuple[Path, Path]:
    """Write ``bench.toml`` and ``trial.toml`` of the demo; gives their paths.

    `links` has the link of each device as it stands in a bench file.
    """
    text = load_text(_source("bench.toml"))
    today = date.today()  # noqa: DTZ011 - certificates bear local dates
    changes = [(_PLACES[name], f"link = {link}") for name, link in links.items()]
    changes += [
        ("issued = 2025-03-10", f"issued = {today - timedelta(days=90)}"),
        ("due = 2030-03-10", f"due = {today + timedelta(days=275)}"),
    ]
    for old, new in changes:
        if old not in text:
            raise CoatbenchError(
                "the example bench is not the one this demo was written for",
                wanted=old,
                next_step="install coatbench again",
            )
        text = text.replace(old, new)
    bench_file, trial_file = folder / "bench.toml", folder / "trial.toml"
    (folder / "profiles").mkdir()
    for profile in _source("profiles").glob("*.toml"):
        (folder / "profiles" / profile.name).write_text(load_text(profile), encoding="utf-8")
    bench_file.write_text(text, encoding="utf-8")
    trial_file.write_text(load_text(_source("trial.toml")), encoding="utf-8")
    return bench_file, trial_file


def _source(name: str) -> Path:
    return config_dir() / "demo" / name
