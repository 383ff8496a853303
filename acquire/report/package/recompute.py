"""Computes the results of a package anew, and says whether they are the same.

The rows go into a store of their own in a temporary folder, which is gone afterwards; nothing else
is written but the page that is asked for. One thread at a time (`acquire.report.plots.sheet`).
"""

from __future__ import annotations

import csv
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from acquire.errors import CoatbenchError, Misuse, told
from acquire.report.files.outplace import require_place
from acquire.report.files.wholefile import whole_file
from acquire.report.package.bytesagain import Again, made_again
from acquire.report.package.comparing import Compared, compare_pages, compare_rows
from acquire.report.package.contents import contents_of
from acquire.report.package.limits import MOST_BYTES, MOST_CELL
from acquire.report.package.refill import refill
from acquire.report.package.source import NEXT, Source, lines_of, opened, read_whole
from acquire.report.package.taking import taken_from
from acquire.report.package.writing import READINGS, REPORT, RESULTS, readings_scope
from acquire.report.page import render
from acquire.report.proof.rejudge import Rejudged, rejudge
from acquire.report.record.loading import load_trial
from acquire.report.rows import export
from acquire.report.rows.resultrows import COLUMNS, result_records
from acquire.report.words.columns import Column, Record
from acquire.store.reader import StoreReader

NOTHING = Again(0, (), ())


class Recomputed(NamedTuple):
    """What came of a package. `files` and `rows` say what is not as it was packaged.

    `refused` are rows that no store takes; then nothing is computed. `checks` counts the checks
    that were judged again, `misjudged` says of which the verdict came out otherwise. `again` says
    which readings came again from their bytes.
    """

    trial: str
    version: str
    row_count: int
    files: tuple[str, ...]
    rows: tuple[str, ...]
    refused: tuple[str, ...]
    compared: tuple[Compared, ...]
    checks: int
    misjudged: tuple[str, ...]
    again: Again = NOTHING

    @property
    def is_same(self) -> bool:
        unlike = any(one.unlike for one in self.compared) or self.again.unlike
        return not (self.files or self.rows or self.refused or self.misjudged or unlike)

    @property
    def is_page_alone(self) -> bool:
        """Whether nothing differs but texts and drawings of the page."""
        kept = tuple(one for one in self.compared if one.what != REPORT)
        return not self.is_same and not self.refused and self._replace(compared=kept).is_same


def recompute(package: Path, out: Path | None = None) -> Recomputed:
    """Compute a package anew; the page goes to `out`. Raises `NotFound` and `Misuse`."""
    if out is not None:
        require_place(out, "html")
    with opened(package) as source, tempfile.TemporaryDirectory(prefix="coatbench-") as folder:
        contents = contents_of(source)
        taken = taken_from(source, contents)
        count = sum(map(len, taken.rows.values()))
        store = Path(folder) / "package.sqlite"
        refused = refill(store, taken.rows)
        nothing = Recomputed(
            contents.trial, contents.version, count, contents.faults, taken.unlike, refused,
            (), 0, (),
        )  # fmt: skip
        if refused:
            return nothing
        try:
            compared, page, judged, again = _computed(source, store, contents.trial)
        except CoatbenchError as e:
            raise Misuse(
                "the results of the package cannot be computed", got=told(e), next_step=NEXT
            ) from e
        # Rows that nobody recorded may be anything, and arithmetic has many ways to say no.
        except (ArithmeticError, LookupError, TypeError, ValueError, AssertionError) as e:
            raise Misuse(
                "the rows of the package cannot be computed with",
                got=told(e)[:200],
                wanted="rows as a daemon records them",
                next_step=NEXT,
            ) from e
        if out is not None:
            with whole_file(out) as file:
                file.write(page)
        misjudged = tuple(
            f"check {one.check_id} of {one.instrument}: {text}"
            for one in judged
            for text in one.unlike
        )
        checks = sum(not one.why_not for one in judged)
        return nothing._replace(compared=compared, checks=checks, misjudged=misjudged, again=again)


def _computed(
    source: Source, store: Path, trial: str
) -> tuple[tuple[Compared, ...], str, list[Rejudged], Again]:
    record = load_trial(store, trial)
    page = render(record)
    with StoreReader(store) as reader:
        readings = list(export.records(reader, readings_scope(trial), load=lambda _: record))
        judged = [rejudge(reader, c.id) for c in record.checks if c.judged_utc_ns is not None]
        numbers = {r.id for r in record.readings} | {
            r.id for c in record.checks for r in c.readings
        }
        strokes = {w.reading_id for w in record.work.washes if w.reading_id is not None}
        again = made_again(reader, numbers | strokes)
    found = [
        _rows(source, RESULTS, COLUMNS, list(result_records(record))),
        _rows(source, READINGS, export.COLUMNS, readings),
    ]
    if REPORT in source.sizes:
        was = read_whole(source, REPORT, MOST_BYTES).decode("utf-8", "replace")
        found.append(compare_pages(was, page))
    return tuple(found), page, judged, again


def _rows(
    source: Source, path: str, columns: Sequence[Column], records: Sequence[Record]
) -> Compared:
    if path not in source.sizes:
        return Compared(path, 0, (f"{path} is missing, so there is nothing to hold it against",))
    try:
        with source.open(path) as file:
            return compare_rows(path, lines_of(file, MOST_CELL), columns, records)
    except (csv.Error, ValueError) as e:
        return Compared(path, 0, (f"{path} is no table: {told(e)[:120]}",))
