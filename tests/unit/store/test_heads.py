"""A store that was cut off, or put back from an older copy, is found by the heads beside it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.report.record.soundness import misfit_in
from acquire.store.heads import MOST_LATELY, heads_path, kept_heads
from tests.unit.store.test_seals import note, record, strangely
from tests.unit.stored import spine_rows


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "bench.sqlite"
    record(path, [*spine_rows()])
    return path


def verified(path: Path, capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    code = run(["store", "verify", str(path)])
    return code, capsys.readouterr().out


def test_a_store_with_its_heads_fits(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record(store, [note(2)])
    code, out = verified(store, capsys)
    assert (code, "every row is what was recorded" in out) == (0, True)
    # Opened, a check judged and a run ended in one commit, closed; opened, closed.
    assert [head.seal_id for head in kept_heads(store) or []] == [1, 2, 2, 3, 4]


def test_an_end_that_was_cut_off_with_its_seals_is_found(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record(store, [note(2)])
    strangely(store, "DELETE FROM note WHERE id = 2", "DELETE FROM seal WHERE id >= 3")
    code, out = verified(store, capsys)
    assert code == 1
    assert "seal 3 is missing: the end of the store was cut off, or an older copy" in out
    assert "seal 3 is missing" in misfit_in(store, "gelcoat")


def test_an_older_copy_that_was_put_back_is_found_also_once_it_was_recorded_into(
    store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "copy.sqlite"
    shutil.copy(store, copy)
    record(store, [note(2)])
    shutil.copy(copy, store)
    record(store, [note(2, "another day")])
    code, out = verified(store, capsys)
    assert code == 1
    assert "DOES NOT FIT: seal 4" in out
    assert "seal 4 is another than the one kept beside" in misfit_in(store, None)


def test_a_copy_without_its_heads_is_told_and_fits(
    store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "copy.sqlite"
    shutil.copy(store, copy)
    code, out = verified(copy, capsys)
    assert code == 0
    assert "there is no copy.sqlite.heads beside it" in out
    assert misfit_in(copy, None) == ""


def test_a_broken_line_of_the_heads_says_nothing(store: Path) -> None:
    with heads_path(store).open("a") as file:
        file.write("12:zz\nthe end")
    assert misfit_in(store, None) == ""


def test_of_many_heads_the_latest_are_looked_at_where_results_are_read(store: Path) -> None:
    fits = str((kept_heads(store) or [])[-1])
    with heads_path(store).open("a") as file:
        file.write(f"{fits}\n" * MOST_LATELY)
        file.write(f"{fits.partition(':')[0]}:{'0' * 64}\n")
    assert "is another than the one kept beside" in misfit_in(store, None)
