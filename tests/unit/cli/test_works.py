"""What is due of many trials: what they share is read once, however many are open."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from acquire.cli.next import dues_of
from acquire.cli.works import Works
from acquire.settings import parse_plan
from acquire.store import StoreReader
from acquire.trial.stored import stored_plan
from acquire.trial.urgency import Urgency
from tests.unit.test_probes import ProbedYard
from tests.unit.worked_yard import PLAN

TRIALS = ("quay-1", "quay-2", "quay-3")


class CountingReader(StoreReader):
    """A reader that keeps which questions it was asked."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self.asked: Counter[str] = Counter()

    def rows(self, sql: str, arguments: Sequence[object] = ()) -> list[sqlite3.Row]:
        if "?" not in sql or not set(arguments) & set(TRIALS):
            self.asked[sql] += 1
        return super().rows(sql, arguments)


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[ProbedYard]:
    """Three trials with something to measure and washes to go, and strokes that nobody counted."""
    found = ProbedYard(tmp_path)
    for trial in TRIALS[1:]:
        plan = parse_plan(PLAN.replace('"quay-1"', f'"{trial}"'), trial)
        found.act(lambda at, plan=plan: found.acts.trials.keep(plan, "", at))
    for trial in TRIALS:
        found.call("apply", trial=trial, zones=["A1", "A3"])
    found.stroke(1)
    found.stroke(2)
    yield found
    found.writer.close()


def test_what_all_trials_share_is_asked_for_once(yard: ProbedYard) -> None:
    with CountingReader(yard.bench.store) as store:
        works = Works(store, yard.bench)
        now_utc_ns = yard.clock.now().utc_ns
        found = {t: dues_of(works, stored_plan(store.rows, t), now_utc_ns) for t in TRIALS}
    for dues in found.values():
        assert any("hub was stroked 2 times" in d.what for d in dues)
        assert any(d.urgency is Urgency.MEASURE for d in dues)
    shared = {sql: n for sql, n in store.asked.items() if "FROM" in sql}
    assert len(shared) >= 4  # open runs, failed checks, strokes, the last wash
    assert set(shared.values()) == {1}


def test_whoever_asks_later_is_told_what_came_since(yard: ProbedYard) -> None:
    with StoreReader(yard.bench.store) as store:
        plan = stored_plan(store.rows, "quay-1")
        before = dues_of(Works(store, yard.bench), plan, yard.clock.now().utc_ns)
        yard.stroke(3)
        after = dues_of(Works(store, yard.bench), plan, yard.clock.now().utc_ns)
    assert any("stroked 2 times" in d.what for d in before)
    assert any("stroked 3 times" in d.what for d in after)
