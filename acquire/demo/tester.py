"""The simulated person at the bench: places the meter, presses its button, looks at the daemon.

Knows the daemon only through its control socket, and the devices only through their acts: a
reading arrives because the button was pressed and the bytes came down the line.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from acquire.control.client import Client
from acquire.demo.story import Story
from acquire.errors import ControlError
from simulators.handle import DeviceProcess

PATIENCE_S = 15.0


class Tester:
    """Works at a bench whose daemon runs. `pace_s` is the pause between presses."""

    def __init__(
        self,
        client: Client,
        items: Iterator[dict[str, Any]],
        devices: Mapping[str, DeviceProcess],
        story: Story,
        pace_s: float,
    ) -> None:
        self._client = client
        self._items = items
        self._devices = devices
        self._story = story
        self._pace_s = pace_s

    def await_devices(self) -> None:
        """Wait until the daemon has found every instrument."""
        deadline = time.monotonic() + PATIENCE_S
        while not all(i["connected"] for i in self._client.call("status")["instruments"]):
            self._late(deadline, "the devices to be found")
            next(self._items)

    def check(self, name: str, by_asking: bool = False) -> dict[str, Any]:
        """A whole check; gives its judgement as stored.

        Readings come by the meter's button, or `by_asking` the meter through the daemon.
        """
        steps = self._client.call("begin_check", instrument=name)["steps"]
        counter = self._story.count(f"checking {name}", sum(s["readings"] for s in steps))
        for step in steps:
            self._devices[name].act("place", surface=step["piece"])
            for _ in range(step["readings"]):
                found = self._press(name, "check", by_asking)
                counter.one(f"{step['piece']}: {found['text']} GU")
        counter.done()
        return self._await(lambda i: i.get("table") == "check_judgement", "a judgement")

    def fill(
        self,
        trial_text: str,
        measure: str,
        stage: str,
        name: str,
        slip_at: int | None = None,
        by_asking: bool = False,
    ) -> int:
        """A whole run over its open targets. At reading `slip_at` the meter slips off the zone.

        Gives the number of readings taken. Raises `Refused` if the gate is shut.
        """
        left = self._client.call(
            "begin_run",
            text=trial_text,
            source="trial.toml",
            measure=measure,
            stage=stage,
            instrument=name,
        )["slots_left"]
        counter = self._story.count(f"{stage}, {measure}", left)
        taken = 0
        while (target := self._client.call("status")["run"]["next"]) is not None:
            taken += 1
            if taken == slip_at:
                self._devices[name].act("place", surface="edge")
                slipped = self._press(name, "run")
                self._client.call("void", reading_id=slipped["id"], reason="slipped over the edge")
                self._story.tell(
                    f"reading {slipped['id']} of zone {slipped['zone']} read {slipped['text']} GU: "
                    "the meter slipped over the edge. It is voided with that reason and stays in "
                    "the store; its place is taken again."
                )
            self._devices[name].act("place", surface=target["zone"])
            found = self._press(name, "run", by_asking)
            counter.one(f"{found['zone']}: {found['text']} GU")
        self._client.call("finish_run", why="complete")
        counter.done()
        return taken

    def adjust(self, name: str, piece: str, values: Mapping[str, float]) -> None:
        """Use the meter's own adjust button on a piece; returns when the daemon knows of it."""
        self._devices[name].act("place", surface=piece)
        self._devices[name].act("adjust", values=values)
        self._await(
            lambda i: i.get("table") == "notice" and i["kind"] == "adjusted", "word of the button"
        )

    def press_idly(self, name: str, zone: str) -> dict[str, Any]:
        """Press on a zone although nothing is open; the reading is kept loose."""
        self._devices[name].act("place", surface=zone)
        return self._press(name, "loose")

    def _press(self, name: str, role: str, by_asking: bool = False) -> dict[str, Any]:
        if self._pace_s:
            time.sleep(self._pace_s)
        if by_asking:
            self._client.call("take", instrument=name)
        else:
            self._devices[name].act("press")
        found = self._await(
            lambda i: i.get("table") == "reading" and i["instrument"] == name, "a reading"
        )
        if found["role"] != role:
            raise ControlError(
                f"a reading of {name} went astray",
                got=f"{found['role']}: {found['loose_reason']}",
                wanted=role,
            )
        return found

    def _await(self, wanted: Callable[[dict[str, Any]], bool], what: str) -> dict[str, Any]:
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
