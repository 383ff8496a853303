"""What a person typed is marked wherever a reading is shown or written."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.cli.entries import told
from acquire.cli.places import readings_rows
from acquire.cli.status import status_lines
from acquire.control.shapes import row_item
from acquire.live.bulletin import Bulletin
from acquire.live.verdict import verdict
from acquire.live.words import loose_words
from acquire.report.page import render
from acquire.report.proof.proof import prove
from acquire.report.record.loading import load_trial
from acquire.report.rows.export import Scope, records
from acquire.report.sections.method import method
from acquire.store import StoreReader, StoreWriter
from acquire.store.rows import NoiseRow, NoticeRow, ReadingRow, Row
from acquire.store.views import NAMES
from tests.unit.hand import HandYard
from tests.yard import Yard


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[HandYard]:
    yard = HandYard(tmp_path)
    yard.plug()
    yard.check()
    yard.begin()
    yard.twice("80.1")
    yard.type("801")
    yield yard
    yard.close()


def test_the_view_has_a_column(yard: HandYard, tmp_path: Path) -> None:
    assert {reading["typed"] for reading in yard.readings()} == {1}
    (tmp_path / "other").mkdir()
    other = Yard(tmp_path / "other")
    other.plug("shore")
    other.press("shore", "80.1")
    assert [reading["typed"] for reading in other.readings()] == [0]
    other.close()


def test_a_store_from_before_gets_the_column(tmp_path: Path) -> None:
    yard = HandYard(tmp_path)
    yard.plug()
    yard.twice("80.1")
    yard.close()
    with sqlite3.connect(yard.bench.store) as old:
        for view in NAMES:
            old.execute(f"DROP VIEW {view}")
        old.execute("CREATE VIEW readings AS SELECT id AS reading_id FROM reading")
        old.execute("DELETE FROM _sqlite_migrations WHERE name = 'm004_typed'")
    old.close()
    writer = StoreWriter(yard.bench.store)
    assert [row["typed"] for row in writer.query("SELECT typed FROM readings")] == [1]
    writer.close()


def test_an_export_has_the_column(yard: HandYard) -> None:
    with StoreReader(yard.bench.store) as store:
        found = list(records(store, Scope(everything=True)))
    assert {record["typed"] for record in found} == {1}
    assert {record["opened_as"] for record in found} == {"typed by hand"}


def test_a_proof_says_that_a_person_typed_it_and_plays_the_entries_again(yard: HandYard) -> None:
    proof = prove(yard.bench.store, 5)
    assert proof.holds, proof.lines
    text = "\n".join(proof.lines)
    assert "typed by hand as '80.1' for shore, serial SH-0417 as bench.toml declares it" in text
    assert "of what was typed by hand since" in text
    assert "the word of whoever typed it" in text
    assert "sent as" not in text


def test_the_report_marks_readings_checks_instrument_and_method(yard: HandYard) -> None:
    record = load_trial(yard.bench.store, "gelcoat")
    assert record.typed_instruments == ("shore",)
    page = render(record)
    assert "typed: 80.1 (GU)" in page
    assert "serial SH-0417 (declared, not read), typed by hand" in page
    assert "serial number SH-0417 as declared, not read" in page
    assert "For shore 1 entry was typed that could not be accepted." in page
    assert "All readings were typed by hand off the display of shore." in page
    (origin, *_) = method(record, [])
    assert origin.startswith("The values of shore, without a port, were read off the display")


def test_a_report_without_typed_readings_says_nothing_of_typing(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    record = load_trial(yard.bench.store, "gelcoat")
    assert "typed" not in render(record)
    yard.close()


def test_a_loose_reading_that_was_typed_is_marked_too(yard: HandYard) -> None:
    yard.type("adjusted")
    yard.twice("80.4")
    assert "80.4 GU at 20° (typed)" in render(load_trial(yard.bench.store, "gelcoat"))


def test_a_first_entry_is_no_trouble_of_the_report(yard: HandYard) -> None:
    assert load_trial(yard.bench.store, "gelcoat").troubles == ()


def test_the_verdict_of_a_check_and_the_status_say_that_the_identity_is_declared(
    yard: HandYard,
) -> None:
    with StoreReader(yard.bench.store) as store:
        _, lines = verdict(store, 1, yard.clock.now().utc_ns)
    assert (
        "all values typed by hand; the serial number is declared in bench.toml, not read" in lines
    )
    status = yard.acts.status(yard.clock.now()).reply
    shown = status_lines(status)
    assert "shore: gloss, serial SH-0417 (declared, not read)" in shown
    assert "  link   without a port, typed by hand" in shown
    assert "deck: gloss, serial DK-2205" in shown


def test_the_list_of_readings_marks_it(yard: HandYard) -> None:
    with StoreReader(yard.bench.store) as store:
        rows = readings_rows(store)
    assert {row[2] for row in rows[1:]} == {"shore, typed"}


def test_the_terminal_of_the_daemon_is_not_filled_with_entries(yard: HandYard) -> None:
    bulletin = Bulletin()
    assert all(not bulletin.fold(row_item(row)) for row in yard.type("80.1"))
    assert any(bulletin.fold(row_item(row)) for row in yard.type("adjusted"))


def test_a_typed_word_is_told_as_the_word_of_a_person_and_not_of_the_meter(yard: HandYard) -> None:
    bulletin = Bulletin()
    with StoreReader(yard.bench.store) as store:
        for row in store.rows("SELECT * FROM connection"):
            bulletin.fold({"table": "connection", **dict(row)})
    lines = [
        bulletin.fold(row_item(row)) for word in ("adjusted", "off") for row in yard.type(word)
    ]
    said = [line.partition(" ! ")[2] for told in lines for line in told if "person" in line]
    assert said == [
        "shore: was re-adjusted, as a person says",
        "shore: was switched off and on, as a person says",
    ]
    troubles = load_trial(yard.bench.store, "gelcoat").troubles
    assert [t.message for t in troubles if t.kind in ("adjusted", "power-up")] == [
        "it was re-adjusted, as a person says: earlier checks say nothing of it any more",
        "it was switched off and on, as a person says",
    ]


def test_a_typed_value_out_of_range_is_typed_again_and_not_pressed() -> None:
    told = loose_words("over-range", typed=True)
    assert told.endswith("Next: look whether the meter lies flat, then type what it shows")
    assert loose_words("over-range").endswith("then press again")


def fate(rows: list[Row]) -> tuple[list[str], bool]:
    kinds = (ReadingRow, NoticeRow, NoiseRow)
    return told({"rows": [row_item(row) for row in rows if isinstance(row, kinds)]})


def test_the_command_says_what_became_of_an_entry(yard: HandYard) -> None:
    once, accepted = fate(yard.type("80.2"))
    assert (once, accepted) == (
        ["typed once; look at the display again and type it once more"],
        True,
    )
    assert fate(yard.type("80.2")) == (
        ["80.2 GU at 20° accepted: A2 replicate 1, bare (reading 6)"],
        True,
    )
    refused, accepted = fate(yard.type("80.25"))
    assert refused == [
        "not accepted: got 80.25, wanted a multiple of 0.1, the step of the display. "
        "Next: look at the display and type it again"
    ]
    assert not accepted
    assert fate(yard.type("adjusted"))[1]
    yard.type("80.2")
    loose, accepted = fate(yard.type("80.2"))
    assert loose[0].startswith("80.2 GU at 20° not accepted (reading 7, kept as loose): no valid")
    assert "shore was re-adjusted" in loose[0]
    assert not accepted


def test_an_entry_of_which_nothing_was_heard_is_not_called_accepted() -> None:
    (line,), accepted = told({"rows": []})
    assert "nothing was heard of it in time" in line
    assert not accepted
