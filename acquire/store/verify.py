"""Holds a store against its seals: the first row that is not what was recorded.

Read-only; may run while a daemon records. One thread.
"""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

from acquire.store.finding import HAS_REGISTER
from acquire.store.fold import BULK, few, folded
from acquire.store.heads import MOST_LATELY, Folded, kept_folds, kept_heads
from acquire.store.indexes import damage, misled, unled_register
from acquire.store.misfit import Misfit
from acquire.store.reader import StoreReader
from acquire.store.rows import TABLES
from acquire.store.seals import (
    SUM_BYTES,
    Head,
    Line,
    SealRow,
    Stretch,
    read_stretches,
    read_upto,
    row_line,
    sealed_by,
    sum_of,
)

_COLUMNS = ", ".join(SealRow._fields)
_SEALS = f"SELECT {_COLUMNS} FROM seal WHERE id > ? ORDER BY id"  # noqa: S608 - our own names
_DIGEST = "SELECT digest FROM seal WHERE id = ?"
_OF_REGISTER = f"SELECT {_COLUMNS} FROM seal WHERE id <= ? AND ({HAS_REGISTER}) ORDER BY id"  # noqa: S608


class Verdict(NamedTuple):
    """How a store stands: `misfit` is the first thing that does not fit, None if all does.

    `head` is the last seal that does, `rows` how many rows it and those before it have.
    """

    head: Head
    rows: int
    misfit: Misfit | None


def verify(
    reader: StoreReader,
    wanted: Mapping[int, str] | None = None,
    told: Callable[[int], object] = lambda _: None,
) -> Verdict:
    """Look at every seal and every row, in the order in which they were recorded, then at the file.

    `wanted` has digests (hexadecimal) that seals are known to have had, from a page or a note.
    `told` is given the number of rows so far with every seal. Raises `StoreError`.
    """
    with reader.snapshot():
        found = _verify(reader, dict(wanted or {}), told, Head(), {})
        return found if found.misfit else found._replace(misfit=damage(reader))


class Span(NamedTuple):
    """From the first rows of interest to the last ones, by table.

    Of the whole store without any `first`, to its end without `last`.
    """

    first: Mapping[str, int]
    last: Mapping[str, int] | None = None


def misfit_since(reader: StoreReader, first: Mapping[str, int]) -> Misfit | None:
    """As `misfit_within`, of all that was recorded since some rows."""
    return misfit_within(reader, [Span(first)])


def misfit_within(reader: StoreReader, spans: Sequence[Span]) -> Misfit | None:
    """The first thing that does not fit of all that results of these spans may rest on.

    Looked at is every row from the start of the daemon that recorded the first ones to the start of
    the one behind the last ones, since a row that was removed or put in tells as much as a changed
    one; from before that what was recorded of instruments, pieces and certificates. Behind it
    everything that does not come in bulk is held against the folds kept beside the store
    (`acquire.store.fold`), and every row where there are none or one does not fit. So a trial waits
    neither for ten years of checks before it nor for the readings of those that came after it. Last
    come the indexes by which all of it is looked up (`acquire.store.indexes`). Raises `StoreError`.
    """
    # What is recorded once the seals are read is no row that nobody sealed.
    with reader.snapshot():
        return _misfit_within(reader, spans)


def _misfit_within(reader: StoreReader, spans: Sequence[Span]) -> Misfit | None:
    openings = _openings(reader)
    whole = [_seals_of(openings, span) for span in spans]
    head, lasts = min((start for start, _ in whole), key=lambda start: start[0].seal_id)
    register: list[Stretch] = []
    for row in reader.each(_OF_REGISTER, (head.seal_id,)):
        seal = SealRow(*row)
        if (misfit := _alone(reader, seal)) is not None:
            return misfit
        register += read_stretches(seal.stretches)
    briefly = _Briefly([(start.seal_id, end) for (start, _), end in whole], kept_folds(reader.path))
    found = _verify(reader, {}, lambda _: None, head, lasts, briefly).misfit
    if briefly.is_other:
        # By the seals' own digests, which tell the row: a fold tells but that there is one.
        found = _verify(reader, {}, lambda _: None, head, lasts).misfit
    found = found or _other_than_kept(reader) or unled_register(reader, lasts, register)
    if found is not None:
        return found
    upto = {opening.seal_id: last for opening, last in openings}
    return misled(
        reader,
        [(since, upto.get(int(end), {}) if end < math.inf else {}) for (_, since), end in whole],
    )


