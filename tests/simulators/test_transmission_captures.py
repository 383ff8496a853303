"""The captures as referee: a simulated band head treated as they say sends their bytes."""

from __future__ import annotations

from pathlib import Path

import pytest

from simulators.transmission.device import BandsHead, line
from simulators.transmission.head import Head
from simulators.transmission.light import Flat
from tests.simulators.capture import captures, pairs_of, steps_of


def treat(device: BandsHead, act: str) -> bytes:
    word, _, rest = act.partition(" ")
    assert word == "press", act
    bands = {b: 200.0 if v == "over" else float(v) for b, v in pairs_of(rest).items()}
    device.head.piece = Flat("step", 0.0, bands)
    return device.press()


@pytest.mark.parametrize("path", captures("transmission-bands"), ids=lambda path: path.stem)
def test_a_head_treated_as_the_capture_says_sends_its_bytes(path: Path) -> None:
    device = BandsHead(Head("TB-0117", 1, BandsHead.bands, noise_sd=0))
    device.head.warm_s = 1e6
    for step in steps_of(path):
        if step.lines:
            device.press()  # what the line spoils was a press as well
            continue
        sent = b"".join(treat(device, act) for act in step.acts) + device.receive(step.sent)
        assert sent == step.received


def test_the_worked_lines_of_the_page() -> None:
    device = BandsHead(Head("TB-0117", 1, BandsHead.bands, noise_sd=0))
    assert device.power(False) + device.power(True) == b"ON;9D\r\n"
    assert line("T1 UV=12,4 VIS=88,0 IR=90,1") == b"T1 UV=12,4 VIS=88,0 IR=90,1;29\r\n"
    device.head.count = 99999
    assert device.press().startswith(b"T1 UV=")
    assert device.receive(b"?ID\r\nwhat\r\n") == b"ID TB-0117;39\r\n"
