"""What can happen in the world, as a table, and a walk at random through it by a seed."""

from __future__ import annotations

import random
from collections.abc import Sequence
from pathlib import Path

from acquire.model import Flag
from tests.gate.oracle import NEAR, WANTED, Rules
from tests.gate.world import STAGES, STUDY, WARM_UP, WIDE, Sabotage, World

POLICIES: dict[str, Rules] = {
    "plain": Rules(),
    "short": Rules(valid_s=400.25),
    "presses": Rules(presses=4),
    "idle": Rules(idle_s=300.25),
    "sitting": Rules(with_sitting=True),
    "warm-up": Rules(warm_up_s=200.25),
    "range": Rules(span=(0.0, 85.0)),
    "straight": Rules(is_line_held=True),
    "room": Rules(room=True),
    "all": Rules(
        valid_s=2000.25, presses=6, idle_s=700.25, with_sitting=True, warm_up_s=20.25,
        span=(0.0, 85.0), is_line_held=True, room=True,
    ),
}  # fmt: skip

SHORE = ("shore", "shore", "shore", "deck")
VALUES = ("80.1", "80.1", "93.2", "0.0", "95.6", "48.7", "49.4", "51.0", "86.5")
CELSIUS = ("21.0", "21.0", "23.5", "25.0", "17.0", "28.5")
_BAD = (
    (), (), (), (("T1", 0, "95.6"), ("T1", 1, "95.6")), (("T1", 1, "95.6"),),
    (("T2", 0, "49.4"), ("T2", 1, "49.4")), (("T2", 0, "51.0"), ("T2", 1, "51.0")),
    (("Z0", 0, "0.9"),), (("Z0", 0, "0.9"), ("Z0", 1, "0.9")),
    (("T1", 0, NEAR), ("T1", 1, NEAR)),
)  # fmt: skip

EVENTS: dict[str, tuple[tuple[object, ...], ...]] = {
    "unplugged": (("unplug", "shore"), ("plug", "shore")),
    "switched off": (("switch", "shore"),),
    "another answered": (("name_serial", "shore", False), ("name_serial", "shore", True)),
    "jumped back": (("jump", -3.0),),
    "jumped on": (("jump", 7200.0),),
    "bytes lost": (("lose_bytes", "shore"),),
    "adjusted": (("adjust", "shore", False),),
    "told adjusted": (("adjust", "shore", True),),
    "warmer": (("enter_climate", "25.5", "50"),),
    "damper": (("enter_climate", "21.0", "80"),),
    "half told": (("enter_climate", "21.0", None),),
    "got up": (("finish",), ("close_sitting",)),
    "got up in a check": (
        ("finish",), ("begin_check", "shore"), ("close_sitting",), ("rest_of_check", "shore"),
    ),
    "failed": (("whole_check", "shore", _BAD[3]),),
    "bent": (("whole_check", "shore", _BAD[5]),),
    "gave up": (("begin_check", "shore"), ("press", "shore", "93.2"), ("abandon", "shore")),
    "crashed": (("crash",), ("plug", "shore")),
}  # fmt: skip
"""What may end a pass, as things that happen one after another."""

Choices = tuple[Sequence[object], ...]
OPS: dict[str, tuple[int, Choices]] = {
    "get_going": (9, ((WIDE, WIDE, WIDE, STUDY, WARM_UP), range(6))),
    "whole_check": (5, (SHORE, _BAD)),
    "press": (16, (SHORE, VALUES, (None, None, None, None, *Flag), ("20", "20", "20", "60"))),
    "press_on": (8, (range(1, 5),)),
    "begin_check": (2, (SHORE,)),
    "slipped_check": (2, (VALUES, VALUES, (True, False))),
    "abandon": (2, (SHORE,)),
    "begin_run": (3, ((WIDE, STUDY, WARM_UP), (0, 1), SHORE)),
    "resume": (2, ()),
    "finish": (3, ()),
    "move": (1, (("skip", "back"),)),
    "void": (2, (range(1, 120),)),
    "void_last": (2, (range(3),)),
    "assign": (2, (range(1, 120), ("bare", "cured"), ("A1", "A2"), range(1, 30))),
    "assign_loose": (6, (range(5),)),
    "close_sitting": (3, ()),
    "enter_climate": (4, (CELSIUS, ("50", "50", "80", None))),
    "keep_climate": (5, ()),
    "provoke": (14, (EVENTS, (True, False))),
    "wait": (5, ((0.1, 1.0, 30.0, 150.0, 299.0, 601.0, 901.0),)),
    "come_late": (4, ((301.0, 401.0, 701.0, 901.0, 2001.0),)),
    "tick": (2, ()),
    "unplug": (1, (SHORE,)),
    "plug": (3, (SHORE,)),
    "switch": (2, (SHORE,)),
    "adjust": (2, (SHORE, (True, False))),
    "name_serial": (2, (SHORE, (True, False))),
    "lose_bytes": (1, (SHORE,)),
    "jump": (1, ((-7200.0, -3.0, -1.0, 1.0, 3.0, 7200.0),)),
    "crash": (1, ()),
}  # fmt: skip
"""By name: how often, and from what each argument is taken."""


