"""The captures as referee: a simulated head treated as they say sends their bytes.

The head stands on a simulated bus, and the link carries out what the captures say the host sent.
Not its to send is what the line or another device made of the bytes: answers of a strange tag
(`stale`), a clearing that is pending (`stalled`), numbers that no head writes (`range`), `noise`.
Read here from the files alone.
"""

from __future__ import annotations

import struct
import tomllib
from pathlib import Path
from typing import Any

import pytest

from acquire.driverapi import UsbNeeds
from acquire.link.usblink import UsbOpener
from acquire.model import LinkAddress
from simulators.usb.backend import SimulatedBackend
from simulators.usb.light import Beam, Grid, Slide
from simulators.usb.tmc import TRANSFER_LIMIT_BYTES
from simulators.usb.transmission import TransmissionHead, transmission_head
from simulators.usb.waiting import HurriedWaiting

FOLDER = Path(__file__).parent.parent / "captures"
CAPTURES = [
    path
    for path in sorted(FOLDER.glob("usbtmc-*/*.toml"))
    if path.stem not in ("noise", "stale", "stalled", "range")
]
PERCENT = [0.5, 12.5, 80.0, 84.0, 88.0, 90.0, 90.5, 91.0, 91.5, 92.0, 92.0, 92.0]
BANDS = {(315.0, 400.0): 12.5, (380.0, 780.0): 88.04, (780.0, 1400.0): 90.11}
NEEDS = UsbNeeds(0xFE, 3, 1, timeout_s=0.2)
PRESS_S = 0.3


class Page(Beam):
    """The light that fits on the page: twelve points, always the same."""

    def __init__(self) -> None:
        super().__init__(Grid(), "")
        self.grid = Grid(300.0, 100.0, 12)

    def look(self, slide: Slide, press: int) -> list[float]:
        return PERCENT

    def counts(self, slide: Slide, press: int) -> list[float]:
        light = 1000 * self.lamp
        return [24 + light * percent / 100 for percent in PERCENT]

    @property
    def kept_dark(self) -> list[float]:
        return [24.0] * 12

    @property
    def kept_open(self) -> list[float]:
        return [24.0 + 1000 * self.lamp] * 12

    def band(self, percent: list[float], low_nm: float, high_nm: float) -> float:
        return BANDS[low_nm, high_nm]


def treat(head: TransmissionHead, act: str, waiting: HurriedWaiting, asked: bool) -> None:
    """Do what a step says; a reading that the host asks for is not the hand's to take."""
    if act:
        head.upset(lamp_works="LAMP" not in act, covered="COVER" not in act)
    if act == "adjust":
        head.head.beam.lamp = 0.8
        head.adjust()
    elif act.startswith("press") and not asked:
        assert head.press()
        waiting.wait(None, PRESS_S)  # type: ignore[arg-type]


def part_bytes(received: bytes) -> int:
    """How many message bytes the head sends at once where it does not send all: on the page less
    than a built one would. A record of six bytes, then a head with the size at 4 and EOM at 8."""
    if received[:1] == b"\x02" and len(received) > 18:
        size, attributes = struct.unpack_from("<IB", received, 10)
        if not attributes & 1:
            return int(size)
    return TRANSFER_LIMIT_BYTES


def data(step: dict[str, Any], name: str) -> bytes:
    text: str = step.get(name, "")
    return text.encode("latin-1")


def test_there_are_captures_of_all_ways_to_use_the_head() -> None:
    assert {path.parent.name for path in CAPTURES} == {
        "usbtmc-head",
        "usbtmc-bands",
        "usbtmc-counts",
    }


@pytest.mark.parametrize("path", CAPTURES, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_a_head_treated_as_the_capture_says_sends_its_bytes(path: Path) -> None:
    waiting = HurriedWaiting()
    backend = SimulatedBackend(waiting)
    head = transmission_head("LG-0093", seed=1, now_s=waiting.now_s, beam=Page())
    backend.plug(head)
    address = LinkAddress(identity={"serial_number": "LG-0093"})
    link = UsbOpener(address, NEEDS, backend).open()
    checked = 0
    for step in tomllib.loads(path.read_text("utf-8"))["step"]:
        wanted = data(step, "received")
        treat(head, step.get("act", ""), waiting, step.get("take", False))
        head.tmc.transfer_limit_bytes = part_bytes(wanted)
        got = b""
        if wanted[:1] == b"\x03":
            got = link.read(1.0)  # the host heard of it before it spoke
        if data(step, "sent"):
            link.write(data(step, "sent"))
        while len(got) < len(wanted) and (more := link.read(1.0)):
            got += more
        assert got == wanted, f"step {checked + 1}"
        checked += 1
    assert link.read(1.0) == b""
    assert checked > 1
    link.close()