class _Briefly:
    """Which seals need not be held against all of their rows, and whether their folds fit.

    `whole` are stretches of seals, the first left out, that are looked at row by row.
    """

    def __init__(self, whole: Sequence[tuple[int, float]], kept: Sequence[Folded]) -> None:
        self._whole = whole
        self._kept = {one.since: one for one in kept}
        self._now: Folded | None = None
        self._fold = b""
        self.is_other = False

    def holds(self, seal_id: int) -> bool:
        """Whether the seal has a fold and lies outside of what is looked at row by row."""
        if self._now is None and (begun := self._kept.get(seal_id - 1)) is not None:
            self._now, self._fold = begun, begun.before
        return self._now is not None and not any(a < seal_id <= b for a, b in self._whole)

    def take(self, seal: SealRow, lines: list[Line]) -> None:
        """Another seal, in their order, with the lines that are folded."""
        if self._now is None:
            return
        self._fold = folded(self._fold, seal, lines)
        if seal.id == self._now.upto.seal_id:
            self.is_other |= (self._fold, seal.head) != (self._now.fold, self._now.upto)
            self._now = None

    def end(self) -> None:
        """No seal comes any more: one that was to come is missing."""
        self.is_other |= self._now is not None


def _other_than_kept(reader: StoreReader) -> Misfit | None:
    """The first of the latest heads kept beside the store that it does not have."""
    for seal_id, digest in (kept_heads(reader.path) or [])[-MOST_LATELY:]:
        there = reader.one(_DIGEST, (seal_id,))
        if there is None:
            # A daemon may have recorded since this moment of the store.
            with StoreReader(reader.path) as later:
                there = later.one(_DIGEST, (seal_id,))
        if there is None or bytes(there) != digest:
            return _cut_or_other(seal_id, there is None)
    return None


def _cut_or_other(seal_id: int, is_cut: bool) -> Misfit:
    if is_cut:
        what = "is missing: the end of the store was cut off, or an older copy was put back"
    else:
        what = "is another than the one kept beside the store: it went on from an older copy"
    return Misfit("seal", seal_id, what)


_Start = tuple[Head, dict[str, int]]


def _openings(reader: StoreReader) -> list[tuple[Head, dict[str, int]]]:
    """The seal before each opening one of a daemon, with the last rows there; the beginning first.

    Ends at one that cannot be read.
    """
    found: list[_Start] = [(Head(), {})]
    sql = "SELECT o.id - 1, s.digest, o.upto FROM seal AS o JOIN seal AS s ON s.id = o.id - 1 "
    for number, digest, upto in reader.rows(sql + "WHERE o.upto IS NOT NULL ORDER BY o.id"):
        if upto is None:  # an entry of its index that is none
            break
        try:
            found.append((Head(number, bytes(digest)), read_upto(upto)))
        except ValueError:
            break
    return found


def _seals_of(openings: Sequence[_Start], span: Span) -> tuple[_Start, float]:
    """The last start of a daemon that has none of the span's rows, and the first that has all."""
    before = [o for o in openings if all(o[1].get(t, 0) < n for t, n in span.first.items())]
    # Of no rows in particular it is every row that is of interest.
    start = before[-1] if before and span.first else openings[0]
    ends = (
        head.seal_id
        for head, lasts in openings
        if span.last is not None
        and head.seal_id >= start[0].seal_id
        and all(lasts.get(t, 0) >= n for t, n in span.last.items())
    )
    return start, min(ends, default=math.inf)


def _alone(reader: StoreReader, seal: SealRow) -> Misfit | None:
    """What does not fit of one seal, taken by itself."""
    digest = reader.one(_DIGEST, (seal.id - 1,))
    try:
        found = read_stretches(seal.stretches)
    except ValueError:
        found = [Stretch("", 0, 0)]
    head = Head(seal.id - 1, bytes(digest)) if digest else Head()
    return _misfit(_Tables(reader), head, seal, found, _Briefly((), ()))


def _verify(
    reader: StoreReader,
    known: dict[int, str],
    told: Callable[[int], object],
    head: Head,
    lasts: Mapping[str, int],
    briefly: _Briefly | None = None,
) -> Verdict:
    ends, tables = _Ends(lasts), _Tables(reader)
    briefly = briefly or _Briefly((), ())
    for seal in (SealRow(*row) for row in reader.each(_SEALS, (head.seal_id,))):
        if seal.id != head.seal_id + 1:
            return Verdict(head, ends.rows, Misfit("seal", head.seal_id + 1, "is missing"))
        try:
            found = read_stretches(seal.stretches)
        except ValueError:
            found = [Stretch("", 0, 0)]
        misfit = ends.misplaced(seal.id, found)
        if misfit is None and briefly.holds(seal.id):
            lines = [
                line for one in found if one.table not in BULK for _, line in tables.lines(one)
            ]
            briefly.take(seal, lines)
        elif misfit is None:
            misfit = _misfit(tables, head, seal, found, briefly)
        was = known.pop(seal.id, seal.digest.hex())
        if misfit is None and was != seal.digest.hex():
            what = f"has the digest {seal.digest.hex()[:16]}..., and had {was[:16]}..."
            misfit = Misfit("seal", seal.id, what)
        if misfit is not None:
            return Verdict(head, ends.rows, misfit)
        ends.take(found)
        head = seal.head
        told(ends.rows)
    briefly.end()
    misfit = ends.beside(reader) or _unseen(known) or _unguarded(reader)
    return Verdict(head, ends.rows, misfit)


