"""Writes the data package of a trial: rows, files, results, report, what they are, digests.

Reads the store at one moment of it; one thread at a time (`acquire.report.plots.sheet`).
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

from acquire.errors import Misuse
from acquire.report.files.outplace import require_place, unwritable, words_of
from acquire.report.files.photofiles import look_at
from acquire.report.files.wholefolder import require_folder, whole_folder
from acquire.report.package.descriptor import (
    Written,
    as_text,
    descriptor,
    file_resource,
    store_resource,
    table_resource,
)
from acquire.report.package.limits import MOST_BYTES
from acquire.report.package.readme import readme
from acquire.report.package.scope import Ids, rows_of
from acquire.report.package.shape import TableShape, shapes
from acquire.report.package.tabular import (
    Json,
    result_cells,
    result_schema,
    table_cells,
    table_schema,
    write_rows,
)
from acquire.report.package.target import FolderTarget, Target, whole_zip
from acquire.report.page import render
from acquire.report.record.loading import trial_in
from acquire.report.record.record import TrialRecord
from acquire.report.rows import export
from acquire.report.rows.resultrows import COLUMNS as RESULT_COLUMNS
from acquire.report.rows.resultrows import result_records
from acquire.report.words.columns import Column, Record
from acquire.store.reader import StoreReader
from acquire.store.seals import row_line

DESCRIPTOR, README, SUMS, REPORT = "datapackage.json", "README.md", "SHA256SUMS", "report.html"
RESULTS, READINGS, DIGESTS = "results.csv", "readings.csv", "row-digests.csv"
ZIP = ".zip"
OWN = re.compile(
    r"datapackage\.json|README\.md|SHA256SUMS|report\.html|(?:results|readings|row-digests)\.csv"
    r"|store/[a-z_]+\.csv|(?:files|photos)/[0-9a-f]{64}(?:\.[a-z0-9]{1,5})?"
)
WHAT = "a data package"
DIGEST_DIGITS = 16
MOST_PHOTO_BYTES = 256 << 20
_KEY = "trial_key"
_PART = 500
_ENDING = re.compile(r"\.[a-z0-9]{1,5}\Z", re.ASCII)


class Packed(NamedTuple):
    """What was written: how many rows and bytes, and of which other trials some rows are in it.

    `photos` is how many pictures were taken along, `lost` are words on those that could not be.
    """

    rows: int
    size_bytes: int
    others: tuple[str, ...]
    misfit: str
    photos: int = 0
    lost: tuple[str, ...] = ()


def write_package(
    store: Path, trial: str, out: Path, *, photos: bool = False, folders: Sequence[Path] = ()
) -> Packed:
    """Write the package of a trial to a folder, or to a file that ends in ``.zip``.

    With `photos` the recorded pictures are in it, those that were moved out of `folders`. Raises
    as `acquire.report.write_report`, and `Misuse` for a place that may not be taken.
    """
    is_zip = out.suffix.lower() == ZIP
    with StoreReader(store) as reader, reader.snapshot():
        trial_in(reader, trial)
    if is_zip:
        require_place(out, "zip", store)
    else:
        require_folder(out, OWN, WHAT, store)
    with _target(out, is_zip, store) as target:
        return _Writing(store, trial, target).whole(folders if photos else None)


@contextmanager
def _target(out: Path, is_zip: bool, store: Path) -> Iterator[Target]:
    if not is_zip:
        with whole_folder(out, OWN, WHAT, store) as folder:
            yield FolderTarget(folder)
        return
    place = Path(os.path.realpath(out))
    part = place.with_name(f".{os.getpid()}-package.part")
    try:
        with whole_zip(place, part) as target:
            yield target
    except OSError as e:
        raise unwritable(out, words_of(e)) from e
    finally:
        part.unlink(missing_ok=True)


class _Writing:
    """One package on its way; its rows are of one moment, whatever is recorded meanwhile."""

    def __init__(self, store: Path, trial: str, target: Target) -> None:
        self._store = store
        self._trial = trial
        self._target = target
        self._written: list[Written] = []
        self._resources: list[Json] = []
        self._digests: list[tuple[str, int, str]] = []
        self._sealed: set[int] = set()

    def whole(self, photos_in: Sequence[Path] | None = None) -> Packed:
        """Write everything; the photos, too, where folders to look for them are given."""
        with StoreReader(self._store) as reader, reader.snapshot():
            record = trial_in(reader, self._trial)
            ids = rows_of(reader, record)
            others = _others(reader, ids, record)
            self._results(record)
            self._sealed = _sealed_keys(reader, ids)
            tables = self._tables(reader, ids)
            moments = [record.plans[-1].at_utc_ns, *(r.at_utc_ns for r in record.readings)]
            self._readings(reader, record)
        self._put(REPORT, render(record).encode(), "Report of the trial", "text/html")
        text = readme(record, others, len(self._digests), bool(self._sealed))
        self._put(README, text.encode(), "How to read this package", "text/markdown")
        taken, lost = self._photos(record, photos_in)
        self._resources += tables
        self._row_digests()
        text = as_text(descriptor(record, self._resources, max(moments)))
        self._written.append(self._target.put(DESCRIPTOR, text.encode()))
        size = sum(one.size_bytes for one in self._written)
        if size > MOST_BYTES:
            raise Misuse(
                "the package would be larger than any that is read back",
                got=f"{size:,} bytes",
                wanted=f"at most {MOST_BYTES:,}",
                next_step="copy the store itself; coatbench store verify goes with it",
            )
        sums = "".join(f"{one.sha256}  {one.path}\n" for one in self._written)
        self._target.put(SUMS, sums.encode())
        return Packed(len(self._digests), size, tuple(others), record.misfit, taken, tuple(lost))

    def _photos(self, record: TrialRecord, folders: Sequence[Path] | None) -> tuple[int, list[str]]:
        """Takes the pictures along, each once and as recorded; how many, and what is lost."""
        taken: set[str] = set()
        lost: list[str] = []
        for photo in () if folders is None else look_at(record.work.photos, folders):
            row = photo.row
            if row.sha256 in taken:
                continue
            content = b"" if photo.file is None else _read(photo.file)
            if hashlib.sha256(content).hexdigest() != row.sha256:
                lost.append(photo.words)
                continue
            taken.add(row.sha256)
            ending = _ENDING.search(row.path.lower())
            title = f"Photo {row.id}"
            path = f"photos/{row.sha256}{ending[0] if ending else ''}"
            self._put(path, content, title, "application/octet-stream")
        return len(taken), lost

    def _results(self, record: TrialRecord) -> None:
        found = list(result_records(record))
        title = "Decisions, pairs, places and lives"
        self._table(RESULTS, "results", title, RESULT_COLUMNS, found)

    def _readings(self, reader: StoreReader, record: TrialRecord) -> None:
        scope = readings_scope(self._trial)
        found = list(export.records(reader, scope, load=lambda _: record))
        self._table(READINGS, "readings", "Every reading", export.COLUMNS, found)

    def _table(
        self, path: str, name: str, title: str, columns: Sequence[Column], found: Sequence[Record]
    ) -> None:
        with self._target.text(path, self._written) as file:
            head = [column.name for column in columns]
            write_rows(file, head, (result_cells(columns, record) for record in found))
        schema = result_schema(columns, found)
        self._resources.append(
            table_resource(name, title, title, schema, self._written[-1], len(found))
        )

    def _tables(self, reader: StoreReader, ids: Ids) -> list[Json]:
        found = []
        for shape in shapes().values():
            rows = list(_rows(reader, shape, sorted(ids[shape.name])))
            if shape.name == _KEY:
                rows = [_withheld(shape, row, self._sealed) for row in rows]
            files = self._files(shape, rows)
            with self._target.text(f"store/{shape.name}.csv", self._written) as file:
                write_rows(file, shape.names, (table_cells(shape, row, files) for row in rows))
            self._digests += [(shape.name, row[0], row_digest(row, shape.name)) for row in rows]
            schema = table_schema(shape, rows)
            found.append(store_resource(shape, schema, self._written[-1], len(rows)))
        return found

    def _files(self, shape: TableShape, rows: Sequence[tuple[Any, ...]]) -> dict[int, str]:
        """Writes the bytes of files as files, each once; gives their paths by row."""
        if not shape.file_column:
            return {}
        paths: dict[int, str] = {}
        for row in rows:
            content = row[shape.column(shape.file_column)]
            name = str(row[shape.column("name")]) if "name" in shape.names else ""
            ending = _ENDING.search(name.lower())
            sha256 = hashlib.sha256(content).hexdigest()
            path = f"files/{sha256}{ending[0] if ending else ''}"
            if path not in paths.values():
                title = f"File of {shape.name.replace('_', ' ')} {row[0]}"
                self._put(path, content, title, "application/octet-stream")
            paths[row[0]] = path
        return paths

    def _put(self, path: str, content: bytes, title: str, mediatype: str) -> None:
        written = self._target.put(path, content)
        self._written.append(written)
        name = re.sub(r"[^-a-z0-9._/]", "-", path.lower())
        self._resources.append(file_resource(name, title, mediatype, written))

    def _row_digests(self) -> None:
        columns = (
            Column("table", "the table of the store", True),
            Column("id", "the row"),
            Column("digest", f"first {DIGEST_DIGITS} digits of the SHA-256 of the row's line, "
                   "the tuple of its columns as Python's ascii() writes it", True),
        )  # fmt: skip
        records: list[Record] = [
            {"table": table, "id": row, "digest": digest} for table, row, digest in self._digests
        ]
        self._table(DIGESTS, "row-digests", "Digests of the store's rows", columns, records)


def _read(path: Path) -> bytes:
    """A picture; nothing where it cannot be read any more, or is larger than any is."""
    try:
        return path.read_bytes() if path.stat().st_size <= MOST_PHOTO_BYTES else b""
    except OSError:
        return b""


def readings_scope(trial: str) -> export.Scope:
    """Which readings a package has as results: of the trial, and of the checks around them."""
    return export.Scope(trial, checks=True)


def row_digest(row: Sequence[Any], table: str) -> str:
    """What tells a row from every other content of it."""
    return hashlib.sha256(row_line(row, table)).hexdigest()[:DIGEST_DIGITS]


def _rows(reader: StoreReader, shape: TableShape, ids: Sequence[int]) -> Iterator[tuple[Any, ...]]:
    columns = ", ".join(shape.names)
    for at in range(0, len(ids), _PART):
        part = ids[at : at + _PART]
        marks = ", ".join("?" * len(part))
        sql = f"SELECT {columns} FROM {shape.name} WHERE id IN ({marks}) ORDER BY id"  # noqa: S608
        yield from map(tuple, reader.each(sql, part))


def _others(reader: StoreReader, ids: Ids, record: TrialRecord) -> list[str]:
    """Other trials of which rows are in a package."""
    shape = shapes()["trial"]
    names = {row[shape.column("trial")] for row in _rows(reader, shape, sorted(ids["trial"]))}
    return sorted(names - {record.plan.id})


def _sealed_keys(reader: StoreReader, ids: Ids) -> set[int]:
    """Keys of blind trials that nobody has unsealed so far."""
    opened = {
        row[0] for row in reader.rows("SELECT key_id FROM key_opening WHERE how = 'unsealed'")
    }
    return ids[_KEY] - opened


def _withheld(shape: TableShape, row: tuple[Any, ...], sealed: set[int]) -> tuple[Any, ...]:
    """The row of a key; of a sealed one without the key itself: a package keeps a secret."""
    if row[0] not in sealed:
        return row
    place = shape.column("sealed")
    return (*row[:place], b"", *row[place + 1 :])
