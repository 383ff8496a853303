"""What was recorded long after a trial is held to the folds beside the store, and no less closely.

Four daemons one after the other: a trial with its checks, readings of nobody's, what is told of
both, and readings again.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.report.record.soundness import misfit_in
from acquire.store import StoreReader, StoreWriter
from acquire.store import rows as r
from acquire.store.heads import heads_path, kept_folds
from acquire.store.seals import Head, SealRow, Stretch, row_line, sealed_by, sum_of
from acquire.store.verify import Span, misfit_within
from tests.unit.store.test_seals import note, record, strangely
from tests.unit.stored import reading, spine_rows

LATER = 10
"""The first reading that has nothing to do with the trial."""

_NOBODY = (
    "role = 'loose', loose_reason = 'x', zone = NULL, stage = NULL, replicate = NULL, "
    "check_id = NULL"
)
_SOMEBODY = (
    "role = 'run', loose_reason = NULL, zone = 'A1', stage = 'bare', replicate = 2, check_id = 1"
)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "bench.sqlite"
    record(path, [*spine_rows()])
    record(path, [loose(LATER), loose(LATER + 1)], [loose(LATER + 2)])
    record(path, [note(2), r.VoidRow(2, 60, 4, "dust")], [note(3), loose(LATER + 3)])
    record(path, [loose(LATER + 4)])
    return path


def loose(number: int) -> r.ReadingRow:
    return reading(number, 100 + number, "loose", sitting_id=None, loose_reason="no run is open")


def test_a_store_as_it_was_recorded_fits_its_folds(store: Path) -> None:
    # From each opening to the close (the first has milestones), and from there to the next one.
    assert len(kept_folds(store)) == 7
    assert misfit_in(store, "gelcoat") == ""
    assert misfit_in(store, None) == ""


def test_a_trial_does_not_read_through_what_others_measured_after_it(store: Path) -> None:
    """Told by what is not found; whoever rests on it finds it."""
    strangely(store, f"UPDATE reading SET value = '1' WHERE id = {LATER + 2}")
    assert misfit_in(store, "gelcoat") == ""
    assert f"reading {LATER + 2} is not what was recorded" in misfit_in(store, None)
    with StoreReader(store) as reader:
        span = Span({"reading": LATER + 2}, {"reading": LATER + 2})
        assert f"reading {LATER + 2} " in str(misfit_within(reader, [span]))


@pytest.mark.parametrize(
    ("change", "found"),
    [
        ("UPDATE reading SET value = '1' WHERE run_id = 1", "reading 4 is not what"),
        (f"UPDATE reading SET run_id = NULL, {_NOBODY} WHERE id = 4", "reading 4 is not"),
        ("DELETE FROM reading WHERE run_id = 1", "reading 4 is missing"),
        (f"UPDATE reading SET run_id = 1, {_SOMEBODY} WHERE id = {LATER}", f"reading {LATER} is"),
        ("UPDATE note SET text = 'rain' WHERE id = 2", "note 2 is not what was recorded"),
        ("DELETE FROM void WHERE id = 2", "void 2 is missing"),
        ("UPDATE void SET reading_id = 10 WHERE id = 2", "void 2 is not what was recorded"),
        ("DELETE FROM seal WHERE id = 6", "seal 6 is missing"),
        ("INSERT INTO note VALUES (9, 1, NULL, '', '', 'rain')", "note 9 was put in"),
        ("UPDATE seal SET digest = zeroblob(32) WHERE id = 5", "seal 5 does not fit"),
        ("UPDATE check_begin SET serial = 'X' WHERE id = 1", "check_begin 1 is not what"),
    ],
)  # fmt: skip
def test_whatever_a_trial_rests_on_is_found_wherever_it_was_recorded(
    store: Path, change: str, found: str
) -> None:
    strangely(store, change)
    assert found in misfit_in(store, "gelcoat")


def test_a_row_that_was_taken_out_with_its_seal_made_anew_is_found(store: Path) -> None:
    """Of somebody who knows how seals are made, and makes one; those behind it are left."""
    with StoreReader(store) as reader:
        (row,) = reader.rows("SELECT * FROM seal WHERE stretches LIKE '%void 2 2%'")
        old = SealRow(*row)
        (kept,) = reader.rows("SELECT * FROM note WHERE id = 2")
        before = reader.one("SELECT digest FROM seal WHERE id = ?", (old.id - 1,))
    new = sealed_by(Head(old.id - 1, before), [(Stretch("note", 2, 2), [row_line(kept)])])
    strangely(
        store,
        "DELETE FROM void WHERE id = 2",
        f"UPDATE seal SET stretches = '{new.stretches}', sums = x'{new.sums.hex()}', "
        f"digest = x'{new.digest.hex()}' WHERE id = {old.id}",
    )
    assert misfit_in(store, "gelcoat") != ""


def test_a_reading_that_was_put_in_behind_with_a_seal_made_to_name_it_is_found(store: Path) -> None:
    last, more = LATER + 4, LATER + 5
    names = ", ".join(r.ReadingRow._fields[1:])
    strangely(
        store,
        f"INSERT INTO reading SELECT {more}, {names} FROM reading WHERE run_id = 1",
        f"UPDATE seal SET stretches = 'reading {last} {more}' "
        f"WHERE stretches = 'reading {last} {last}'",
    )
    with StoreReader(store) as reader:
        assert reader.rows("SELECT 1 FROM seal WHERE stretches LIKE ?", (f"%{more}",))
    assert misfit_in(store, "gelcoat") != ""


def test_a_row_that_was_changed_with_its_sum_is_found(store: Path) -> None:
    strangely(store, "UPDATE note SET text = 'rain' WHERE id = 2")
    with StoreReader(store) as reader:
        (row,) = reader.rows("SELECT * FROM note WHERE id = 2")
    sums = sum_of(row_line(row)).hex()
    strangely(
        store,
        f"UPDATE seal SET sums = CAST(x'{sums}' || substr(sums, 5) AS BLOB) "
        "WHERE stretches LIKE 'note 2%'",
    )
    assert misfit_in(store, "gelcoat") != ""


def test_a_store_whose_heads_have_no_folds_is_read_through(store: Path) -> None:
    path = heads_path(store)
    lines = [":".join(line.split(":")[:2]) for line in path.read_text().splitlines()]
    path.write_text("\n".join(lines) + "\n")
    assert kept_folds(store) == []
    strangely(store, f"UPDATE reading SET value = '1' WHERE id = {LATER + 2}")
    assert f"reading {LATER + 2} is not what was recorded" in misfit_in(store, "gelcoat")


def test_what_was_recorded_before_a_crash_is_read_through(store: Path) -> None:
    """Nobody kept a fold behind it, so a row may have been changed before anybody looked."""
    writer = StoreWriter(store)
    writer.append([note(4)])
    text = heads_path(store).read_text()
    writer.close()
    heads_path(store).write_text(text)
    strangely(store, "UPDATE note SET text = 'rain' WHERE id = 4")
    record(store, [note(5)])
    assert "note 4 is not what was recorded" in misfit_in(store, "gelcoat")


def test_a_fold_that_was_broken_off_or_is_another_costs_time_and_says_nothing(store: Path) -> None:
    path = heads_path(store)
    lines = path.read_text().splitlines()
    lines[3] = lines[3][:-7]
    lines[5] = lines[5][:-4] + "0000"
    path.write_text("\n".join(lines) + "\n")
    assert misfit_in(store, "gelcoat") == ""