class _Ends:
    """How far the seals have come, table by table."""

    def __init__(self, lasts: Mapping[str, int]) -> None:
        self._lasts: dict[str, int] = dict.fromkeys(TABLES.values(), 0) | dict(lasts)
        self._left_out: dict[str, list[tuple[int, int]]] = {}
        self.rows = 0

    def misplaced(self, seal_id: int, found: list[Stretch]) -> Misfit | None:
        lasts = dict(self._lasts)
        for table, first, last in found:
            if first <= lasts.get(table, first) or last < first:
                return Misfit("seal", seal_id, "names rows that it cannot have")
            lasts[table] = last
        return None

    def take(self, found: list[Stretch]) -> None:
        for table, first, last in found:
            if first > self._lasts[table] + 1:
                self._left_out.setdefault(table, []).append((self._lasts[table], first))
            self._lasts[table] = last
            self.rows += last - first + 1

    def beside(self, reader: StoreReader) -> Misfit | None:
        """A row that no seal has: somebody else put it in."""
        put_in = "was put in by another program: no seal has it"
        for table, gaps in self._left_out.items():
            sql = f"SELECT min(id) FROM {table} WHERE id > ? AND id < ?"  # noqa: S608 - our names
            for gap in gaps:
                if (found := reader.one(sql, gap)) is not None:
                    return Misfit(table, found, put_in)
        for table, last in self._lasts.items():
            # In two parts: with an OR every row would be looked at.
            sql = (
                f"SELECT min(id) FROM (SELECT min(id) AS id FROM {table} WHERE id > ? "  # noqa: S608
                f"UNION ALL SELECT min(id) FROM {table} WHERE id < 1)"
            )
            if (found := reader.one(sql, (last,))) is not None:
                return Misfit(table, found, put_in)
        return None


def _misfit(
    tables: _Tables, head: Head, seal: SealRow, found: list[Stretch], briefly: _Briefly
) -> Misfit | None:
    """The first row of a seal that is not what was sealed; or the seal, where no row is."""
    sealed: list[tuple[Stretch, list[Line]]] = []
    place = 0
    for stretch in found:
        lines: list[Line] = []
        for row_id, line in tables.lines(stretch):
            if row_id != stretch.first + len(lines):
                break
            if seal.sums[place : place + SUM_BYTES] != sum_of(line):
                return Misfit(stretch.table, row_id, "is not what was recorded")
            place += SUM_BYTES
            lines.append(line)
        if len(lines) != stretch.last - stretch.first + 1:
            return Misfit(stretch.table, stretch.first + len(lines), "is missing")
        sealed.append((stretch, lines))
    if sealed_by(head, sealed, seal.upto) != seal:
        return Misfit("seal", seal.id, f"does not fit what it seals ({seal.stretches or 'no row'})")
    briefly.take(seal, few(sealed))
    return None


class _Tables:
    """The rows of every table, each read once from its first to its last.

    Seals name the rows of a table in the order of their ids, so one query a table does; a query a
    stretch took most of the time.
    """

    def __init__(self, reader: StoreReader) -> None:
        self._reader = reader
        self._rows: dict[str, Iterator[sqlite3.Row]] = {}
        self._ahead: dict[str, sqlite3.Row | None] = {}

    def lines(self, stretch: Stretch) -> Iterator[tuple[int, Line]]:
        """The rows of a stretch that are there; those before it are passed over."""
        table, first, last = stretch
        if table not in TABLES.values():
            return
        if (ahead := self._ahead.get(table)) is not None and ahead[0] < first:
            # Rows that are not looked at lie between.
            del self._rows[table]
        if table not in self._rows:
            sql = f"SELECT * FROM {table} WHERE id >= ? ORDER BY id"  # noqa: S608 - our own names
            self._rows[table] = self._reader.each(sql, (first,))
            self._ahead[table] = next(self._rows[table], None)
        rows, row = self._rows[table], self._ahead[table]
        try:
            while row is not None and row[0] <= last:
                line = row_line(row, table) if (number := row[0]) >= first else None
                row = next(rows, None)
                if line is not None:
                    yield number, line
        finally:
            # Also where whoever asked has seen enough.
            self._ahead[table] = row


def _unguarded(reader: StoreReader) -> Misfit | None:
    """Every row fits, and yet somebody opened the way to change them."""
    missing, strange = reader.other_guards()
    told = [f"without {name}" for name in missing] + [f"with {name}" for name in strange]
    if not told:
        return None
    what = f"fits, but its guards are not those of Coatbench: it is {', '.join(told[:4])}"
    return Misfit("every row", None, what)


def _unseen(known: Mapping[int, str]) -> Misfit | None:
    if not known:
        return None
    return _cut_or_other(min(known), is_cut=True)
