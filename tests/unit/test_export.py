"""Exports: every reading of the scope once, with its proof, as exact figures and harmless texts."""

from __future__ import annotations

import csv
import io
import json
import os
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.errors import Misuse, NotFound
from acquire.model import Flag
from acquire.report.rows.export import (
    COLUMNS,
    CSV,
    JSONL,
    Scope,
    csv_cells,
    escaped,
    json_line,
    records,
    write_export,
    write_file,
)
from acquire.store import StoreReader
from tests.yard import TRIAL, Yard


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    """Two loose readings, a check, a run of four with one void, and its closing check."""
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.press("shore", "70.0")
    yard.check("shore")
    yard.press("shore", None, flags=frozenset({Flag.OVER_RANGE}))
    yard.begin()
    for value in ("80.1", "81.20", "80.3", "81.4"):
        yard.clock.advance(1)
        yard.press("shore", value)
    yard.act(lambda at: yard.acts.readings.void(8, "=slipped", at))
    yard.act(lambda at: yard.acts.runs.finish("", at))
    yard.check("shore")
    yield yard
    yard.close()


def found(yard: Yard, scope: Scope) -> list[dict[str, object]]:
    with StoreReader(yard.bench.store) as store:
        return list(records(store, scope))


def written(yard: Yard, scope: Scope, form: str) -> str:
    file = io.StringIO()
    with StoreReader(yard.bench.store) as store:
        write_export(store, scope, form, file)
    return file.getvalue()


def test_a_trial_has_its_readings_with_tags_proof_and_treatment(yard: Yard) -> None:
    rows = found(yard, Scope("gelcoat"))
    assert [r["reading_id"] for r in rows] == [7, 8, 9, 10]
    second = rows[1]
    wanted = {
        "trial": "gelcoat", "measure": "gloss20", "stage": "bare", "zone": "A2", "replicate": 1,
        "treatment": "brine", "treatment_name": "Brine Shield", "is_control": 0,
        "quantity": "gloss", "channel": "20", "value": Decimal("81.20"), "unit": "gloss_unit",
        "unit_symbol": "GU", "sent_text": "81.20", "sent_unit": "gloss_unit", "flags": "",
        "role": "run", "counts": 0, "void_reason": "=slipped", "bracket": "bracketed",
        "check_id": 1, "closing_check_id": 2, "trial_unchecked": 0, "instrument": "shore",
        "serial": "SH-0417", "connection_id": 1, "opened_as": "/dev/shore",
        "raw": "20 81.20\\x0d\\x0a", "run_id": 1,
    }  # fmt: skip
    assert {name: second[name] for name in wanted} == wanted
    assert rows[0]["is_control"] == 1
    assert [r["counts"] for r in rows] == [1, 0, 1, 1]
    assert str(rows[0]["at"]).endswith("Z")


def test_raw_offsets_point_at_the_bytes_on_the_tape(yard: Yard) -> None:
    for row in found(yard, Scope(everything=True)):
        (tape,) = yard.writer.query(
            "SELECT start, bytes FROM tape WHERE connection_id = ? AND direction = 'received' "
            "AND start <= ? AND start + length(bytes) >= ?",
            (row["connection_id"], row["raw_start"], row["raw_end"]),
        )
        start, end = row["raw_start"], row["raw_end"]
        assert isinstance(start, int)
        assert isinstance(end, int)
        at = start - tape["start"]
        assert escaped(tape["bytes"][at : at + end - start]) == row["raw"]


def test_the_scope_says_which_readings(yard: Yard) -> None:
    def ids(**scope: object) -> list[object]:
        return [r["reading_id"] for r in found(yard, Scope(**scope))]  # type: ignore[arg-type]

    assert ids(everything=True) == list(range(1, 15))
    assert ids(loose=True) == [1, 6]
    assert ids(trial="gelcoat", loose=True) == [6, 7, 8, 9, 10]
    assert ids(trial="gelcoat", checks=True) == [2, 3, 4, 5, 7, 8, 9, 10, 11, 12, 13, 14]


def test_an_over_range_reading_has_an_empty_value_and_its_flag(yard: Yard) -> None:
    row = found(yard, Scope(loose=True))[1]
    assert (row["value"], row["flags"]) == (None, "over-range")
    line = json.loads(json_line(row))
    assert line["value"] is None
    assert csv_cells(row)[_at("value")] == ""


def test_an_assigned_reading_is_in_its_trial_with_the_reason(yard: Yard) -> None:
    # The reading arrives under the second check; the void place A2, replicate 1 is open.
    yard.press("shore", "81.3")
    yard.act(
        lambda at: yard.acts.readings.assign(
            15, "gelcoat", None, "A2", "bare", 1, "pressed late", at
        )
    )
    row = found(yard, Scope("gelcoat"))[-1]
    assert (row["reading_id"], row["role"], row["zone"]) == (15, "run", "A2")
    assert (row["assigned_reason"], row["loose_reason"], row["counts"]) == ("pressed late", None, 1)


def test_the_treatment_of_a_zone_that_a_later_plan_added_is_named(yard: Yard) -> None:
    later = TRIAL.replace(
        "[[measure]]",
        '[[treatment]]\nid = "tide"\nname = "Tide Wax"\n\n'
        '[[zone]]\nid = "A3"\ntreatment = "tide"\n\n[[measure]]',
    )
    yard.begin("cured", text=later)
    for value in ("82.0", "83.0", "84.0"):
        yard.press("shore", value)
    names = {r["zone"]: r["treatment_name"] for r in found(yard, Scope("gelcoat"))}
    assert names == {"A1": "untreated", "A2": "Brine Shield", "A3": "Tide Wax"}


