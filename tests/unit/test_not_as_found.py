"""A meter that is re-adjusted before a check had read it as it was: what stands, what is suspect.

The rule is our own, by ISO/IEC 17025:2017 (7.8.4.1 d: results before and after an adjustment; 7.10:
work that may not conform is held back), from memory: domain section 9 is silent on it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack, closing
from pathlib import Path

import pytest

from acquire.cli.places import readings_rows
from acquire.cli.status import status_lines
from acquire.errors import Refused
from acquire.live.before_check import left_unclosed
from acquire.live.past import recall
from acquire.live.verdict import verdict
from acquire.model import NoticeKind
from acquire.report.answers.coverage import coverage
from acquire.report.answers.recomputed import recomputed_lines
from acquire.report.record.loading import load_trial
from acquire.report.sections.brackets import bracket_of_reading
from acquire.report.sections.events import events
from acquire.report.sections.leftouts import left_outs
from acquire.report.sections.runs import run_blocks
from acquire.store import StoreReader
from tests.gate.oracle import NEAR, Rules
from tests.gate.walk import Walker
from tests.gate.world import WIDE
from tests.unit.seen import Seen
from tests.yard import Yard

WORDS = (
    "shore was re-adjusted with no check as found before, so that nobody knows how it read until "
    "then: 1 reading of run 1 (gelcoat, bare) is suspect and counts no more; the places are open "
    "again, and results are reckoned without it from now on (coatbench report gelcoat)"
)


@pytest.fixture
def seen(tmp_path: Path) -> Iterator[Seen]:
    """A reading under a check that passed."""
    seen = Seen(tmp_path)
    seen.yard.plug("shore")
    seen.yard.check("shore")
    seen.yard.begin()
    seen.yard.press("shore", "80.1")
    seen.yard.clock.advance(1)
    yield seen
    seen.close()


def adjust(yard: Yard) -> None:
    yard.tell("shore", NoticeKind.ADJUSTED)


def undecided(yard: Yard) -> None:
    """A check whose tile lies so near its limit that nothing is decided; read steadily."""
    yard.check("shore", tile="94.1")
    assert yard.writer.query("SELECT outcome FROM checks")[-1]["outcome"] == "undecided"


def state(yard: Yard) -> tuple[object, ...]:
    (row,) = yard.readings("role = 'run' AND reading_id = 5")
    return row["bracket"], row["counts"], row["closing_check_id"]


def verdict_of(yard: Yard, check_id: int) -> list[str]:
    with StoreReader(yard.bench.store) as store:
        return verdict(store, check_id, yard.clock.now().utc_ns)[1]


# -- the rule --------------------------------------------------------------------------------------


def test_without_a_check_as_found_what_was_read_is_suspect_whatever_comes_after(seen: Seen) -> None:
    assert state(seen.yard) == ("open", 1, None)
    adjust(seen.yard)
    assert state(seen.yard) == ("suspect", 0, None)
    seen.yard.check("shore")
    assert state(seen.yard) == ("suspect", 0, None)


def test_after_an_undecided_check_as_found_it_stands_and_is_not_closed(seen: Seen) -> None:
    undecided(seen.yard)
    adjust(seen.yard)
    assert state(seen.yard) == ("not closed", 1, None)
    seen.yard.check("shore")
    assert state(seen.yard) == ("not closed", 1, None)


def test_a_check_that_was_undecided_after_the_re_adjustment_is_none_as_found(seen: Seen) -> None:
    adjust(seen.yard)
    undecided(seen.yard)
    assert state(seen.yard) == ("suspect", 0, None)


@pytest.mark.parametrize("values", [("93.2",), ("93.2", "93.2"), ("93.2", "93.2", "0.0")])
def test_a_check_as_found_that_did_not_read_every_piece_says_nothing(
    seen: Seen, values: tuple[str, ...]
) -> None:
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    for value in values:
        seen.yard.clock.advance(1)
        seen.yard.press("shore", value)
    adjust(seen.yard)
    assert state(seen.yard) == ("suspect", 0, None)


def test_a_meter_that_rocked_was_not_read_as_it_was_found(seen: Seen) -> None:
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    for value in ("92.6", "94.0", "0.0", "0.0"):
        seen.yard.clock.advance(1)
        seen.yard.press("shore", value)
    adjust(seen.yard)
    assert state(seen.yard) == ("suspect", 0, None)


def test_a_check_of_another_meter_is_no_check_as_found(seen: Seen) -> None:
    seen.yard.plug("deck")
    seen.yard.check("deck", tile="94.1")
    adjust(seen.yard)
    assert state(seen.yard) == ("suspect", 0, None)


@pytest.mark.parametrize(("is_line_held", "expected"), [(True, "suspect"), (False, "not closed")])
def test_a_pass_that_was_held_to_a_line_wants_one_as_found(
    tmp_path: Path, is_line_held: bool, expected: str
) -> None:
    with ExitStack() as stack:
        walker = Walker(tmp_path, Rules(is_line_held=is_line_held))
        stack.callback(walker.close)
        walker.get_going(WIDE, 1)
        # The policy asks for no line any more when the meter is read as it is found.
        walker.yard.rules = Rules()
        walker.yard.desk.run = None
        walker.yard.restart()
        walker.yard.plug("shore")
        walker.yard.act(lambda at: walker.yard.acts.checks.begin("shore", at))
        for value in ("94.1", "94.1", "48.7", "48.7", "0.0", "0.0"):
            walker.yard.clock.advance(1)
            walker.yard.press("shore", value)
        adjust(walker.yard)
        (row,) = walker.yard.readings("role = 'run'")
        assert row["bracket"] == expected


def test_a_check_as_found_before_closes_and_the_re_adjustment_takes_nothing(seen: Seen) -> None:
    seen.yard.check("shore")
    adjust(seen.yard)
    assert state(seen.yard) == ("bracketed", 1, 2)


# -- what the bench does ---------------------------------------------------------------------------


def test_the_places_are_open_again_at_once_and_after_a_crash(seen: Seen) -> None:
    run = seen.yard.desk.run
    assert run is not None
    left = run.course.slots_left
    adjust(seen.yard)
    assert run.course.slots_left == left + 1
    assert str(run.course.next) == "zone A1, bare, replicate 1"
    seen.yard.restart()
    seen.yard.plug("shore")
    seen.yard.check("shore")
    seen.yard.act(seen.yard.acts.runs.resume)
    seen.yard.press("shore", "80.3")
    assert [r["counts"] for r in seen.yard.readings("role = 'run' AND zone = 'A1'")] == [0, 1]


def test_where_the_daemon_died_before_it_could_open_them_they_are_open_after_it(
    seen: Seen,
) -> None:
    seen.yard.desk.settle = lambda _: []  # type: ignore[method-assign,assignment]
    adjust(seen.yard)
    seen.yard.restart()
    seen.yard.plug("shore")
    seen.yard.check("shore")
    seen.yard.act(seen.yard.acts.runs.resume)
    assert seen.yard.desk.run is not None
    assert str(seen.yard.desk.run.course.next) == "zone A1, bare, replicate 1"


def test_no_loose_reading_is_given_a_place_under_it(seen: Seen) -> None:
    seen.yard.act(lambda at: seen.yard.acts.runs.finish("", at))
    seen.yard.press("shore", "80.4")
    seen.yard.clock.advance(1)
    adjust(seen.yard)
    with pytest.raises(Refused, match="may not count") as refused:
        seen.yard.act(
            lambda at: seen.yard.acts.readings.assign(
                6, "gelcoat", None, "A2", "bare", 1, "forgotten", at
            )
        )
    assert "shore was re-adjusted after it with no check as found" in refused.value.got


# -- what is said ----------------------------------------------------------------------------------


def test_it_is_said_before_a_person_keeps_it_as_re_adjusted(seen: Seen) -> None:
    with StoreReader(seen.yard.bench.store) as store:
        assert left_unclosed(store, seen.status(), "shore") == (
            "1 reading taken since check 1 becomes suspect by this and is left out of results: "
            "nobody will know how shore read then. Where it was not re-adjusted yet, coatbench "
            "check shore comes first (as found)"
        )
    undecided(seen.yard)
    with StoreReader(seen.yard.bench.store) as store:
        assert left_unclosed(store, seen.status(), "shore") == (
            "1 reading taken since check 1 gets no closing check by this: it stands as not closed, "
            "since shore was read as it was found and that check was undecided; results and report "
            "say so"
        )


def test_the_story_the_status_and_the_verdict_of_the_next_check_say_it(seen: Seen) -> None:
    board = seen.run_board()
    seen.hear(seen.yard.tell("shore", NoticeKind.ADJUSTED))
    assert [h.text for h in board.story.happenings if "suspect" in h.text] == [WORDS]
    assert f"SUSPECT: {WORDS}" in status_lines(seen.status())
    late = seen.watch_board()
    with StoreReader(seen.yard.bench.store) as store:
        recall(late, store, seen.yard.clock.now().utc_ns)
    assert [h.text for h in late.story.happenings if "suspect" in h.text] == [WORDS]
    seen.yard.check("shore")
    lines = verdict_of(seen.yard, 2)
    assert WORDS in lines
    assert (
        "not checked as found; before: T1 at 20° 0.00 GU, Z0 at 20° 0.00 GU (check 1, and "
        "readings after it)" in lines
    )
    # It is said once: the check after that has nothing to do with it.
    seen.yard.check("shore")
    assert WORDS not in verdict_of(seen.yard, 3)
    assert not [line for line in status_lines(seen.status()) if "SUSPECT" in line]


def test_a_restart_does_not_forget_to_say_it(seen: Seen) -> None:
    adjust(seen.yard)
    seen.yard.restart()
    assert f"SUSPECT: {WORDS}" in status_lines(seen.status())


def test_the_list_of_readings_says_why(seen: Seen) -> None:
    adjust(seen.yard)
    with StoreReader(seen.yard.bench.store) as store:
        told = readings_rows(store)[-1]
    assert told[-2:] == ("suspect", "it was re-adjusted after it, with no check as found before")


def test_results_are_told_as_they_were_and_are(seen: Seen) -> None:
    adjust(seen.yard)
    seen.yard.check("shore")
    assert recomputed_lines(seen.yard.bench.store, 2)[0].endswith(
        "bare: the mean of zone A1 (untreated) was 80.10 GU of 1; without them no reading counts"
    )
    seen.yard.check("shore")
    assert recomputed_lines(seen.yard.bench.store, 3) == []


def test_the_report_says_it_where_the_reader_looks(seen: Seen) -> None:
    adjust(seen.yard)
    record = load_trial(seen.yard.bench.store, "gelcoat")
    (reading,) = record.readings
    assert bracket_of_reading(record, reading).endswith(
        "; suspect, because the meter was re-adjusted with no check as found before"
    )
    assert (
        "1 suspect reading is left out of the results: the meter was re-adjusted after it, and no "
        "check before that had read it as it was found." in coverage(record)
    )
    (left,) = left_outs(record, ()).suspects
    assert left.reason == "the meter was re-adjusted after it, with no check as found before"
    (run,) = run_blocks(record)
    assert run.states[0].startswith(
        "Suspect: 1 reading (number 5) taken after check 1 passed; then "
    )
    (event,) = events(record)
    assert event.title == "shore was re-adjusted, and 1 earlier reading became suspect"
    assert event.done.startswith("shore has not been checked in full since.")
    seen.yard.check("shore")
    seen.yard.press("shore", "80.3")
    (event,) = events(load_trial(seen.yard.bench.store, "gelcoat"))
    assert event.title == (
        "shore was re-adjusted, and check 2 passed; 1 earlier reading became suspect"
    )
    assert (
        "Nobody read it as it was found; deviations at check 1, before readings" in event.happened
    )
    assert event.means.startswith("No check had read the meter as it was found")
    assert event.done.endswith(
        "Then all of their places were read again in run 1, and the results rest on those readings."
    )


def test_the_report_says_of_what_stands_that_it_is_not_closed(seen: Seen) -> None:
    undecided(seen.yard)
    adjust(seen.yard)
    seen.yard.check("shore")
    record = load_trial(seen.yard.bench.store, "gelcoat")
    (reading,) = record.readings
    told = bracket_of_reading(record, reading)
    assert "; not closed: re-adjusted before a check decided; between: check 2, undecided" in told
    assert (
        "1 lies under a passed check that was not closed: the meter was re-adjusted afterwards, "
        "and the check before that, as found, was undecided." in coverage(record)
    )
    (run,) = run_blocks(record)
    assert run.states[0].startswith("Not closed: 1 reading (number 5)")


# -- what each line of the rule is there for -------------------------------------------------------


def test_a_piece_without_figures_was_not_read_as_found(seen: Seen) -> None:
    undecided(seen.yard)
    adjust(seen.yard)
    with closing(sqlite3.connect(seen.yard.bench.store)) as conn:
        conn.execute("DROP TRIGGER piece_judgement_no_update")
        conn.execute(
            "UPDATE piece_judgement SET expanded_uncertainty = '0' "
            "WHERE check_id = 2 AND piece = 'Z0'"
        )
        conn.commit()
    assert state(seen.yard) == ("suspect", 0, None)


def test_a_meter_that_tells_its_name_is_not_re_adjusted(seen: Seen) -> None:
    seen.yard.tell("shore", NoticeKind.IDENTITY, "SH-0417")
    assert state(seen.yard) == ("open", 1, None)


def test_a_check_before_the_re_adjustment_does_not_tell_of_it_later(seen: Seen) -> None:
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    seen.yard.press("shore", "93.2")
    seen.yard.act(lambda at: seen.yard.acts.checks.abandon("shore", at))
    adjust(seen.yard)
    seen.yard.check("shore")
    assert WORDS not in verdict_of(seen.yard, 2)
    assert WORDS in verdict_of(seen.yard, 3)


def resumed(seen: Seen) -> str:
    seen.yard.restart()
    seen.yard.plug("shore")
    seen.yard.check("shore")
    seen.yard.act(seen.yard.acts.runs.resume)
    assert seen.yard.desk.run is not None
    return str(seen.yard.desk.run.course.next)


def test_after_a_crash_the_place_comes_before_where_a_hand_had_moved_to(seen: Seen) -> None:
    seen.yard.act(seen.yard.acts.runs.skip)
    seen.yard.clock.advance(1)
    seen.yard.desk.settle = lambda _: []  # type: ignore[method-assign,assignment]
    adjust(seen.yard)
    assert resumed(seen) == "zone A1, bare, replicate 1"


def test_a_hand_that_moved_on_since_is_not_taken_back_by_a_restart(seen: Seen) -> None:
    adjust(seen.yard)
    seen.yard.clock.advance(1)
    seen.yard.act(seen.yard.acts.runs.skip)
    assert seen.yard.desk.run is not None
    stood = str(seen.yard.desk.run.course.next)
    assert stood != "zone A1, bare, replicate 1"
    assert resumed(seen) == stood


def test_of_two_re_adjustments_each_tells_its_own(seen: Seen) -> None:
    adjust(seen.yard)
    seen.yard.check("shore")
    seen.yard.press("shore", "80.3")
    seen.yard.clock.advance(1)
    adjust(seen.yard)
    seen.yard.check("shore")
    told = events(load_trial(seen.yard.bench.store, "gelcoat"))
    assert [event.title for event in told] == [
        f"shore was re-adjusted, and check {n} passed; 1 earlier reading became suspect"
        for n in (2, 3)
    ]
    assert "(number 5)" in told[0].means
    assert "(number 5)" not in told[1].means


@pytest.mark.parametrize(("near", "expected"), [(True, "not closed"), (False, "suspect")])
def test_the_oracle_and_the_audit_are_of_one_mind_with_the_store(
    tmp_path: Path, near: bool, expected: str
) -> None:
    with ExitStack() as stack:
        walker = Walker(tmp_path, Rules())
        stack.callback(walker.close)
        walker.get_going(WIDE, 1)
        if near:
            walker.whole_check("shore", (("T1", 0, NEAR), ("T1", 1, NEAR)))
        walker.adjust("shore", by_person=False)
        walker.whole_check("shore")
        (row,) = walker.yard.readings("role = 'run'")
        assert row["bracket"] == expected
        walker.hold_all()
