"""The captures as referee: a simulated device treated as they say sends their frames."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from simulators.checks import crc8_smbus, crc16_modbus
from simulators.force.gauge import NEWTONS, Gauge
from simulators.frames.bands import FrameBands
from simulators.frames.force import FrameForce
from simulators.frames.gloss import FrameGloss, Mishap
from simulators.gloss.meter import Meter
from simulators.transmission.head import Head
from simulators.transmission.light import OPEN, Flat
from tests.simulators.capture import captures, pairs_of, steps_of, surface_of

SWALLOWED = {"line swallows two presses": 2}


def gloss(path: Path) -> FrameGloss:
    steps = steps_of(path)
    memory = any(b"B" in s.received[3:4] and len(s.received) > 14 for s in steps)
    meter = Meter("GF-0931", 1, (20, 60, 85), 0)
    device = FrameGloss(meter, memory=memory)
    if path.stem == "echo":
        # Two presses before the capture begins, the last of which it remembers.
        for act in ("press 20=91.4 60=95.8 85=98.2", "press 20=88.6 60=94.9 85=97.6"):
            treat_gloss(device, act)
    return device


def treat_gloss(device: FrameGloss, act: str) -> bytes:
    word, _, rest = act.partition(" ")
    meter = device.meter
    meter.lamp_works = rest != "LAMP"
    device.mishap = Mishap(unsettled=word == "press-unsettled")
    if word in ("press", "press-unsettled"):
        values = pairs_of(rest)
        device.measured = [int(angle) for angle in values]
        known = {"over": 500.0, "under": -50.0}
        seen = {int(a): known.get(v) or float(v) for a, v in values.items()}
        meter.place(surface_of({a: max(v, 0.0) for a, v in seen.items()}))
        for angle, value in seen.items():
            meter.drifts[angle].offset = min(value, 0.0)
        return device.press()
    if word == "press-fails":
        if rest == "LAMP":
            meter.place(surface_of({}))
        else:
            meter.lift()
        return device.press()
    if word == "adjust":
        meter.drifts[20].offset = 0.0
        meter.place(surface_of({20: 90.0}))
        return device.adjust({20: 90.0})
    if word == "count":
        meter.count = int(rest)
        return b""
    assert word == "power-on", act
    return device.power(False) + device.power(True)


def force(_: Path) -> FrameForce:
    return FrameForce(Gauge("FG-2207", 1, noise_n=0))


def treat_force(device: FrameForce, act: str) -> bytes:
    word, _, rest = act.partition(" ")
    gauge = device.gauge
    gauge.cell_works = word != "press-fails"
    if word in ("peak", "peak-moving", "holds"):
        gauge.unit, value = rest.split()
        over = value == "over"
        device.pull([2 * gauge.limit_n if over else float(value) * NEWTONS[gauge.unit]])
        return b"" if word == "holds" else device.press(moving=word == "peak-moving")[1]
    if word == "press-fails":
        return device.press()[1]
    if word == "adjust":
        return device.tare()
    if word == "count":
        gauge.count = int(rest)
        return b""
    assert word == "power-on", act
    return device.power(False) + device.power(True)


def bands(_: Path) -> FrameBands:
    return FrameBands(Head("TM-1", 1, FrameBands.bands, noise_sd=0))


def treat_bands(device: FrameBands, act: str) -> bytes:
    word, _, rest = act.partition(" ")
    head = device.head
    head.warm_s, head.lamp_works = 1e6, word != "press-fails"
    if word == "press":
        values = {b: 500.0 if v == "over" else float(v) for b, v in pairs_of(rest).items()}
        head.piece = Flat("step", 0.0, values)
        return device.press()
    if word == "press-fails":
        return device.press()
    if word == "open-beam":
        head.piece = OPEN
        device.set_open_beam()
        return b""
    if word == "count":
        head.count = int(rest)
        return b""
    assert word == "power-on", act
    return device.power(False) + device.power(True)


KINDS: dict[str, tuple[Callable[[Path], Any], Callable[[Any, str], bytes]]] = {
    "frame-gloss": (gloss, treat_gloss),
    "frame-force": (force, treat_force),
    "frame-bands": (bands, treat_bands),
}


def count_before(device: Any, number: int) -> None:
    body = getattr(device, "gauge", None) or getattr(device, "head", None) or device.meter
    body.count += number


@pytest.mark.parametrize(
    "path", captures("frame-*"), ids=lambda path: f"{path.parent.name}-{path.stem}"
)
def test_a_device_treated_as_the_capture_says_sends_its_frames(path: Path) -> None:
    make, treat = KINDS[path.parent.name]
    device = make(path)
    checked = 0
    for step in steps_of(path):
        count_before(device, sum(SWALLOWED.get(act, 0) for act in step.acts))
        acts = [act for act in step.acts if not act.startswith("line")]
        if step.lines and not acts:
            continue  # the line alone
        sent = b"".join(treat(device, act) for act in acts) + device.receive(step.sent)
        if step.lines:
            assert sent
            assert step.received.endswith(sent)
        else:
            assert sent == step.received
        checked += 1
    assert checked >= 1


def test_what_is_above_the_range_of_the_page_is_told_as_such() -> None:
    device = FrameGloss(Meter("GF-0931", 1, (20, 60, 85), 0))
    device.meter.place(surface_of({20: 120.0, 60: 120.1, 85: 120.3}))
    assert device.press()[7:13] == bytes.fromhex("04B0 7FFF 7FFF")


def test_a_meter_that_is_lifted_while_it_measures_says_so() -> None:
    device = FrameGloss(Meter("GF-0931", 1, (20, 60, 85), 0))
    device.meter.place(surface_of({20: 90.0}))
    device.mishap = Mishap(lifted=True)
    assert device.press()[4:13] == bytes.fromhex("0001 04 0000 0000 0000")


def test_commands_are_found_in_pieces_and_among_others() -> None:
    device = force(Path())
    assert device.receive(b"\x02\x02") == b""
    assert device.receive(b"\x3f") == b""
    named = bytes.fromhex("02 53 46 47 2D 32 32 30 37 28 03")
    assert device.receive(b"\x03?\x02?\x03") == named + named


# Check values of Cook's catalogue, of the digits 1 to 9.
def test_the_checks_have_their_published_check_values() -> None:
    assert crc16_modbus(b"123456789") == 0x4B37
    assert crc8_smbus(b"123456789") == 0xF4
