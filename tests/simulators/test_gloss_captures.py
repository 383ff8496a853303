"""The captures as referee: a simulated meter treated as they say sends their bytes.

What the line itself does to the bytes (`line` steps, and the captures of noise, which are made of
little else) is not the meter's to send. Read here from the files alone.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest

from simulators.gloss import GlossDevice, PressDevice, Surface, gloss_device

FOLDER = Path(__file__).parent.parent / "captures"
CAPTURES = [path for path in sorted(FOLDER.glob("gloss-*/*.toml")) if path.stem != "noise"]

# What was done to the meter before the capture begins, where its bytes show that something was.
BEFORE = {"gloss-asked/old-result": ["press 60=0.0", "press 60=100.2"]}


def device_of(path: Path, steps: list[dict[str, Any]]) -> GlossDevice:
    """A meter as it is before the first step."""
    received = [step.get("received", "") for step in steps]
    layout = path.parent.name.removeprefix("gloss-")
    first = next(step["act"] for step in steps if step.get("act", "").startswith("press "))
    device = gloss_device(
        layout,
        serial="SH-0417" if layout == "press" else "DK-2205",
        seed=1,
        angles=tuple(values_of(first)),
        repeatability_sd=0,
        memory=any(text.startswith("B,") and "\r\nR," in text for text in received),
    )
    if isinstance(device, PressDevice):
        count = next(text.split(",")[1] for text in received if text.startswith("R,"))
        device.meter.count = int(count) - 1
    for act in BEFORE.get(f"{path.parent.name}/{path.stem}", []):
        treat(device, act)
    return device


def values_of(act: str) -> dict[int, float]:
    pairs = [word.split("=") for word in act.split() if "=" in word]
    return {int(angle): float(value) for angle, value in pairs}


def lay(device: GlossDevice, values: dict[int, float]) -> None:
    """A surface of these values; below zero it takes a meter whose zero is off."""
    device.meter.place(
        Surface("step", MappingProxyType({angle: max(v, 0.0) for angle, v in values.items()}))
    )
    for angle, v in values.items():
        device.meter.drifts[angle].offset = min(v, 0.0)


def treat(device: GlossDevice, act: str) -> bytes:
    """Do what a step says."""
    word, _, rest = act.partition(" ")
    device.meter.lamp_works = rest != "LAMP"
    if word == "press":
        lay(device, values_of(rest))
        return device.press()
    if word == "press-fails":
        return device.press()
    if word == "adjust":
        angle = device.meter.angles[0]
        lay(device, {angle: 90.0})
        return device.adjust({angle: 90.0})
    assert word == "power-on", act
    return device.power(False) + device.power(True)


def test_there_are_captures_of_both_layouts() -> None:
    assert {path.parent.name for path in CAPTURES} == {"gloss-press", "gloss-asked"}


@pytest.mark.parametrize("path", CAPTURES, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_a_meter_treated_as_the_capture_says_sends_its_bytes(path: Path) -> None:
    steps = tomllib.loads(path.read_text("utf-8"))["step"]
    device = device_of(path, steps)
    checked = 0
    for step in steps:
        act = step.get("act", "")
        if "surface" in step:
            lay(device, values_of(step["surface"]))
        sent = treat(device, act) if act and act != "line" else b""
        sent += device.receive(step.get("sent", "").encode("latin-1"))
        if act != "line":
            assert sent == step.get("received", "").encode("latin-1")
            checked += 1
    assert checked > 1
