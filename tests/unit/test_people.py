"""People by their names, however long and odd these are: in lines, on screens, in commands."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from acquire.cli.rate import left_line
from acquire.control.shapes import row_item
from acquire.live.canvas import FULL
from acquire.live.past import story_of
from acquire.live.rateboard import RateBoard, RateScreen
from acquire.live.ratingqueue import RatingQueue
from acquire.settings import parse_plan
from acquire.store import StoreReader
from acquire.store.work_rows import RatingRow
from acquire.trial.due import due_of
from acquire.trial.people import NAME, shown_name, typed_name
from acquire.trial.ratings import things
from acquire.trial.work import Work
from tests.unit.seen import drawn
from tests.unit.trial.test_due import DAY, coats, taken
from tests.unit.worked_yard import PLAN, WorkedYard

LONG = "Ines the long-named " * 500
TRIAL = parse_plan(PLAN, "trial.toml")
RATING = RatingRow(1, 1, None, TRIAL.id, "applied", "water", "A1", "tern", LONG, 2, 1, "")


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("Ines", "Ines"),
        ("Jürgen-Åsa", "Jürgen-Åsa"),
        ("Ines Tern", '"Ines Tern"'),
        ("O'Hara", '"O\'Hara"'),
        ('Ines "Tern"', NAME),
        ("$(reboot)", NAME),
        ("50%", NAME),
        ("--all", NAME),
        ("a\x1b[2J", NAME),
        (LONG, NAME),
    ],
)
def test_a_name_in_a_command_reaches_it_as_one_word_or_is_left_to_be_said(
    name: str, typed: str
) -> None:
    assert typed_name(name) == typed
    if typed != NAME:
        assert shlex.split(f"coatbench rate t --by {typed}")[-1] == name


def test_a_long_name_is_cut_in_what_is_due_and_after_rating() -> None:
    work = Work(TRIAL, taken("bare", "applied"), [], coats("A1", "A3"), [RATING])
    (due,) = [d for d in due_of(work, DAY) if "rate applied" in d.what]
    assert due.what.endswith("…")
    assert len(due.what) < 100
    assert due.command == f"coatbench rate {TRIAL.id} applied --by {NAME}"
    line = left_line(2, TRIAL.id, "applied", LONG)
    assert line == f"2 ratings left: coatbench rate {TRIAL.id} applied --by {NAME}"


def test_a_long_name_takes_no_more_than_its_place_on_the_screen(tmp_path: Path) -> None:
    yard = WorkedYard(tmp_path)
    rows = yard.call(
        "rate", trial=TRIAL.id, scale="water", stage="applied", zone="A1", treatment="",
        rater=LONG[:199], step=2, reason="",
    )  # fmt: skip
    yard.close()
    with StoreReader(yard.bench.store) as store:
        story = story_of(store)
        queue = RatingQueue(TRIAL, LONG, things(TRIAL, "wash-5"), [])
        lines = drawn(RateScreen(RateBoard(story, queue=queue), FULL), 80, 24)
    assert rows["rater"] == " ".join(LONG[:199].split())  # kept whole
    assert len(lines) <= 24
    assert sum(line.count("Ines") for line in lines) <= 2 * shown_name(LONG).count("Ines")
    happened = story.fold(row_item(RATING))
    assert happened is not None
    assert happened.text == f"quay-1: A1 applied rated on water by {shown_name(LONG)}"
