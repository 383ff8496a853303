"""Lines that a tester's hand is told to do: read, and done on the devices of a bench.

    put shore T1              set it on a thing: tile, zone; weights are hung on, slides laid in
    press shore 3             press (or pull) three times, each when the one before was taken; of a
                              counter, three strokes
    lift shore                nothing beneath it, on it or in its beam
    zone A1 gloss.20=78.3     how a zone of the panel is from now on, for every device
    adjust shore              its adjust key, by the certificate of the piece it is on
    drift shore gain=1.02     any act of a device by its name: power, lamp, battery, wait, swap,
    unplug shore              unplug, plug, fault, echo, hush, state ...
    fault shore kind=split

Values are written as in JSON; what is no JSON is text. `a.b=1` is the table `a` with its `b`. The
same lines stand in the script of a scenario file. One thread.
"""

from __future__ import annotations

import json
import shlex
from collections.abc import Callable, Mapping

from simulators.arguments import ActFault
from simulators.hand import Hand
from simulators.things import Thing, changed

Answer = Mapping[str, object]

MOST_PRESSES = 10_000
BUSY_S = 0.25

Pause = Callable[[float], bool]
"""Waits so many seconds; True if nobody waits, or no longer."""


def no_pause(_seconds: float) -> bool:
    """Where the clock is not that of this computer, or nobody is to wait."""
    return True


class Hands:
    """All devices of a bench, each in a hand, and the things on it.

    `pause` is how a hand waits between presses: of several at once one would be left where a device
    keeps its last result alone until it is fetched, or where pulls run into one.
    """

    def __init__(self, hands: Mapping[str, Hand], things: dict[str, Thing]) -> None:
        self.hands = hands
        self.things = things
        self.pause: Pause = no_pause
        self._doings: dict[str, Callable[[list[str]], Answer]] = {
            "put": self._put,
            "press": self._press,
            "lift": self._lift,
            "adjust": self._adjust,
            "zone": self._zone,
        }

    def lay_out(self) -> None:
        """Lay every thing within reach of every device that can be put on it."""
        for thing in self.things.values():
            for hand in self.hands.values():
                hand.lay(thing)

    def do(self, line: str) -> Answer:
        """Do one line; the answer of the device. Raises ActFault, and what devices raise."""
        try:
            words = shlex.split(line, comments=True)
        except ValueError as fault:
            raise ActFault("command", line, f"words whose quotes are closed ({fault})") from fault
        if not words:
            return {}
        act, *rest = words
        if act in self._doings:
            return self._doings[act](rest)
        return self._act(act, rest)

    def _put(self, words: list[str]) -> Answer:
        hand, rest = self._hand("put", words)
        if not rest or "=" in rest[0]:
            raise ActFault(f"put {hand.name}", "nothing", f"what it is put on: {self._names()}")
        return hand.put(rest[0], pairs(f"put {hand.name}", rest[1:]))

    def _press(self, words: list[str]) -> Answer:
        hand, rest = self._hand("press", words)
        times = 1
        if rest and "=" not in rest[0]:
            if not rest[0].isdecimal() or not 1 <= int(rest[0]) <= MOST_PRESSES:
                raise ActFault(f"press {hand.name}", rest[0], f"1 to {MOST_PRESSES} times")
            times = int(rest.pop(0))
        how = pairs(f"press {hand.name}", rest)
        answer: Answer = {}
        measured = 0
        for number in range(times):
            if number and hand.wire.apart_s:
                self.pause(hand.wire.apart_s + float(str(answer.get("lasts_s", 0))))
            answer = hand.press(how)
            while answer.get("measures") is False and not self.pause(BUSY_S):
                answer = hand.press(how)
            measured += answer.get("measures") is not False
        return answer if measured == times else {**answer, "measured": f"{measured} of {times}"}

    def _lift(self, words: list[str]) -> Answer:
        hand, rest = self._hand("lift", words)
        pairs(f"lift {hand.name}", rest)
        return hand.lift()

    def _adjust(self, words: list[str]) -> Answer:
        hand, rest = self._hand("adjust", words)
        return hand.adjust(pairs(f"adjust {hand.name}", rest))

    def _act(self, act: str, words: list[str]) -> Answer:
        hand, rest = self._hand(act, words)
        return hand.device.act(act, **pairs(f"{act} {hand.name}", rest))

    def _zone(self, words: list[str]) -> Answer:
        zones = [thing.name for thing in self.things.values() if not thing.is_piece]
        if not words or words[0] not in zones:
            got = words[0] if words else "nothing"
            raise ActFault("zone", got, "one of " + (", ".join(zones) or "no zone"))
        told = pairs(f"zone {words[0]}", words[1:])
        thing = changed(self.things[words[0]], told)
        self.things[thing.name] = thing
        for hand in self.hands.values():
            hand.lay(thing)
        return {}

    def _hand(self, act: str, words: list[str]) -> tuple[Hand, list[str]]:
        known = ", ".join(self.hands)
        if not words:
            told = "a device" if act in self._doings else f"{', '.join(self._doings)}, or an act"
            raise ActFault(act, "nothing", f"{told} of {known}")
        if words[0] not in self.hands:
            raise ActFault(act, words[0], f"a device: {known}")
        return self.hands[words[0]], words[1:]

    def _names(self) -> str:
        return ", ".join(self.things) or "there is nothing"


def pairs(what: str, words: list[str]) -> dict[str, object]:
    """Words such as ``gain=1.02`` or ``gloss.20=78.3`` as a table. Raises ActFault."""
    table: dict[str, object] = {}
    for word in words:
        name, equals, value = word.partition("=")
        if not equals or not name:
            raise ActFault(what, word, "NAME=VALUE, as gain=1.02")
        inner, *path = name.split(".")[::-1]
        place = table
        for step in reversed(path):
            deeper = place.setdefault(step, {})
            if not isinstance(deeper, dict):
                raise ActFault(what, word, f"{step} once, as a table or as a value")
            place = deeper
        place[inner] = _value(value)
    return table


def _value(text: str) -> object:
    try:
        return json.loads(text)
    except ValueError:
        return text
