"""Makes whole benches for one test, and ends them with it. One thread."""

from __future__ import annotations

import os
from contextlib import ExitStack
from datetime import datetime
from pathlib import Path

from acquire.clock import ManualClock
from acquire.testkit.scenario_bench import ScenarioBench
from acquire.testkit.simulated import load_scenario, scenario_of
from acquire.testkit.tape_bench import TapeBench
from simulators.scenario import Scenario


class Maker:
    """What the fixture `coatbench` gives. Files are named from `root`, made in `folder`."""

    def __init__(self, root: Path, folder: Path) -> None:
        self._root = root
        self._folder = folder
        self._made = 0
        self._leaving = ExitStack()

    def scenario(
        self, named: str | os.PathLike[str], *, now: datetime | None = None
    ) -> ScenarioBench:
        """A bench of simulated devices, connected and past the time of echoes.

        `named` is a scenario file, the name of a shipped one (``boatyard``), or the text of one
        in several lines. `now` is the moment at which the clock stands; 4 May 2026 by default.
        """
        bench = ScenarioBench(self._scenario(named), self._room(), ManualClock(now))
        return self._leaving.enter_context(bench)

    def tape(self, file: str | os.PathLike[str]) -> TapeBench:
        """A bench of the instrument of a tape file, the clock at the moment of its opening."""
        bench = TapeBench(self._root / file, self._room())
        return self._leaving.enter_context(bench)

    def close(self) -> None:
        """End every bench, the last one first."""
        self._leaving.close()

    def _scenario(self, named: str | os.PathLike[str]) -> Scenario:
        text = os.fspath(named)
        if "\n" in text:
            return scenario_of(text, "scenario")
        beside = self._root / text
        return load_scenario(beside if beside.exists() else text)

    def _room(self) -> Path:
        self._made += 1
        room = self._folder / f"bench-{self._made}"
        room.mkdir()
        return room
