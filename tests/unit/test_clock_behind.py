"""A computer's clock that stands before the store's last entry is told wherever somebody looks."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.cli.status import status_lines
from acquire.drift.reading import histories
from acquire.errors import Refused
from acquire.live.bulletin import Bulletin
from acquire.pipeline.status import status
from acquire.report.headline import coverage
from acquire.report.loading import load_trial
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
    assert "wait 9 days, 23:59:5" in told.next_step
    assert not yard.writer.query("SELECT 1 FROM check_begin WHERE id > 2")
    yard.clock.jump(TEN_DAYS_S)
    yard.check("shore")
    assert yard.writer.query("SELECT outcome FROM checks")[-1]["outcome"] == "pass"


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
