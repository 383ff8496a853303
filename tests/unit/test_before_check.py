"""What is said before a check is begun, or a re-adjustment told, while work is at hand."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.live.before_check import abandoning, at_stake, left_unclosed, run_waits
from acquire.store import StoreReader
from tests.unit.seen import Seen


@pytest.fixture
def seen(tmp_path: Path) -> Iterator[Seen]:
    seen = Seen(tmp_path)
    seen.yard.plug("shore")
    seen.yard.plug("deck")
    seen.yard.check("shore")
    yield seen
    seen.close()


def unclosed(seen: Seen, instrument: str = "shore") -> str:
    with StoreReader(seen.yard.bench.store) as store:
        return left_unclosed(store, seen.status(), instrument)


def press(seen: Seen, *values: str) -> None:
    for value in values:
        seen.yard.clock.advance(2)
        seen.yard.press("shore", value)


def test_an_open_run_is_told_with_its_places_and_how_to_leave(seen: Seen) -> None:
    assert run_waits(seen.status(), "shore") == ""
    seen.yard.begin()
    press(seen, "80.1")
    assert run_waits(seen.status(), "shore") == (
        "run 1 (gelcoat, bare) waits with 3 of 4 places open while shore is checked, and goes on "
        "after a pass (coatbench run --resume); coatbench check shore --abandon leaves the check, "
        "and with readings in it ends the pass before it, too"
    )
    # A run of another meter is none of its business.
    assert run_waits(seen.status(), "deck") == ""


def test_what_was_said_of_the_run_is_what_comes(seen: Seen) -> None:
    seen.yard.begin()
    press(seen, "80.1")
    seen.yard.check("shore")
    assert seen.status()["run"]["slots_left"] == 3
    press(seen, "80.2")
    assert seen.status()["run"]["slots_left"] == 2


def test_an_interrupted_run_is_told_too(seen: Seen) -> None:
    seen.yard.begin()
    press(seen, "80.1")
    seen.yard.restart()
    told = run_waits(seen.status(), "shore")
    assert told.startswith("run 1 (gelcoat, bare), which is interrupted, waits while shore is")


def test_a_re_adjustment_is_told_of_the_readings_that_it_cuts_off(seen: Seen) -> None:
    assert unclosed(seen) == ""
    seen.yard.begin()
    assert unclosed(seen) == ""
    press(seen, "80.1", "80.2", "80.3")
    seen.yard.act(lambda at: seen.yard.acts.readings.void(last(seen), "slipped", at))
    assert unclosed(seen) == (
        "2 readings taken since check 1 become suspect by this and are left out of results: nobody "
        "will know how shore read then. Where it was not re-adjusted yet, coatbench check shore "
        "comes first (as found)"
    )
    assert unclosed(seen, "deck") == ""
    assert unclosed(seen, "nobody") == ""


@pytest.mark.parametrize("tile", ["93.2", "99.9"])
def test_after_a_check_as_found_nothing_is_cut_off(seen: Seen, tile: str) -> None:
    seen.yard.begin()
    press(seen, "80.1")
    seen.yard.check("shore", tile=tile)
    assert unclosed(seen) == ""


def test_what_is_cut_off_already_is_not_told_again(seen: Seen) -> None:
    seen.yard.begin()
    press(seen, "80.1")
    seen.yard.act(lambda at: seen.yard.acts.checks.readjusted("shore", at))
    assert unclosed(seen) == ""


def last(seen: Seen) -> int:
    return int(seen.status()["run"]["last_taken"]["reading_id"])


def test_breaking_a_check_off_tells_the_readings_that_become_suspect(seen: Seen) -> None:
    seen.yard.begin()
    press(seen, "80.1", "80.2")
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    assert broken_off(seen) == ""
    press(seen, "61.0")
    told = broken_off(seen)
    assert "judged by what was read: T1 at 20° read 61.00 GU at its one press" in told
    assert "2 readings taken since check 1 become suspect and leave the results for good" in told
    assert "coatbench void --last" in told
    seen.yard.act(lambda at: seen.yard.acts.checks.abandon("shore", at))
    assert len(seen.yard.readings("bracket = 'suspect'")) == 2


def test_breaking_a_check_off_after_good_presses_ends_the_pass_alone(seen: Seen) -> None:
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    press(seen, "93.2")
    assert broken_off(seen).startswith("it ends the pass that it was to renew")


def test_breaking_a_check_off_ends_no_pass_where_none_holds_any_more(seen: Seen) -> None:
    seen.yard.clock.advance(3601)
    seen.yard.tick()
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    press(seen, "93.2")
    assert broken_off(seen) == ""


def broken_off(seen: Seen) -> str:
    status = seen.status()
    own = next(i for i in status["instruments"] if i["id"] == "shore")
    with StoreReader(seen.yard.bench.store) as store:
        return abandoning(own, at_stake(store, status, "shore"))
