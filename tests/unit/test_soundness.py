"""What was changed in the store afterwards is told by proof, report, results and export."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.results import Held, fits
from acquire.report import write_report
from acquire.report.figures.files import write_figures
from acquire.report.film.writing import Wanted, write_film
from acquire.report.plots.paper import Paper
from acquire.report.proof.checkproof import prove_check
from acquire.report.proof.proof import prove
from acquire.report.record.loading import load_trial
from acquire.report.rows.resultrows import write_rows_file
from acquire.report.terminal.resultlines import check_budgets, told
from acquire.report.terminal.shortlines import short_lines
from acquire.report.terminal.summary import lines_of
from tests.unit.hand import HandYard
from tests.unit.reported import small
from tests.unit.store.test_seals import strangely
from tests.yard import Yard

LOUD = "THE STORE WAS CHANGED AFTER IT WAS RECORDED"


@pytest.fixture
def hand(tmp_path: Path) -> Iterator[HandYard]:
    """Reading 5 is the first of a run; what was typed has a tape and a driver to play it."""
    yard = HandYard(tmp_path)
    yard.plug()
    yard.check()
    yard.begin()
    yard.twice("80.1")
    yield yard
    yard.close()


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    yard = small(tmp_path)
    yield yard
    yard.close()


def first_of_run(yard: Yard) -> int:
    return int(yard.writer.query("SELECT min(id) FROM reading WHERE role = 'run'")[0][0])


def test_a_store_as_it_was_recorded_is_told_to_be_nothing_else(yard: Yard) -> None:
    assert load_trial(yard.bench.store, "small").misfit == ""
    assert LOUD not in "\n".join(lines_of(yard.bench.store, "small"))


@pytest.mark.parametrize(
    ("change", "row"),
    [
        ("UPDATE reading SET value = '99.9', value_real = 99.9 WHERE id = {}", "reading {}"),
        ("UPDATE reading SET zone = 'A2' WHERE id = {}", "reading {}"),
        ("DELETE FROM reading WHERE id = {}", "reading {} is missing"),
        ("INSERT INTO void VALUES (1, 1, {}, 'dust')", "void 1 was put in"),
        ("UPDATE certificate SET value = '91.5' WHERE id = 1", "certificate 1"),
        ("DELETE FROM pass_end WHERE id = 1", "pass_end 1 is missing"),
        ("DROP VIEW troubles", "its guards are not those"),
    ],
)  # fmt: skip
def test_results_and_page_say_loudly_first_which_row_was_changed(
    yard: Yard, tmp_path: Path, change: str, row: str
) -> None:
    number = first_of_run(yard)
    strangely(yard.bench.store, change.format(number))
    said = lines_of(yard.bench.store, "small")
    assert said[0].startswith(LOUD)
    assert row.format(number) in said[0]
    page = write_report(yard.bench.store, "small", tmp_path / "page.html").read_text()
    assert LOUD in page.split("<dl")[0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("value = '99.9', value_real = 99.9", "value '99.9' stored, '80.1' from the tape"),
        ("value_real = 99.9", "value as a number 99.9 stored, 80.1 from the tape"),
        ("unit = 'percent'", "unit 'percent' stored, 'gloss_unit' from the tape"),
        ("channel = '60'", "channel '60' stored, '20' from the tape"),
    ],
)
def test_a_reading_that_the_tape_gives_otherwise_is_not_proved(
    hand: HandYard, change: str, words: str
) -> None:
    assert prove(hand.bench.store, 5).holds
    strangely(hand.bench.store, f"UPDATE reading SET {change} WHERE id = 5")
    found = prove(hand.bench.store, 5)
    assert not found.holds
    assert words in found.lines[-1]


def test_a_reading_whose_check_was_changed_is_not_proved(hand: HandYard) -> None:
    strangely(hand.bench.store, "UPDATE check_judgement SET outcome = 'pass', message = 'fine'")
    found = prove(hand.bench.store, 5)
    assert not found.holds
    assert found.lines[0].startswith(LOUD)
    assert found.lines[-1].startswith("NOT PROVED")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("check_judgement SET expires_utc_ns = expires_utc_ns + 1 WHERE check_id = 1", "expiry"),
        ("check_judgement SET presses = 5 WHERE check_id = 1", "presses covered 5, and now None"),
        ("check_judgement SET most_real = 90 WHERE check_id = 1", "most covered 90.0"),
        ("reading SET text = '93.20' WHERE id = 1", "reading 1: text '93.20' stored"),
        ("reading SET raw = x'3f' WHERE id = 1", "reading 1: bytes"),
        ("reading SET value_real = 1 WHERE id = 1", "reading 1 has the value 93.2, and 1.0"),
    ],
)
def test_a_check_does_not_come_out_again_where_anything_of_it_was_changed(
    hand: HandYard, change: str, words: str
) -> None:
    assert prove_check(hand.bench.store, 1).holds
    strangely(hand.bench.store, f"UPDATE {change}")
    found = prove_check(hand.bench.store, 1)
    assert not found.holds
    assert any(words in line for line in found.lines), found.lines


def test_what_a_page_was_made_of_is_held_against_its_seals_once(
    yard: Yard, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store, load = yard.bench.store, Held(yard.bench.store)
    write_report(store, "small", tmp_path / "page.html", None, load)
    strangely(store, f"UPDATE reading SET zone = 'A2' WHERE id = {first_of_run(yard)}")
    assert fits(store, "small", load) == DONE, "what was written fitted"
    # Whoever loads it now is told, and so is whoever loads nothing.
    again = Held(store)
    assert LOUD in write_report(store, "small", tmp_path / "page.html", None, again).read_text()
    assert fits(store, "small", again) == NOT_DONE
    assert fits(store, "small") == NOT_DONE
    assert capsys.readouterr().err.count(LOUD) == 2


@pytest.mark.parametrize("kind", ["results", "short", "budgets", "rows", "figures", "captions"])
def test_whatever_is_made_of_a_trial_takes_it_as_it_was_loaded_once(
    yard: Yard, tmp_path: Path, kind: str
) -> None:
    store, load = yard.bench.store, Held(yard.bench.store)
    load("small")
    strangely(store, f"UPDATE reading SET zone = 'A2' WHERE id = {first_of_run(yard)}")
    MAKERS[kind](store, tmp_path, load)
    assert fits(store, "small", load) == DONE, "what was made was made of what fitted"
    MAKERS[kind](store, tmp_path, again := Held(store))
    assert fits(store, "small", again) == NOT_DONE


MAKERS: dict[str, Callable[[Path, Path, Held], object]] = {
    "results": lambda store, _, load: told(store, "small", load),
    "short": lambda store, _, load: short_lines(store, "small", load),
    "budgets": lambda store, _, load: check_budgets(store, "small", load),
    "rows": lambda store, folder, load: write_rows_file(
        store, "small", "csv", folder / "r.csv", load
    ),
    "figures": lambda store, folder, load: write_figures(
        store, "small", folder / "figures", Paper.of_mm(170, None), ["svg"], 200, load
    ),
    "captions": lambda store, folder, load: write_film(
        store, "small", Wanted(["2026-05-04T08:00:00Z"], [], None, folder / "f.vtt", None), load
    ),
}
