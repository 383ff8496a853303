"""`press DEVICE 3` is three presses, each when the one before could be taken, or says how many."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from simulators.commands import Hands
from simulators.hand import Hand
from simulators.things import Thing
from simulators.wires import APART_S, FETCHED_S, WIRES


class Busy:
    """A device that is at work for a while after a press and hears none then."""

    def __init__(self, works_s: float, lasts_s: float = 0.0) -> None:
        self.now_s = 0.0
        self.presses_s: list[float] = []
        self._works_s = works_s
        self._lasts_s = lasts_s
        self._free_s = 0.0

    def act(self, act: str, /, **_: Any) -> Mapping[str, object]:
        if act not in ("press", "pull", "weight"):
            return {}
        if act == "press" and self.now_s < self._free_s:
            return {"measures": False}
        self.presses_s.append(self.now_s)
        self._free_s = self.now_s + self._works_s
        return {"lasts_s": self._lasts_s} if act == "pull" else {"measures": True}

    def pause(self, seconds: float) -> bool:
        self.now_s += seconds
        return False


def hands_with(wire: str, device: Busy) -> Hands:
    things = {"A1": Thing("A1", False), "W200": Thing("W200", True, mass_g=200.0)}
    return Hands({"it": Hand("it", WIRES[wire], device, WIRES[wire].channels, things)}, things)


def test_a_device_that_sends_by_itself_is_pressed_without_a_pause() -> None:
    device = Busy(0.0)
    hands = hands_with("gloss-press", device)
    hands.pause = device.pause
    hands.do("press it 3")
    assert device.presses_s == [0.0, 0.0, 0.0]


@pytest.mark.parametrize("wire", ["modbus-gloss", "usbtmc-head", "usbtmc-counts"])
def test_a_result_that_is_kept_until_it_is_fetched_has_the_time_for_it(wire: str) -> None:
    device = Busy(0.0)
    hands = hands_with(wire, device)
    hands.pause = device.pause
    hands.do("press it 3")
    assert device.presses_s == [0.0, FETCHED_S, 2 * FETCHED_S]


def test_a_device_that_is_still_measuring_is_pressed_again_until_it_takes_it() -> None:
    device = Busy(2.6)
    hands = hands_with("usbtmc-head", device)
    hands.pause = device.pause
    assert hands.do("press it 3") == {"measures": True}
    assert len(device.presses_s) == 3
    assert hands.hands["it"].presses == 3


def test_pulls_do_not_run_into_one() -> None:
    device = Busy(0.0, lasts_s=1.5)
    hands = hands_with("force-stream", device)
    hands.pause = device.pause
    hands.hands["it"].on = "A1"
    hands.do("press it 2")
    assert device.presses_s == [0.0, APART_S + 1.5]


def test_where_nobody_waits_it_says_how_many_were_measured() -> None:
    device = Busy(2.6)
    hands = hands_with("usbtmc-head", device)
    assert hands.do("press it 3") == {"measures": False, "measured": "1 of 3"}
    assert hands.hands["it"].presses == 1
