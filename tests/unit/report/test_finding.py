"""A report finds its rows by indexes: no query looks through all readings of the store."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Generator, Sequence
from pathlib import Path

from acquire.report.record.loading import trial_in
from acquire.report.rows.export import Scope, records
from acquire.store.reader import StoreReader
from tests.unit.packed import crowded
from tests.unit.report.test_films import BOX, LEVELS, Slides

_LARGE = re.compile(r"SCAN (?:q|reading|spectrum|tape|trace_block|noise)(?! .*INDEX)\b")
"""Tables with a row a press, a chunk or a spectrum; q is a reading in the views."""
_MAY = ("FROM noise",)
"""Asked by the clock within a sitting: rows are few but for a broken line."""


class Listening(StoreReader):
    """Keeps what it was asked."""

    def __init__(self, path: Path) -> None:
        self.asked: dict[str, tuple[object, ...]] = {}
        super().__init__(path)

    def each(
        self, sql: str, arguments: Sequence[object] = ()
    ) -> Generator[sqlite3.Row, None, None]:
        self.asked.setdefault(sql, tuple(arguments))
        return super().each(sql, arguments)


def _looked_through(store: Path, trial: str) -> list[str]:
    with Listening(store) as reader:
        with reader.snapshot():
            trial_in(reader, trial)
            list(records(reader, Scope(trial, checks=True, loose=True)))
        asked = dict(reader.asked)
        found = []
        for sql, arguments in asked.items():
            if any(text in sql for text in _MAY):
                continue
            plan = [row[3] for row in reader.rows(f"EXPLAIN QUERY PLAN {sql}", arguments)]
            found += [f"{step}: {sql}" for step in plan if _LARGE.match(step)]
    assert len(asked) > 20
    return found


def test_a_report_of_gloss_looks_through_no_table_of_readings(tmp_path: Path) -> None:
    yard = crowded(tmp_path)
    yard.close()
    assert _looked_through(yard.bench.store, "small") == []


def test_a_report_of_spectra_looks_through_no_table_of_spectra(tmp_path: Path) -> None:
    yard = Slides(tmp_path)
    yard.plug("head")
    yard.slides(BOX, "cured", LEVELS, with_spectra=True)
    yard.close()
    assert _looked_through(yard.bench.store, "three") == []
