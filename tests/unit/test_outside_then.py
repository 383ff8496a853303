"""A check that passes by a loosened limit, and lies outside that of the check before it.

What was read under the earlier one is suspect, and every place says by whose limits.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.places import readings_rows
from acquire.live.suspects import words_of
from acquire.live.verdict import verdict
from acquire.report.answers.coverage import coverage
from acquire.report.evidence.outsidethen import outside_then
from acquire.report.record.loading import load_trial
from acquire.report.record.record import TrialRecord
from acquire.report.sections.brackets import bracket_of_reading
from acquire.report.sections.events import events
from acquire.report.sections.leftouts import left_outs
from acquire.store import StoreReader
from tests.unit.test_changed_limits import Loosened
from tests.unit.withdrawing import certified
from tests.yard import Yard

THEN = "outside the limits that check 1 was held to"


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    """The tile lies 1.8 GU off: outside 1 GU, inside 50 GU."""
    yard = Loosened(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.is_loose = True
    yard.restart()
    yard.plug("shore")
    yard.check("shore", tile="95.0")
    yield yard
    yard.close()


def record_of(yard: Yard) -> TrialRecord:
    return load_trial(yard.bench.store, "gelcoat")


def whys(yard: Yard) -> list[str]:
    with StoreReader(yard.bench.store) as store:
        return [row[-1] for row in readings_rows(store) if row[-2] == "suspect"]


def test_verdict_and_status_say_by_whose_limits_readings_are_suspect(yard: Yard) -> None:
    with StoreReader(yard.bench.store) as store:
        passed, lines = verdict(store, 2, yard.clock.now().utc_ns)
    assert passed
    (line,) = [line for line in lines if "suspect" in line]
    assert line.startswith(f"check 2 found the meter {THEN}: 1 reading of run 1 (gelcoat, bare)")
    suspects = yard.act(yard.acts.status)["suspects"]
    assert isinstance(suspects, dict)
    assert words_of(suspects) == line


def test_the_list_of_readings_says_it_too(yard: Yard) -> None:
    assert whys(yard) == [f"check 2 after it found the meter {THEN}"]


def test_the_page_tells_it_among_what_happened_with_the_figures(yard: Yard) -> None:
    told = [e for e in events(record_of(yard)) if "Check 2" in e.title]
    (event,) = told
    assert event.title == (
        "Check 2 of shore passed by its own limits, and 1 earlier reading became suspect"
    )
    assert (
        "Check 1 held T1 at 20° to 93.2 GU and a limit of 1.0 GU; here it is off that by +1.80 GU."
    ) in event.happened
    assert "Z0" not in event.happened
    assert event.means.startswith("Readings from this check on count. Those before it are held to")


@pytest.mark.parametrize(("off", "is_told"), [("1.4", True), ("1.2", False), ("-1.2", False)])
def test_a_piece_is_outside_by_more_than_the_later_check_can_be_wrong(
    yard: Yard, off: str, is_told: bool
) -> None:
    opening, later = (check for check in record_of(yard).checks)
    tile = next(piece for piece in later.pieces if piece.piece == "T1")
    moved = replace(tile, mean=Decimal("93.2") + Decimal(off), expanded_uncertainty=Decimal("0.3"))
    told = list(outside_then(replace(later, pieces=(moved,)), [opening]))
    assert bool(told) is is_told


def test_the_page_says_it_where_readings_are_counted_and_left_out(yard: Yard) -> None:
    record = record_of(yard)
    (reading,) = [r for r in record.readings if r.bracket == "suspect"]
    assert f"suspect, because the meter was {THEN} at check 2, passed" in bracket_of_reading(
        record, reading
    )
    (out,) = left_outs(record, ()).suspects
    assert out.reason == f"check 2 after it found the meter {THEN}"
    (said,) = [line for line in coverage(record) if "suspect" in line]
    assert said == (
        "1 suspect reading is left out of the results: the check after it passed or was undecided "
        "by its own limits, and found the meter outside those of the check before it."
    )


def test_a_failed_check_is_said_to_have_found_it_outside_its_own_limit(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.check("shore", tile="96.0")
    assert whys(yard) == ["check 2 after it found the meter outside its limit"]
    yard.close()


def test_a_check_that_was_broken_off_and_made_readings_suspect_is_told_among_what_happened(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for _ in range(2):
        yard.clock.advance(1)
        yard.press("shore", "96.0")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    (event,) = events(record_of(yard))
    assert event.title == "Check 2 of shore was broken off, and 1 earlier reading became suspect"
    assert "but T1 at 20° read 96.00" in event.happened
    yard.close()


def test_a_reading_suspect_by_a_withdrawn_certificate_is_not_said_to_be_so_by_an_adjustment(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    certified(yard, "93.2", "97.2", withdrawn=["93.2"])
    assert whys(yard) == ["check 1 does not pass without a certificate that was withdrawn"]
    yard.close()
