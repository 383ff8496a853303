"""The weeks before the day of the demo: a check of one meter a week, made by the product itself.

The same daemon, device, line and store as on the day; only the clock is set back to those weeks and
moved on by hand, since nobody waits that long for a demo.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from acquire.clock import ManualClock, SystemClock
from acquire.control.client import Client
from acquire.daemon import running_daemon
from acquire.demo.story import Story
from acquire.demo.tester import Item, Tester
from acquire.drift.asked import told_of
from acquire.settings import load_bench
from acquire.store import StoreReader
from acquire.testkit.simulated import Simulated

WEEKS = 10
CREEP = 1.00048
"""What the meter's scale creeps in a week: some 0.044 GU at the high tile (invented)."""
_WEEK_S = 7 * 24 * 3600.0
_WARM_UP_S = 600.0
_BETWEEN_PRESSES_S = 4.0


class _Then(Tester):
    """A tester of then, who needs some seconds from press to press."""

    def __init__(
        self, client: Client, items: Iterator[Item], bench: Simulated, story: Story,
        clock: ManualClock,
    ) -> None:  # fmt: skip
        super().__init__(client, items, bench, {}, story, 0.0)
        self._clock = clock

    def put(self, name: str, thing: str) -> None:
        self._clock.advance(_BETWEEN_PRESSES_S)
        super().put(name, thing)


def play_weeks(bench_file: Path, bench: Simulated, name: str, story: Story) -> None:
    """Check a meter once a week, until a week ago; it creeps on in every week, the last one too."""
    story.chapter(f"The weeks before: {name} is checked weekly (by a clock that was set back)")
    whole = load_bench(bench_file)
    alone = replace(whole, instruments=tuple(i for i in whole.instruments if i.id == name))
    clock = ManualClock(SystemClock().now().utc() - timedelta(weeks=WEEKS))
    found: list[Item] = []
    warned: list[str] = []
    since = ""
    with (
        running_daemon(alone, clock=clock),
        Client.of_store(whole.store) as client,
        client.watch() as items,
    ):
        tester = _Then(client, items, bench, story, clock)
        tester.await_devices()
        for _ in range(WEEKS):
            clock.advance(_WARM_UP_S)
            found.append(tester.check(name))
            if not warned:
                with StoreReader(whole.store) as reader:
                    now = clock.now()
                    warned = told_of(reader, name, now.utc_ns)
                since = f"{now.utc():%Y-%m-%d}"
            client.call("close_sitting")
            bench.do(f"drift {name} gain={CREEP}")
            clock.advance(_WEEK_S - _WARM_UP_S - 100.0)
    passed = sum(one["outcome"] == "pass" for one in found)
    story.tell(f"{passed} of {len(found)} checks passed, and yet the meter creeps")
    if warned:
        story.tell(f"told first on {since}, with that day's check:")
    for line in warned:
        story.tell(line, "bold")