class Walker(World):
    """The world with what makes sense only of several things in a row."""

    def get_going(self, plan: object, presses: int) -> None:
        """An honest stretch of work, so that there is something to break."""
        for name in self.oracle.meters:
            self.plug(name)
        self.name_serial("shore", True)
        self.keep_climate()
        if self.oracle.rules.warm_up_s:
            self.wait(self.oracle.rules.warm_up_s)
        if self.oracle.meters["shore"].check is not None:
            self.abandon("shore")
        if self.held("shore") is None:
            self.whole_check("shore")
        self.resume()
        self.begin_run(plan, 0, "shore")
        for _ in range(presses):
            self.press("shore", "80.1")

    def begin_run(self, plan: object, stage: object, name: str) -> None:
        stages = next(stages for one, stages in STAGES.items() if one is plan)
        super().begin_run(plan, stages[int(str(stage)) % len(stages)], name)

    def press_on(self, presses: int) -> None:
        self.plug("shore")
        for _ in range(presses):
            self.press("shore", "80.1")

    def slipped_check(self, first: str, second: str, breaks_off: bool) -> None:
        """A check in which the person voids what they do not like, and then presses on."""
        self.begin_check("shore")
        for value in (first, second):
            self.press("shore", value)
            self.void_last(0)
        if breaks_off:
            self.abandon("shore")
        self.press("shore", "80.1")

    def void_last(self, back: int) -> None:
        ids = [row["id"] for row in self.yard.writer.query("SELECT id FROM reading ORDER BY id")]
        if len(ids) > back:
            self.void(int(ids[-1 - back]))

    def assign_loose(self, back: int) -> None:
        """One of the last loose readings, to the first place that is free."""
        rows = self.yard.readings("role = 'loose' AND flags = '' AND value IS NOT NULL")
        if len(rows) <= back or self.yard.desk.shelf.trial("gelcoat") is None:
            return
        taken = {
            (row["stage"], row["zone"], row["replicate"])
            for row in self.yard.readings("counts = 1 AND trial = 'gelcoat'")
        }
        free = (
            (stage, zone, replicate)
            for stage in WIDE.stages
            if ("gloss20", stage) in self.yard.desk.shelf.stages_run("gelcoat")
            for replicate in range(90, 0, -1)
            for zone in ("A1", "A2")
            if (stage, zone, replicate) not in taken
        )
        place = next(free, None)
        if place is not None:
            self.assign(int(str(rows[-1 - back]["reading_id"])), *place)

    def keep_climate(self) -> None:
        """What a person with a steady room would enter."""
        room = self.oracle.room
        if self.oracle.rules.room:
            is_new = room is None or self.held("shore") is None
            self.enter_climate("21.0" if is_new else "22.0", "50")

    def provoke(self, event: str, is_later: bool) -> None:
        """Work under a pass, something that may end it, and the person presses on."""
        self.get_going(WIDE, 1)
        for name, *arguments in EVENTS[event]:
            do(self, str(name), arguments)
        if is_later:
            self.tick()
        self.press("shore", "80.1")
        self.assign_loose(0)
        self.resume()
        self.begin_run(WIDE, 1, "shore")
        self.press("shore", "80.1")

    def rest_of_check(self, name: str) -> None:
        while (check := self.oracle.meters[name].check) is not None and check.piece is not None:
            self.press(name, WANTED[check.piece])

    def come_late(self, seconds: float) -> None:
        """Time goes by and nobody looks; then a press."""
        self.wait(seconds)
        self.press("shore", "80.1")


def do(world: Walker, name: str, arguments: Sequence[object]) -> None:
    getattr(world, name)(*arguments)


def walk(
    folder: Path, rules: Rules, seed: int, steps: int, sabotage: Sabotage | None = None
) -> None:
    """A walk of so many steps. Raises what was found: AssertionError, or what the store refuses."""
    chance = random.Random(seed)
    world = Walker(folder, rules, sabotage)
    names = list(OPS)
    weights = [OPS[name][0] for name in names]
    try:
        world.get_going(WIDE, 2)
        for step in range(steps):
            (name,) = chance.choices(names, weights)
            do(world, name, [chance.choice(list(choices)) for choices in OPS[name][1]])
            if step % 8 == 7:
                world.hold()
        world.hold_all()
    finally:
        world.close()
