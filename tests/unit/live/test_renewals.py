"""Certificates that are due soon stand on the screen of a check, from its start to its verdict."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date
from pathlib import Path

import pytest

from acquire.cli.status import status_lines
from acquire.live.canvas import FULL
from acquire.live.checkscreen import CheckScreen
from acquire.live.verdict import verdict
from acquire.live.words import renewal_words
from acquire.store import StoreReader
from tests.unit.seen import Seen, drawn

SOON = "certificate of T1 at 20° due soon: 16 days left, 2026-05-20"


@pytest.fixture
def seen(tmp_path: Path) -> Iterator[Seen]:
    seen = Seen(tmp_path, due=date(2026, 5, 20))
    seen.yard.plug("shore")
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    yield seen
    seen.close()


def test_the_screen_of_a_check_says_what_is_due_before_the_first_press(seen: Seen) -> None:
    screen = CheckScreen(seen.check_board(), FULL)
    shown = drawn(screen)
    assert [line.strip() for line in shown if "due soon" in line] == [
        SOON,
        SOON.replace("T1", "Z0"),
    ]
    for width, height in ((80, 24), (40, 10), (20, 5)):
        assert len(drawn(screen, width, height)) == height


def test_plain_lines_say_it_once_and_not_at_every_reading(seen: Seen) -> None:
    board = seen.check_board()
    assert [line for line in board.news() if "due soon" in line] == [
        f"{SOON}; {SOON.replace('T1', 'Z0')}"
    ]
    for value in ("93.2", "93.2"):
        seen.yard.clock.advance(1)
        seen.hear(seen.yard.press("shore", value))
    assert not [line for line in board.news() if "due soon" in line]


def test_the_status_says_it_below_the_check_of_the_instrument(seen: Seen) -> None:
    lines = status_lines(seen.status())
    place = lines.index(f"  due    {SOON}")
    assert lines[place - 1].startswith("  check  ")


def test_the_verdict_ends_with_it_before_the_next_step(seen: Seen) -> None:
    for value in ("93.2", "93.2", "0.0", "0.0"):
        seen.yard.clock.advance(1)
        seen.hear(seen.yard.press("shore", value))
    own = seen.status()["instruments"][0]
    with StoreReader(seen.yard.bench.store) as store:
        passed, lines = verdict(
            store, 1, seen.yard.clock.now().utc_ns, UTC, renewals=renewal_words(own)
        )
    assert passed
    assert lines[-3:-1] == [SOON, SOON.replace("T1", "Z0")]
    assert lines[-1].startswith("next: ")


def test_on_the_day_after_the_certificate_is_overdue(seen: Seen) -> None:
    seen.yard.clock.advance(17 * 86400)
    assert renewal_words(seen.status()["instruments"][0])[0] == (
        "certificate of T1 at 20° OVERDUE since 2026-05-20"
    )
