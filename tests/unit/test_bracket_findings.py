"""A closing check that failed makes readings suspect, by whatever it failed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import pytest

from tests.gate.oracle import Rules
from tests.gate.walk import Walker
from tests.gate.world import WIDE

Make = Callable[[Rules], Walker]
BENT = (("T2", 0, "49.4"), ("T2", 1, "49.4"))


@pytest.fixture
def make(tmp_path: Path) -> Iterator[Make]:
    with ExitStack() as stack:

        def made(rules: Rules) -> Walker:
            """A bench with a reading under a check that passed."""
            walker = Walker(tmp_path, rules)
            stack.callback(walker.close)
            walker.get_going(WIDE, 1)
            return walker

        yield made


def found(walker: Walker) -> tuple[object, object, object]:
    (row,) = walker.yard.readings("role = 'run'")
    return row["bracket"], row["counts"], row["closing_check_id"]


def test_a_check_that_failed_by_its_line_alone_makes_what_lies_before_it_suspect(
    make: Make,
) -> None:
    walker = make(Rules(is_line_held=True))
    walker.whole_check("shore", BENT)
    (lines,) = walker.yard.writer.query(
        "SELECT count(*) AS bad FROM linearity_judgement WHERE outcome = 'fail' AND check_id = 2"
    )
    (judged,) = walker.yard.writer.query(
        "SELECT count(*) AS bad FROM piece_judgement WHERE outcome = 'fail'"
    )
    assert (lines["bad"], judged["bad"]) == (1, 0)
    assert found(walker) == ("suspect", 0, 2)
    # A good check after it says nothing of what it found.
    walker.whole_check("shore")
    assert found(walker) == ("suspect", 0, 2)
    walker.hold_all()


def test_a_check_that_failed_by_readings_which_a_person_had_voided_makes_it_suspect_too(
    make: Make,
) -> None:
    walker = make(Rules())
    walker.begin_check("shore")
    for value in ("93.2", "93.2", "51.0"):
        walker.press("shore", value)
    walker.void_last(0)
    walker.press("shore", "51.0")
    walker.abandon("shore")
    assert found(walker) == ("suspect", 0, 2)
    walker.whole_check("shore")
    walker.hold_all()


@pytest.mark.parametrize(("bad", "state"), [(BENT, ("open", 1, None)), ((), ("open", 1, None))])
def test_a_policy_that_asks_for_no_line_any_more_closes_no_pass_that_was_held_to_one(
    make: Make, bad: tuple[tuple[str, int, str], ...], state: tuple[object, ...]
) -> None:
    walker = make(Rules(is_line_held=True))
    walker.yard.rules = walker.oracle.rules = replace(walker.oracle.rules, is_line_held=False)
    walker.crash()
    walker.plug("shore")
    walker.whole_check("shore", bad)
    assert walker.oracle.told[-1][1] == "pass"
    assert found(walker) == state


def test_a_line_is_held_to_the_limit_that_the_pass_had(make: Make) -> None:
    walker = make(Rules(is_line_held=True))
    walker.yard.line_limit = "2"
    walker.crash()
    walker.plug("shore")
    walker.oracle.rules = replace(walker.oracle.rules, is_line_held=False)
    walker.whole_check("shore", BENT)
    assert walker.oracle.told[-1][1] == "pass"
    assert found(walker) == ("suspect", 0, 2)