def test_a_trial_that_is_not_there_is_refused_with_those_that_are(yard: Yard) -> None:
    with pytest.raises(NotFound, match="gelcoat"):
        found(yard, Scope("hull"))


def _at(name: str) -> int:
    return [column.name for column in COLUMNS].index(name)


def test_csv_reads_back_as_it_was_with_every_digit(yard: Yard) -> None:
    text = written(yard, Scope("gelcoat"), CSV)
    rows = list(csv.DictReader(io.StringIO(text)))
    assert list(rows[0]) == [column.name for column in COLUMNS]
    assert [row["value"] for row in rows] == ["80.1", "81.20", "80.3", "81.4"]
    assert rows[1]["void_reason"] == "'=slipped"


def test_json_lines_are_one_object_a_reading_with_exact_numbers(yard: Yard) -> None:
    lines = written(yard, Scope("gelcoat"), JSONL).splitlines()
    assert len(lines) == 4
    second = json.loads(lines[1], parse_float=Decimal)
    assert second["value"] == Decimal("81.20")
    assert str(second["value"]) == "81.20"
    assert second["void_reason"] == "=slipped"
    assert list(second) == [column.name for column in COLUMNS]


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("=1+1", "'=1+1"),
        ("+cmd|' /C calc'!A0", "'+cmd|' /C calc'!A0"),
        ("-1+1", "'-1+1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("\t=1", "'\t=1"),
        ("\r=1", "'\r=1"),
        ("\x00=1", "'\x00=1"),
        ("\ufeff\u200b@x", "'\ufeff\u200b@x"),
        ("\x1b[1m", "\x1b[1m"),
        ("-0.1", "-0.1"),
        ("+82.4", "+82.4"),
        ("-88,3", "-88,3"),
        ("-0.1\n=1", "'-0.1\n=1"),
        ("meter slipped", "meter slipped"),
        ("a=b", "a=b"),
    ],
)
def test_a_text_that_a_spreadsheet_would_run_is_put_behind_an_apostrophe(
    text: str, cell: str
) -> None:
    record: dict[str, object] = dict.fromkeys(column.name for column in COLUMNS)
    record.update(void_reason=text, sent_text=text, value=Decimal("-0.1"), replicate=1)
    cells = csv_cells(record)
    assert cells[_at("void_reason")] == cells[_at("sent_text")] == cell
    assert cells[_at("value")] == "-0.1"


@pytest.mark.parametrize(
    "value", [Decimal("0.0"), Decimal("-0.1"), Decimal("1E+2"), Decimal("0E-7"), Decimal("82.40")]
)
def test_every_decimal_is_a_json_number(value: Decimal) -> None:
    assert json.loads(json_line({"value": value}), parse_float=Decimal)["value"] == value


def test_bytes_are_escaped_so_that_they_can_be_turned_back() -> None:
    raw = bytes(range(256)) + b"\\x41"
    text = escaped(raw)
    assert text.isascii()
    assert text.isprintable()
    assert text.encode().decode("unicode_escape").encode("latin-1") == raw


def test_every_column_is_explained_and_named_once() -> None:
    names = [column.name for column in COLUMNS]
    assert len(set(names)) == len(names)
    assert all(column.meaning for column in COLUMNS)


def test_columns_with_free_text_are_all_guarded(yard: Yard) -> None:
    row = found(yard, Scope("gelcoat"))[0]
    evil = {name: "=1" for name in row}
    guarded = {c.name for c, cell in zip(COLUMNS, csv_cells({**row, **evil}), strict=True)
               if cell.startswith("'")}  # fmt: skip
    assert guarded >= {
        "trial", "measure", "stage", "zone", "treatment", "treatment_name", "void_reason",
        "loose_reason", "assigned_reason", "piece", "instrument", "serial", "opened_as", "raw",
        "sent_text",
    }  # fmt: skip


@pytest.mark.parametrize("form", [CSV, JSONL])
def test_a_file_is_written_whole_while_the_daemon_records(yard: Yard, form: str) -> None:
    out = yard.bench.store.with_name(f"readings.{form}")
    out.write_text("reading_id,old" if form == CSV else '{"reading_id": "old"}')
    with StoreReader(yard.bench.store) as store:
        assert write_file(store, Scope("gelcoat"), form, out) == 4
    yard.press("shore", "81.0")
    assert out.read_text(encoding="utf-8") == written(yard, Scope("gelcoat"), form)


def test_what_fails_leaves_the_old_file_and_nothing_else(yard: Yard) -> None:
    folder = yard.bench.store.parent / "out"
    folder.mkdir()
    out = folder / "readings.csv"
    out.write_text("reading_id,old")
    with StoreReader(yard.bench.store) as store:
        with pytest.raises(NotFound):
            write_file(store, Scope("hull"), CSV, out)
        with pytest.raises(Misuse, match="cannot be written") as refusal:
            write_file(store, Scope("gelcoat"), CSV, folder / "missing" / "readings.csv")
    assert refusal.value.next_step
    assert os.listdir(folder) == ["readings.csv"]
    assert out.read_text() == "reading_id,old"


def test_a_store_without_readings_gives_the_columns_alone(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    assert found(yard, Scope(everything=True)) == []
    assert written(yard, Scope(everything=True), CSV).count("\n") == 1
    assert written(yard, Scope(everything=True), JSONL) == ""
    yard.close()


def test_a_reader_that_has_heard_enough_leaves_nothing_open(yard: Yard) -> None:
    class Enough(io.StringIO):
        def write(self, text: str) -> int:
            if self.tell() > 1000:
                raise BrokenPipeError
            return super().write(text)

    # What is left open would be told as an error when it is collected.
    with StoreReader(yard.bench.store) as store, pytest.raises(BrokenPipeError):
        write_export(store, Scope(everything=True), CSV, Enough())
