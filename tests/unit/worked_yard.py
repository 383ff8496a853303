"""A trial with washes, scales and cure times, kept on a desk over a real store."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC
from pathlib import Path
from typing import Any

from acquire.control.calls import act_of
from acquire.live.past import story_of
from acquire.live.screen import Screen
from acquire.live.story import Story
from acquire.settings import parse_plan
from acquire.store import StoreReader
from acquire.store.work_rows import WashRow
from tests.unit.seen import Seen, drawn
from tests.yard import Yard

PLAN = """
[trial]
id = "quay-1"
title = "Two protectants"
stages = ["bare", "applied", "wash-5", "wash-10"]

[trial.washes]
wash-5 = 5
wash-10 = 10

[trial.cure_hours]
applied = 12

[panel]
name = "Panel 7"

[[treatment]]
id = "none"
name = "Untreated"
control = true

[[treatment]]
id = "tern"
name = "Tern wax"

[[zone]]
id = "A1"
treatment = "tern"

[[zone]]
id = "A2"
treatment = "none"

[[zone]]
id = "A3"
treatment = "tern"

[[measure]]
id = "gloss20"
quantity = "gloss"
geometry = 20
replicates = 2

[[scale]]
id = "water"
name = "How water behaves"
rated = "zone"
stages = ["applied", "wash-5", "wash-10"]
steps = ["lies flat", "flat drops", "round drops"]
gone_below = 2

[[scale]]
id = "removal"
name = "How it comes off"
rated = "treatment"
steps = ["scrubbed", "wiped with pressure", "wiped"]
"""


class WorkedYard(Yard):
    """`call` asks as the control socket does, with one trial kept already."""

    def __init__(self, folder: Path, text: str = PLAN, key: str = "") -> None:
        super().__init__(folder)
        plan = parse_plan(text, "trial.toml")
        self.act(lambda at: self.acts.trials.keep(plan, key, at))

    def call(self, name: str, arguments: Mapping[str, Any] | None = None, **more: Any) -> Any:
        act: Callable[..., Any] = act_of(self.acts, name, {**(arguments or {}), **more})
        return self.act(act)

    def washes(self, trial: str = "quay-1") -> list[WashRow]:
        return self.shelf.worked.washes(trial)


def story(seen: Seen) -> Story:
    """An empty story, as a screen has it that is opened now; hours are in UTC."""
    with StoreReader(seen.yard.bench.store) as store:
        return story_of(store, UTC)


def shown(screen: Screen, width: int, height: int) -> str:
    """A screen as one text."""
    return "\n".join(drawn(screen, width, height))
