"""The captures as referee: a simulated server treated as they say sends their bytes.

Time goes by as the captures have it. Where the line itself made bytes nothing is compared but what
the device sends besides.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from simulators.force.gauge import NEWTONS, Gauge
from simulators.force.sled import RATE_HZ
from simulators.gloss.meter import Meter
from simulators.modbus.force import ModbusForce
from simulators.modbus.framing import rtu
from simulators.modbus.gloss import COUNT_WRAPS, TOP_TENTHS, ModbusGloss
from simulators.modbus.transmission import ModbusHead
from simulators.transmission.head import Head
from simulators.transmission.light import VISIBLE, Flat
from tests.simulators.capture import captures, pairs_of, steps_of, surface_of


class Hand:
    """A device, the time, and what the acts of captures mean to it."""

    def __init__(self, path: Path) -> None:
        self.now_s = 1000.0
        self.device = self.make(path)

    def make(self, path: Path) -> Any:
        raise NotImplementedError

    def treat(self, act: str) -> None:
        raise NotImplementedError

    def switch(self, act: str) -> None:
        assert act in ("power-on", "power-off"), act
        assert self.device.power(False) == b""
        if act == "power-on":
            assert self.device.power(True) == b""


class GlossHand(Hand):
    def make(self, path: Path) -> ModbusGloss:
        meter = Meter("SH-0417", 1, (20, 60, 85), 0, COUNT_WRAPS, TOP_TENTHS)
        device = ModbusGloss(meter, lambda: self.now_s)
        device.server.echoes = path.stem == "echo"
        return device

    def treat(self, act: str) -> None:
        device, (word, _, rest) = self.device, act.partition(" ")
        device.meter.lamp_works = rest != "LAMP"
        if word == "press":
            values = {int(a): float(v) for a, v in pairs_of(rest).items()}
            device.measured = list(values)
            device.meter.place(surface_of({a: max(v, 0.0) for a, v in values.items()}))
            for angle, value in values.items():
                device.meter.drifts[angle].offset = min(value, 0.0)
            assert device.press() == b""
        elif word == "press-fails":
            device.press()
        elif word == "adjust":
            device.meter.place(surface_of({20: 90.0, 60: 90.0}))
            device.adjust({60: 90.0})
        else:
            self.switch(act)


class HeadHand(Hand):
    def make(self, path: Path) -> ModbusHead:
        device = ModbusHead(Head("TH-3310", 1, ModbusHead.bands, noise_sd=0), lambda: self.now_s)
        device.server.echoes = path.stem == "echo"
        return device

    def treat(self, act: str) -> None:
        device, (word, _, rest) = self.device, act.partition(" ")
        if word == "surface":
            device.head.warm_s = 1e6
            device.head.piece = Flat("step", 0.0, {VISIBLE.name: float(rest)})
        elif word == "slow":
            device.measures_s = float(rest)
        elif word == "holds":
            device.holds = int(rest, 16)
        elif word == "lamp-fails":
            device.head.lamp_works = False
        else:
            self.switch(act)


AT_ONCE_S, SOON_S = 0.001, 0.05
"""How long a pull lasts that is over when the host asks, and one that is not."""


class ForceHand(Hand):
    def make(self, path: Path) -> ModbusForce:
        return ModbusForce(Gauge("FG-00921", 1, noise_n=0, limit_n=500.0), lambda: self.now_s)

    def treat(self, act: str) -> None:
        device, (word, _, rest) = self.device, act.partition(" ")
        if word not in ("pull", "pull-begins"):
            self.switch(act)
            return
        device.gauge.unit, value = rest.split()
        peak_n = 999.0 if value == "over" else float(value) * NEWTONS[device.gauge.unit]
        lasts_s = AT_ONCE_S if word == "pull" else SOON_S
        device.pull([peak_n] * round(lasts_s * RATE_HZ))
        self.now_s += 2 * AT_ONCE_S


HANDS = {"modbus-gloss": GlossHand, "modbus-transmission": HeadHand, "modbus-force": ForceHand}


@pytest.mark.parametrize(
    "path",
    [p for p in captures("modbus-*") if p.parent.name in HANDS],
    ids=lambda path: f"{path.parent.name}-{path.stem}",
)
def test_a_device_treated_as_the_capture_says_sends_its_bytes(path: Path) -> None:
    hand = HANDS[path.parent.name](path)
    checked = 0
    for number, step in enumerate(steps_of(path)):
        hand.now_s += max(step.after_s, 0.01)
        acts = [act for act in step.acts if not act.startswith("line")]
        for act in acts:
            hand.treat(act)
        sent = hand.device.receive(step.sent)
        if step.lines and not acts:
            continue  # the line alone
        came = step.received[-len(sent) :] if step.lines else step.received
        assert sent == came, number
        checked += 1
    assert checked > 1


def request(unit: int, data: str) -> bytes:
    return rtu(unit, bytes.fromhex(data))


# V1.1b3, 6 and 7 (from memory): which exception each wrong request is given.
@pytest.mark.parametrize(
    ("asked", "code"),
    [
        ("01 0000 0001", 1),  # no such function
        ("04 0000 0007", 2),  # one register too many
        ("04 0006 0001", 2),
        ("03 0000 0001", 2),
        ("04 0000 0000", 3),  # no register at all
        ("04 0000 007E", 3),  # 126 of them
    ],
)
def test_a_wrong_request_is_given_its_exception(asked: str, code: int) -> None:
    device = GlossHand(Path("x")).device
    function = int(asked[:2], 16) | 0x80
    assert device.receive(request(17, asked)) == rtu(17, bytes([function, code]))


def test_requests_for_others_broken_ones_and_halves_are_not_answered() -> None:
    hand = GlossHand(Path("x"))
    good = request(17, "04 0000 0001")
    answer = rtu(17, bytes.fromhex("04 02 0000"))
    assert hand.device.receive(request(18, "04 0000 0001")) == b""
    assert hand.device.receive(request(0, "04 0000 0001")) == b""
    assert hand.device.receive(good[:-1] + b"\x00") == b""
    assert hand.device.receive(good[:5]) == b""
    assert hand.device.receive(good[5:]) == answer
    assert hand.device.receive(good[:5]) == b""
    hand.now_s += 1
    assert hand.device.receive(good) == answer
    assert hand.device.receive(good + good) == answer + answer


def test_a_head_refuses_what_it_has_not() -> None:
    hand = HeadHand(Path("x"))
    head = hand.device
    for asked, wanted in [
        ("05 0001 FF00", "85 02"),
        ("05 0000 1234", "85 03"),
        ("2B 0E 04 81", "AB 02"),
        ("2B 0E 01 00", "AB 03"),
        ("03 000A 0001", "03 02 0000"),
        ("05 0000 0000", "05 0000 0000"),
        ("03 000A 0001", "03 02 0000"),
    ]:
        assert head.receive(request(3, asked)) == request(3, wanted)
    head.head.lamp_works = False
    assert head.receive(request(3, "05 0000 FF00")) == request(3, "85 04")


def test_bytes_that_are_no_header_end_what_was_begun_on_a_connection() -> None:
    gauge = ForceHand(Path("x")).device
    good = bytes.fromhex("0001 0000 0002 FF 11")
    assert gauge.receive(b"GET / HTTP/1.1\r\n") == b""
    assert len(gauge.receive(good + good)) == 2 * 19
    assert gauge.receive(bytes.fromhex("0001 0000 0002 07 11")) == b""
    assert len(gauge.receive(bytes.fromhex("0001 0000 0002 00 11"))) == 19
    assert gauge.receive(bytes.fromhex("0001 0000 0006 FF 04 0010 0005"))[-2:] == b"\x84\x02"
