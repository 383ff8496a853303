"""The simulated person at the bench: places the meter, presses its button, looks at the daemon.

Knows the daemon only through its control socket, and the devices only through a hand: a reading
arrives because the button was pressed and the bytes came down the line, or because what the display
showed was typed.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from acquire.control.client import Client
from acquire.demo.pocket import Pocket
from acquire.demo.story import Story
from acquire.errors import ControlError
from acquire.live.words import figure
from acquire.testkit.simulated import Simulated
from acquire.units import symbol

PATIENCE_S = 60.0
"""Costs nothing where all is well; a computer that does much else besides needs some of it."""

Item = dict[str, Any]


class Tester:
    """Works at a bench whose daemon runs. `pace_s` is the pause between presses.

    `pockets` are the instruments without a port, by name; what they show is typed, twice.
    """

    def __init__(
        self,
        client: Client,
        items: Iterator[Item],
        bench: Simulated,
        pockets: dict[str, Pocket],
        story: Story,
        pace_s: float,
    ) -> None:
        self._client = client
        self._items = items
        self._bench = bench
        self._pockets = pockets
        self._story = story
        self._pace_s = pace_s

    def await_devices(self) -> None:
        """Wait until the daemon has found every instrument."""
        deadline = time.monotonic() + PATIENCE_S
        while missing := [
            f"{i['id']} ({i['message']})"
            for i in self._client.call("status")["instruments"]
            if not i["connected"]
        ]:
            self._late(deadline, f"the devices to be found; missing: {', '.join(missing)}")
            next(self._items)

    def check(self, name: str) -> Item:
        """A whole check; gives its judgement as stored."""
        steps = self._client.call("begin_check", instrument=name)["steps"]
        own = next(i for i in self._client.call("status")["instruments"] if i["id"] == name)
        channels = len(own["channels"])
        counter = self._story.count(f"checking {name}", sum(step["readings"] for step in steps))
        for step in steps:
            for _ in range(step["readings"]):
                self.put(name, step["piece"])
                counter.one(f"{step['piece']}: {shown(self._press(name, 'check', channels))}")
        counter.done()
        return self._await(lambda i: i.get("table") == "check_judgement", "a judgement")

    def fill(
        self,
        trial_text: str,
        source: str,
        measure: str,
        stage: str,
        name: str,
        slip_at: int | None = None,
        lies: Mapping[str, str] | None = None,
    ) -> int:
        """A whole run over its open targets. At reading `slip_at` the meter slips off the zone.

        `lies` says on which thing a zone of the plan lies, where it has another name.

        Gives the number of presses. Raises `Refused` if the gate is shut.
        """
        self._client.call(
            "begin_run",
            text=trial_text,
            source=source,
            measure=measure,
            stage=stage,
            instrument=name,
        )
        run = self._client.call("status")["run"]
        channels = len(run["next"]["channels"])
        counter = self._story.count(f"{stage}, {measure}", run["slots_left"] // channels)
        taken = 0
        while (target := run["next"]) is not None:
            taken += 1
            if taken == slip_at:
                self.put(name, "edge")
                (slipped,) = self._press(name, "run", 1)
                self._client.call("void", reading_id=slipped["id"], reason="slipped over the edge")
                self._story.tell(
                    f"reading {slipped['id']} of zone {slipped['zone']} read {slipped['text']} GU: "
                    "the meter slipped over the edge. It is voided with that reason and stays in "
                    "the store; its place is taken again."
                )
            self.put(name, (lies or {}).get(target["zone"], target["zone"]))
            found = self._press(name, "run", channels)
            counter.one(f"{target['zone']}: {shown(found)}")
            run = self._client.call("status")["run"]
        self._client.call("finish_run", why="complete")
        counter.done()
        return taken

    def put(self, name: str, thing: str) -> None:
        """Set an instrument on a thing, hang the thing on it, lay it into its beam."""
        if name in self._pockets:
            self._pockets[name].put(thing)
        else:
            self._bench.do(f"put {name} {thing}")

    def adjust(self, name: str, piece: str) -> None:
        """Use the meter's own adjust button on a piece; returns when the daemon knows of it."""
        self.put(name, piece)
        self._bench.do(f"adjust {name}")
        self._await(
            lambda i: i.get("table") == "notice" and i["kind"] == "adjusted", "word of the button"
        )

    def press_idly(self, name: str, thing: str) -> Item:
        """Press on a thing although nothing is open; the reading is kept loose."""
        self.put(name, thing)
        (found,) = self._press(name, "loose", 1)
        return found

    def _press(self, name: str, role: str, channels: int) -> list[Item]:
        """Press, and the readings that come of it, one a channel."""
        if self._pace_s:
            time.sleep(self._pace_s)
        if name in self._pockets:
            seen = self._pockets[name].press()
            for _ in range(2):
                self._client.call("type", instrument=name, text=seen)
        else:
            self._bench.do(f"press {name}")
        found: list[Item] = []
        while len(found) < channels:
            item = self._await(
                lambda i: i.get("table") == "reading" and i["instrument"] == name, "a reading"
            )
            if item["role"] == role:
                found.append(item)
            else:
                raise ControlError(
                    f"a reading of {name} went astray",
                    got=f"{item['role']}: {item['loose_reason']}",
                    wanted=role,
                )
        return found

    def _await(self, wanted: Callable[[Item], bool], what: str) -> Item:
        deadline = time.monotonic() + PATIENCE_S
        for item in self._items:
            if wanted(item):
                return item
            self._late(deadline, what)
        raise ControlError("the daemon hung up", next_step="see what it printed")

    @staticmethod
    def _late(deadline: float, what: str) -> None:
        if time.monotonic() > deadline:
            raise ControlError(
                "the demo stands still",
                got=f"nothing within {PATIENCE_S:.0f} s",
                wanted=what,
                next_step="try coatbench demo again on a less busy computer",
            )


def shown(found: list[Item]) -> str:
    """The readings of a press, as the screens show them."""
    values = [figure(item["value"]) if item["value"] is not None else "none" for item in found]
    return f"{' / '.join(values)} {symbol(found[0]['unit'])}".rstrip()
