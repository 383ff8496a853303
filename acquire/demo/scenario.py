"""The scenario: a boatyard, a dark gelcoat panel, five invented protectants, invented numbers.

Bench and devices are the files of ``config/demo``; only where the devices are found and the
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

SOURCE = config_dir() / "demo"
SCORECARD = config_dir() / "scorecards" / "yard.toml"
MAPPING = config_dir() / "scorecards" / "past-results.toml"
"""How the results of an earlier year are read, which ``past.csv`` of the demo has (invented)."""

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
    found = load_scenario(SOURCE / "scenario.toml")
    return replace(found, devices=tuple(replace(one, seed=seed) for one in found.devices))


def write_bench(folder: Path, links: Mapping[str, str]) -> Path:
    """Write ``bench.toml`` of the demo and what lies beside it; gives its path.

    `links` has the link of each device as it stands in a bench file.
    """
    text = load_text(SOURCE / "bench.toml")
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
    bench_file = folder / "bench.toml"
    (folder / "profiles").mkdir()
    for profile in (SOURCE / "profiles").glob("*.toml"):
        (folder / "profiles" / profile.name).write_text(load_text(profile), encoding="utf-8")
    bench_file.write_text(text, encoding="utf-8")
    for copied in (SCORECARD, MAPPING, SOURCE / "past.csv"):
        (folder / copied.name).write_text(load_text(copied), encoding="utf-8")
    return bench_file
