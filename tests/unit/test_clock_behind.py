"""A computer's clock that stands before the store's last entry is told wherever somebody looks."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from acquire.cli.status import status_lines
from acquire.drift.reading import histories
from acquire.errors import Refused
from acquire.live.bulletin import Bulletin
from acquire.pipeline.status import status
from acquire.report.answers.coverage import coverage
from acquire.report.proof.rejudge import rejudge
from acquire.report.record.loading import load_trial
from acquire.store import StoreReader
from tests.unit.reported import SMALL, SMALL_VALUES, read_stage
from tests.yard import Yard

TEN_DAYS_S = 10 * 86_400


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    """A daemon that is started again with its clock ten days back."""
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore", tile="93.2")
    read_stage(yard, "bare", SMALL, [SMALL_VALUES[z, "bare"] for z in ("A1", "A2")])
    yard.check("shore", tile="93.3")
    yard.clock.jump(-TEN_DAYS_S)
    yard.restart()
    yield yard
    yard.close()


def test_status_and_daemon_say_so_until_the_clock_is_right(yard: Yard) -> None:
    found = status(yard.desk, yard.clock.now())
    assert "9 days, 23:59:59" in str(found["clock"])
    assert "before the last entry of the store" in str(found["clock"])
    assert any(line.startswith("CLOCK") for line in status_lines(found))
    bulletin = Bulletin()
    assert any("clock: the computer's clock says" in line for line in bulletin.stand(found))
    assert not any("clock:" in line for line in bulletin.stand(found)), "once is enough"
    yard.clock.jump(TEN_DAYS_S)
    assert status(yard.desk, yard.clock.now())["clock"] == ""


def test_it_is_kept_among_the_troubles(yard: Yard) -> None:
    (row,) = yard.writer.query("SELECT * FROM incident WHERE kind = 'clock jumped'")
    assert "Next: set the clock right" in row["message"]


def test_the_report_says_where_the_clock_went_back_and_drift_goes_by_what_happened(
    yard: Yard,
) -> None:
    yard.plug("shore")
    yard.trust_clock()
    yard.check("shore", tile="93.4")
    read_stage(yard, "cured", SMALL, [SMALL_VALUES[z, "cured"] for z in ("A1", "A2")])
    said = " ".join(coverage(load_trial(yard.bench.store, "small")))
    assert "The computer's clock was set back before check 3" in said
    with StoreReader(yard.bench.store) as reader:
        (tile,) = [h for h in histories(reader, "shore") if h.key.piece == "T1"]
    assert tile.series.checks == (1, 2, 3)
    assert list(tile.series.at_ns) == sorted(tile.series.at_ns)


def test_a_clock_that_is_right_is_not_told(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.clock.advance(60)
    yard.restart()
    assert status(yard.desk, yard.clock.now())["clock"] == ""
    yard.close()


def test_no_check_begins_until_the_clock_is_right(yard: Yard) -> None:
    yard.plug("shore")
    with pytest.raises(Refused) as refused:
        yard.act(lambda at: yard.acts.checks.begin("shore", at))
    told = refused.value
    assert (told.what, told.reason) == ("shore cannot be checked", "clock behind")
    assert "9 days, 23:59:5" in told.got
    assert "before the last entry of the store" in told.got
    assert told.next_step.startswith("set the computer's clock right, then coatbench check shore")
    assert "look at another clock and say what it shows, such as coatbench clock" in told.next_step
    assert not yard.writer.query("SELECT 1 FROM check_begin WHERE id > 2")
    yard.clock.jump(TEN_DAYS_S)
    yard.check("shore")
    assert yard.writer.query("SELECT outcome FROM checks")[-1]["outcome"] == "pass"


@pytest.mark.parametrize("starts", [1, 2, 3])
def test_a_daemon_that_is_started_again_and_again_forgets_no_later_time(
    tmp_path: Path, starts: int
) -> None:
    yard = Yard(tmp_path, due=date(2026, 5, 20))
    yard.clock.advance(30 * 86_400)
    yard.plug("shore")
    yard.press("shore", "80.1")
    yard.clock.jump(-30 * 86_400)
    for _ in range(starts):
        yard.restart()
        yard.plug("shore")
        yard.press("shore", "80.1")
        yard.unplug("shore")
    yard.plug("shore")
    with pytest.raises(Refused, match="before the last entry of the store"):
        yard.check("shore")
    yard.desk.keeper.clock_jump_ns = 2**62
    with pytest.raises(Refused, match="past its due date"):
        yard.check("shore")
    yard.close()


def test_what_is_recorded_while_no_instrument_is_there_tells_the_time_as_well(
    tmp_path: Path,
) -> None:
    """Who knows a certificate to have run out cannot wash first and set the clock back then."""
    yard = Yard(tmp_path, due=date(2026, 5, 20))
    yard.plug("shore")
    yard.unplug("shore")
    yard.clock.advance(30 * 86_400)
    yard.restart()
    yard.act(lambda at: yard.acts.note("washed by hand", "", "", at))
    yard.clock.jump(-30 * 86_400)
    yard.restart()
    yard.plug("shore")
    with pytest.raises(Refused, match="before the last entry of the store"):
        yard.check("shore")
    yard.close()


def test_a_step_back_under_the_daemon_is_not_forgotten_with_its_end(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.clock.advance(5000)
    yard.tick()
    yard.clock.jump(-4000)
    yard.tick()
    yard.press("shore", "80.1")
    yard.restart()
    yard.plug("shore")
    with pytest.raises(Refused, match=r"1:06:40 .* before the last entry"):
        yard.check("shore")
    yard.close()


def test_time_that_went_by_unwatched_before_a_step_back_was_told_all_the_same(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.tick()
    yard.clock.advance(3600)
    yard.clock.jump(-1800)
    with pytest.raises(Refused, match=r"0:30:00 .* before the last entry"):
        yard.check("shore")
    yard.close()


def test_a_clock_that_creeps_back_makes_no_overdue_certificate_valid_again(tmp_path: Path) -> None:
    yard = Yard(tmp_path, due=date(2026, 5, 11))
    yard.plug("shore")
    end = datetime(2026, 5, 12, tzinfo=UTC).timestamp()
    yard.clock.advance(end + 1 - yard.clock.now().utc_ns / 1e9)
    yard.tick()
    # In steps too small to be noticed, as far as no check is held off by the clock itself.
    yard.clock.jump(-1.9)
    yard.tick()
    with pytest.raises(Refused, match="past its due date"):
        yard.check("shore")
    yard.close()


def test_a_clock_that_creeps_back_from_press_to_press_holds_a_check_off_as_well(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    for _ in range(2):
        yard.press("shore", "80.1")
        yard.clock.jump(-1.9)
    with pytest.raises(Refused, match=r"0:00:04 .* before the last entry"):
        yard.check("shore")
    yard.close()


def trust(yard: Yard, seconds_off: float = 0, reason: str = "radio clock") -> dict[str, object]:
    return yard.act(
        lambda at: yard.acts.clock.trust(at.utc_ns + round(seconds_off * 1e9), reason, at)
    )


def test_a_person_who_has_looked_at_another_clock_lets_checks_begin_again(yard: Yard) -> None:
    yard.plug("shore")
    trust(yard, 200)
    (row,) = yard.writer.query("SELECT * FROM incident WHERE kind = 'clock said to be right'")
    assert row["message"].startswith("what the store has up to 2026-")
    assert "as a person says (radio clock): checks begin again" in row["message"]
    yard.check("shore")
    assert yard.writer.query("SELECT outcome FROM checks")[-1]["outcome"] == "pass"
    assert "until then certificates go by that date" in str(
        status(yard.desk, yard.clock.now())["clock"]
    )
    for _ in range(2):
        yard.restart()
        yard.plug("shore")
        yard.check("shore")
    yard.clock.jump(TEN_DAYS_S + 60)
    yard.tick()
    assert status(yard.desk, yard.clock.now())["clock"] == ""


def test_such_a_word_makes_no_certificate_valid_and_covers_no_later_clock(tmp_path: Path) -> None:
    yard = Yard(tmp_path, due=date(2026, 5, 20))
    yard.clock.advance(30 * 86_400)
    yard.plug("shore")
    yard.tick()
    yard.clock.jump(-30 * 86_400)
    yard.tick()
    trust(yard)
    for _ in range(2):
        with pytest.raises(Refused, match="past its due date"):
            yard.check("shore")
        yard.restart()
        yard.plug("shore")
    # A clock that runs ahead of that, too, and is set back holds checks off anew.
    yard.clock.jump(40 * 86_400)
    yard.tick()
    yard.clock.jump(-40 * 86_400)
    yard.tick()
    with pytest.raises(Refused, match="before the last entry of the store"):
        yard.check("shore")
    yard.close()


def test_a_later_clock_that_ran_ahead_of_that_is_not_forgotten_with_its_daemon(yard: Yard) -> None:
    yard.plug("shore")
    trust(yard)
    yard.unplug("shore")
    for step_s in (2 * TEN_DAYS_S, -2 * TEN_DAYS_S):
        yard.clock.jump(step_s)
        yard.restart()
        yard.plug("shore")
    with pytest.raises(Refused, match="before the last entry of the store"):
        yard.check("shore")


def test_a_word_covers_all_that_was_told_to_the_last_part_of_a_second(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.clock.advance(0.0004567)
    yard.plug("shore")
    yard.clock.jump(-TEN_DAYS_S)
    yard.restart()
    trust(yard)
    yard.restart()
    yard.plug("shore")
    yard.check("shore")
    told = "SELECT kind FROM incident ORDER BY id"
    assert [row["kind"] for row in yard.writer.query(told)] == [
        "clock jumped", "clock said to be right",
    ], "a start after the word has nothing to tell"  # fmt: skip
    yard.close()


def test_a_pass_under_such_a_word_ends_with_the_certificate_by_the_later_time(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path, due=date(2026, 5, 20), valid_for_s=30 * 86_400)
    noon = datetime(2026, 5, 20, 12, tzinfo=UTC).timestamp()
    yard.clock.advance(noon - yard.clock.now().utc_ns / 1e9)
    yard.plug("shore")
    yard.tick()
    yard.clock.jump(-3 * 86_400)
    trust(yard)
    yard.check("shore")
    (row,) = yard.writer.query("SELECT at_utc_ns, expires_utc_ns FROM check_judgement")
    assert row["expires_utc_ns"] - row["at_utc_ns"] == 12 * 3600 * 10**9
    with StoreReader(yard.bench.store) as reader:
        assert rejudge(reader, 1).holds
    yard.close()


def test_a_clock_set_back_behind_the_word_holds_checks_off(yard: Yard) -> None:
    yard.plug("shore")
    trust(yard)
    yard.clock.jump(-3600)
    yard.tick()
    with pytest.raises(Refused, match="before the last entry of the store"):
        yard.check("shore")
    yard.restart()
    yard.plug("shore")
    with pytest.raises(Refused, match="before the last entry of the store"):
        yard.check("shore")


@pytest.mark.parametrize(
    ("off_s", "reason", "why"),
    [(301, "radio clock", "clocks differ"), (-301, "radio clock", "clocks differ"),
     (0, " \u200b", "no reason")],
)  # fmt: skip
def test_a_word_on_the_clock_wants_a_reason_and_another_clock_that_agrees(
    yard: Yard, off_s: float, reason: str, why: str
) -> None:
    yard.plug("shore")
    with pytest.raises(Refused) as refused:
        trust(yard, off_s, reason)
    assert refused.value.reason == why
    with pytest.raises(Refused, match="shore cannot be checked"):
        yard.check("shore")


def test_nothing_is_said_of_a_clock_that_holds_no_check_off(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    with pytest.raises(Refused, match="nothing is to be said"):
        trust(yard)
    yard.close()


def test_a_clock_that_jumps_ahead_ends_the_pass_at_the_moment_of_before(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.tick()
    yard.clock.advance(10)
    before = yard.clock.now().utc_ns
    yard.clock.jump(3000)
    yard.tick()
    (end,) = yard.writer.query("SELECT * FROM pass_end")
    assert (end["reason"], end["at_utc_ns"]) == ("clock jumped", before)
    yard.close()


def test_a_clock_that_jumps_back_ends_the_pass_at_the_moment_of_after(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.clock.advance(10)
    yard.tick()
    yard.clock.jump(-8)
    yard.tick()
    (end,) = yard.writer.query("SELECT * FROM pass_end")
    # Up to the old moment time goes by twice, and the second time nothing is covered.
    assert (end["reason"], end["at_utc_ns"]) == ("clock jumped", yard.clock.now().utc_ns)
    yard.close()


def test_a_clock_that_jumps_breaks_the_check_off(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.tick()
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "93.2")
    yard.clock.jump(100)
    yard.tick()
    (found,) = yard.writer.query("SELECT outcome, message FROM checks")
    assert found["outcome"] == "undecided"
    assert "the clock jumped" in found["message"]
    yard.close()


@pytest.mark.parametrize(("back_s", "is_refused"), [(1.9, False), (2.1, True)])
def test_a_clock_that_is_set_back_under_the_daemon_holds_a_check_off_as_well(
    tmp_path: Path, back_s: float, is_refused: bool
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.tick()
    yard.clock.jump(-back_s)
    if is_refused:
        with pytest.raises(Refused, match="shore cannot be checked"):
            yard.check("shore")
        # What it lies behind by passes by itself.
        yard.clock.advance(back_s)
    yard.check("shore")
    yard.close()
