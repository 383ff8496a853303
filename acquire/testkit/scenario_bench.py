"""A bench of simulated devices in a test's hand: what a tester would do, in one line each.

One thread.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from acquire.clock import ManualClock
from acquire.errors import NotFound
from acquire.testkit.held_bench import HeldBench, NothingCame, Row
from acquire.testkit.simulated import Simulated
from simulators.commands import Answer
from simulators.scenario import Scenario

ECHO_S = 5.0
"""Longer than the time after connecting in which readings pass for echoes of old ones."""
MOST_OTHERS = 20
"""Readings in a row of which a check may take none before it is given up."""


class ScenarioBench(HeldBench):
    """The devices of a scenario, and the daemon on them, all by the clock of the test.

    `trial` is the text of a plan over the zones of the scenario; empty where it has no control.
    """

    def __init__(self, scenario: Scenario, folder: Path, clock: ManualClock) -> None:
        self.devices = Simulated(scenario, folder, held_at_s=clock.now().mono_ns / 1e9)
        try:
            files = self.devices.write(folder / "bench.toml", clock.now().utc().date())
            plan = folder / "trial.toml"
            self.trial = plan.read_text(encoding="utf-8") if plan in files else ""
            super().__init__(files[0], clock, self.devices.opener)
        except BaseException:
            self.devices.close()
            raise
        self.devices.tick(clock.now().mono_ns / 1e9)
        try:
            self.await_connected()
            # What comes right after that may be an old result: let it be over.
            self.advance(ECHO_S)
        except BaseException:
            self.close()
            raise

    def do(self, line: str) -> Answer:
        """Do a line such as ``drift shore gain=1.02`` (see `coatbench simulate`): the answer."""
        return self.devices.do(line)

    def put(self, name: str, thing: str) -> None:
        """Set a device on a zone or piece, hang the piece on it, lay it into its beam."""
        self.do(f"put {name} {thing}")

    def press(self, name: str) -> list[Row]:
        """Press, or pull, or ask where there is no button; the readings that came of it.

        They are rows of the view `readings`: `value`, `unit`, `channel`, `role`, `zone`,
        `loose_reason` and so on. Raises `NothingCame` where none came.
        """
        hands = self.devices.rig.hands.hands
        if name not in hands:
            raise NotFound(f"the bench has no {name}", wanted=", ".join(hands))
        hand = hands[name]
        before = self._last_reading()
        if hand.wire.presses == "asked":
            self.client.call("take", instrument=name)
        else:
            hand.press()

        def is_of_it(row: Row) -> bool:
            # What a meter sent before, as when it was plugged in, may not have been looked at.
            found = row.get("table") == "reading" and row["instrument"] == name
            return found and row["id"] > before

        for _ in hand.channels:
            self._awaited(is_of_it, f"a reading of {name}")
        return self.readings(f"reading_id > {before} AND instrument = '{name}'")

    def check(self, name: str) -> Row:
        """Read every piece of the instrument's check; the judgement, with `outcome`, `message`."""
        steps: list[dict[str, Any]] = self.client.call("begin_check", instrument=name)["steps"]
        for step in steps:
            self.put(name, step["piece"])
            taken = 0
            for _ in range(step["readings"] + MOST_OTHERS):
                rows = self.press(name)
                taken += any(row["role"] == "check" for row in rows)
                if taken == step["readings"]:
                    break
                if rows[-1]["loose_reason"] == "echo":
                    # It was plugged in a moment ago; for as long as the clock stands it still was.
                    self.advance(ECHO_S)
            else:
                why = rows[-1]["loose_reason"] or rows[-1]["role"]
                raise NothingCame(
                    f"the check of {name} took {taken} of {step['readings']} readings on "
                    f"{step['piece']}; the last one: {why}"
                )
        return self.await_row("check_judgement")

    def begin_run(self, name: str, *, stage: str = "bare", measure: str = "") -> dict[str, Any]:
        """Begin a run over the zones of the scenario's trial. Raises `Refused` without a pass.

        `measure` is by default the one of the trial that is this device's.
        """
        return self.client.call(
            "begin_run",
            text=self.trial,
            source="trial.toml",
            stage=stage,
            measure=measure or self.devices.measure_of(name),
            instrument=name,
        )

    def close(self) -> None:
        """End everything, the devices last."""
        try:
            super().close()
        finally:
            self.devices.close()

    def _last_reading(self) -> int:
        rows = self.readings("reading_id = (SELECT max(id) FROM reading)")
        return int(rows[0]["reading_id"]) if rows else 0

    def _passed(self) -> None:
        self.devices.tick(self.clock.now().mono_ns / 1e9)
