"""A meter that cannot be asked has the serial number that somebody entered: what was found under
another one is told beside the readings, so that no failed check is hidden by a false number.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from acquire.report.package.recompute import recompute
from acquire.report.package.writing import write_package
from acquire.report.record.loading import load_trial
from acquire.report.sections.brackets import bracket_of_reading
from acquire.report.sections.events import events
from tests.unit.reported import SMALL, SMALL_VALUES, read_stage
from tests.yard import Yard


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    """Check 2 fails under another number; check 3 passes and closes what check 1 opened."""
    yard = Yard(tmp_path)
    yard.plug("shore")
    own = yard.bench.instruments[0].serial
    yard.check("shore")
    read_stage(yard, "bare", SMALL, [SMALL_VALUES[z, "bare"] for z in ("A1", "A2")])
    said(yard, "SH-X")
    yard.check("shore", "96.0")
    said(yard, own)
    yard.check("shore")
    yield yard
    yard.close()


def said(yard: Yard, serial: str) -> None:
    """Start anew with another serial number in the bench file."""
    yard.close()
    shore, *others = yard.bench.instruments
    yard.bench = replace(yard.bench, instruments=(replace(shore, serial=serial), *others))
    yard.clock.advance(10)
    yard.open()
    yard.plug("shore")


def test_a_check_under_another_number_stands_between_those_around_the_readings(yard: Yard) -> None:
    record = load_trial(yard.bench.store, "small")
    told = bracket_of_reading(record, record.readings[0])
    assert "closed by check 3, passed" in told
    assert "between: check 2 of shore under serial SH-X, failed" in told
    assert "found T1 at 20 off by +2.80 GU" in told


def test_a_check_that_passed_under_another_number_says_nothing_of_the_readings(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    own = yard.bench.instruments[0].serial
    yard.check("shore")
    read_stage(yard, "bare", SMALL, [SMALL_VALUES[z, "bare"] for z in ("A1", "A2")])
    said(yard, "SH-X")
    yard.check("shore")
    said(yard, own)
    yard.check("shore")
    record = load_trial(yard.bench.store, "small")
    yard.close()
    told = bracket_of_reading(record, record.readings[0])
    assert "closed by check 3, passed" in told
    assert "between" not in told


def test_it_is_an_event_of_the_page_that_says_what_it_can_mean(yard: Yard) -> None:
    told = events(load_trial(yard.bench.store, "small"))
    (event,) = [one for one in told if "Check 2" in one.title]
    assert event.title == "Check 2 of shore, under the serial number SH-X, failed"
    assert "neither confirmed nor made suspect" in event.means
    assert "suspect." not in event.means.split("made ")[0]


def test_the_change_of_the_number_is_among_the_troubles(yard: Yard) -> None:
    told = [row["message"] for row in yard.writer.query("SELECT message FROM incident ORDER BY id")]
    assert [text.partition(". Next: ")[0] for text in told if "is said to have" in text] == [
        "shore is said to have the serial number SH-X now, and was said to have SH-0417 before",
        "shore is said to have the serial number SH-0417 now, and was said to have SH-X before",
    ]


def test_a_package_with_such_a_check_computes_to_the_same(yard: Yard, tmp_path: Path) -> None:
    write_package(yard.bench.store, "small", tmp_path / "data.zip")
    assert recompute(tmp_path / "data.zip").is_same
