"""Limits that are so wide that they hold nothing: told where a check is told, and no more."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.calibration.width import wide_limits
from acquire.cli.status import status_lines
from acquire.live.canvas import FULL
from acquire.live.checkscreen import CheckScreen
from acquire.live.verdict import verdict
from acquire.model import Bench, CheckPolicy, PieceRule
from acquire.pipeline.register import register_lines
from acquire.settings import load_bench
from acquire.store import StoreReader
from tests.unit.seen import Seen, drawn
from tests.yard import bench, pieces, policy

CONFIG = Path(__file__).parents[2] / "config"

WIDE = (
    "policy gloss-20: the limit of T1, 50 GU, is more than a tenth of 93.2 GU, its highest "
    "certified value at 20°, so that hardly anything fails it. Next: set it by the data sheet of "
    "the meter"
)


def with_rule(limit: str, spread: str = "0.4", line: str | None = None) -> CheckPolicy:
    """The policy of the yard with another first rule."""
    own = policy()
    first = PieceRule("T1", 2, Decimal(limit), Decimal(spread))
    return replace(
        own,
        rules=(first, *own.rules[1:]),
        linearity_limit=None if line is None else Decimal(line),
    )


def wide_bench(store: Path, own: CheckPolicy) -> Bench:
    found = bench(store)
    return replace(
        found, instruments=tuple(replace(spec, policy=own) for spec in found.instruments)
    )


def test_what_is_shipped_is_told_of_nothing() -> None:
    for name in ("boatyard", "demo"):
        found = load_bench(CONFIG / name / "bench.toml")
        assert [wide_limits(spec.policy, found.pieces) for spec in found.instruments] == [
            [] for _ in found.instruments
        ]


@pytest.mark.parametrize(("limit", "told"), [("9.32", 0), ("9.33", 1), ("50", 1)])
def test_more_than_a_tenth_of_the_highest_piece_is_wide(limit: str, told: int) -> None:
    assert len(wide_limits(with_rule(limit), pieces())) == told


def test_the_sentence_has_figures_and_the_next_step() -> None:
    assert wide_limits(with_rule("50"), pieces()) == [WIDE]
    (told,) = wide_limits(with_rule("1", line="20"), pieces())
    assert told.startswith("policy gloss-20: the linearity limit, 20 GU, is more than a tenth of")
    (told,) = wide_limits(with_rule("95"), pieces())
    assert "wider than its certified 93.2 GU, so that a meter that shows 0 passes it" in told


def test_a_spread_limit_beyond_the_limit_finds_no_rocking_meter() -> None:
    assert wide_limits(with_rule("1.0", "1.0"), pieces()) == []
    (told,) = wide_limits(with_rule("1.0", "1.1"), pieces())
    assert told.startswith(
        "policy gloss-20: the spread limit of T1, 1.1 GU, is wider than its limit, 1 GU"
    )


def test_a_zero_has_no_tenth_and_an_unknown_piece_is_not_judged() -> None:
    _, trap = pieces()
    only = replace(policy(), rules=policy().rules[1:])
    assert wide_limits(only, [trap]) == []
    assert wide_limits(with_rule("50"), []) == []


def test_it_is_told_at_the_start_once_for_all_instruments(tmp_path: Path) -> None:
    found = wide_bench(tmp_path / "b.sqlite", with_rule("50"))
    assert register_lines(found, date(2026, 5, 4)) == [f"too wide: {WIDE}"]


def test_status_check_and_verdict_tell_it(tmp_path: Path) -> None:
    seen = Seen(tmp_path)
    try:
        seen.yard.bench = wide_bench(seen.yard.bench.store, with_rule("50"))
        seen.yard.restart()
        seen.yard.plug("shore")
        seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
        lines = status_lines(seen.status())
        place = lines.index(f"  limit  {WIDE}")
        assert lines[place - 1].startswith("  check  ")
        board = seen.check_board()
        assert any(
            "policy gloss-20: the limit of T1, 50 GU" in x for x in drawn(CheckScreen(board, FULL))
        )
        assert [x for x in board.news() if WIDE in x]
        for value in ("80.0", "80.0", "0.0", "0.0"):
            seen.yard.clock.advance(1)
            seen.hear(seen.yard.press("shore", value))
        with StoreReader(seen.yard.bench.store) as store:
            passed, told = verdict(store, 1, seen.yard.clock.now().utc_ns, UTC)
        # A meter that reads 13 GU too low passes, as the person's own file has it, and is told.
        assert passed
        assert f"TOO WIDE: {WIDE}" in told
    finally:
        seen.close()
