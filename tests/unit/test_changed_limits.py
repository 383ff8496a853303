"""A policy that was loosened opens the gate, and the verdict and the report say that it was."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.live.verdict import verdict
from acquire.report.record.loading import load_trial
from acquire.store import StoreReader
from acquire.store.limits import changed_limits, changed_values
from tests.unit.reported import SMALL, SMALL_VALUES, read_stage
from tests.unit.withdrawing import later
from tests.yard import Yard


class Loosened(Yard):
    """After a restart T1 is held to 50 GU."""

    is_loose = False

    def open(self) -> None:
        if self.is_loose:
            shore, *rest = self.bench.instruments
            rules = tuple(replace(rule, limit=Decimal(50)) for rule in shore.policy.rules[:1])
            policy = replace(shore.policy, rules=(*rules, *shore.policy.rules[1:]))
            self.bench = replace(self.bench, instruments=(replace(shore, policy=policy), *rest))
        super().open()


def test_a_limit_that_was_changed_since_the_check_before_is_told(tmp_path: Path) -> None:
    yard = Loosened(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.is_loose = True
    yard.restart()
    yard.plug("shore")
    yard.check("shore", tile="95.0")
    read_stage(yard, "bare", SMALL, [SMALL_VALUES[z, "bare"] for z in ("A1", "A2")])
    yard.check("shore", tile="95.0")
    with StoreReader(yard.bench.store) as store:
        assert changed_limits(store, 1) == []
        (said,) = changed_limits(store, 2)
        assert "limit of T1 at 20° is 50 GU here and was 1 GU at check 1" in said.replace(
            "1.0", "1"
        )
        assert said.endswith("its policy was loosened in between")
        passed, lines = verdict(store, 2, yard.clock.now().utc_ns)
        assert passed
        assert any(line.startswith("LIMIT CHANGED: the limit of T1") for line in lines)
        assert changed_limits(store, 3) == [], "told once"
    check = load_trial(yard.bench.store, "small").check(2)
    assert check is not None
    assert any("loosened" in line for line in check.lines)
    yard.close()


class Bending(Loosened):
    """After a restart the meter is held to no straight line any more, or to a wider one."""

    line: Decimal | None = None

    def open(self) -> None:
        shore, *rest = self.bench.instruments
        limit = self.line if self.is_loose else Decimal("0.6")
        policy = replace(shore.policy, linearity_limit=limit)
        self.bench = replace(self.bench, instruments=(replace(shore, policy=policy), *rest))
        Yard.open(self)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (None, "the meter is held to no straight line here and was at check 1: its policy was"),
        (Decimal(4), "the limit of the straight line is 4 GU here and was 0.6 GU at check 1: its"),
    ],
)
def test_a_straight_line_that_was_loosened_or_dropped_is_told(
    tmp_path: Path, line: Decimal | None, said: str
) -> None:
    yard = Bending(tmp_path)
    yard.line = line
    yard.plug("shore")
    yard.check("shore")
    yard.is_loose = True
    yard.restart()
    yard.plug("shore")
    yard.check("shore")
    yard.check("shore")
    with StoreReader(yard.bench.store) as store:
        (told,) = changed_limits(store, 2)
        assert told.startswith(said)
        assert changed_limits(store, 3) == [], "told once"
    yard.close()


def test_a_certificate_that_was_entered_after_a_failed_check_is_told_where_the_next_one_passes(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore", tile="95.6")
    later(yard, "95.5", withdrawn=False)
    yard.check("shore", tile="95.6")
    yard.check("shore", tile="95.6")
    said = "T1 at 20° is certified 95.5 GU here and was certified 93.2 GU at check 1"
    with StoreReader(yard.bench.store) as store:
        passed, lines = verdict(store, 2, yard.clock.now().utc_ns)
        assert passed
        assert f"CERTIFICATE CHANGED: {said}" in lines
        assert changed_values(store, 1) == changed_values(store, 3) == [], "told once"
    yard.close()


def test_a_check_without_a_certificate_is_held_to_no_value_that_could_have_changed(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    whole = yard.bench
    tile, *others = whole.pieces
    yard.bench = replace(whole, pieces=(replace(tile, certificates=()), *others))
    yard.restart()
    yard.plug("shore")
    yard.check("shore")
    yard.bench = whole
    yard.restart()
    yard.plug("shore")
    yard.check("shore")
    certified = yard.writer.query("SELECT certified FROM piece_judgement WHERE piece = 'T1'")
    assert [float(row["certified"]) for row in certified] == [93.2, 0.0, 93.2]
    with StoreReader(yard.bench.store) as store:
        assert [changed_values(store, number) for number in (1, 2, 3)] == [[], [], []]
    yard.close()
