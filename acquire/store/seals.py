"""The chain of seals: what was recorded, commit by commit, so that a later change is found.

Every commit of the writer ends with a seal. Its digest is the SHA-256 (FIPS 180-4) of the digest
before it, then of each stretch of rows that the commit appended: a line with table, first and last
id, then a line a row. The line of a row is the Python tuple of its columns as `ascii` writes it:
numbers, text and bytes have one spelling there, in every version of Python, and
`ast.literal_eval` reads it. A column that a table got after its first rows may have been sealed
(`GROWN`) is left out where it and all behind it are NULL, as in every row from before it was there.
`stretches` names the stretches in their order, and `sums` has the
CRC-32 of each line, which proves nothing and says which row it is that does not fit. The first seal
of a daemon has no rows but `upto`, the last row of each table; it is part of the digest as it is.

A chain shows that rows were changed, removed or put in between. It cannot show that everything
from some row on was made anew by somebody who can compute digests: for that a digest has to be
known from elsewhere, such as a page that was published. Records are to be kept from tampering and
loss (ISO/IEC 17025:2017, 7.11.3, from memory). Pure; one thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from hashlib import sha256
from itertools import groupby
from operator import itemgetter
from typing import NamedTuple
from zlib import crc32

SEALS = """
CREATE TABLE seal (
    id INTEGER PRIMARY KEY, stretches TEXT NOT NULL, sums BLOB NOT NULL,
    digest BLOB NOT NULL CHECK (length(digest) = 32), upto TEXT
) STRICT;
CREATE INDEX seal_upto ON seal (id) WHERE upto IS NOT NULL;
"""
TABLE = "seal"
SUM_BYTES = 4
NO_DIGEST = bytes(32)
"""Before the first seal."""

GROWN: dict[str, int] = {
    "certificate": 13,
    "check_begin": 10,
    "check_judgement": 8,
    "climate": 6,
    "connection": 6,
    "disconnection": 4,
    "instrument": 9,
}
"""Tables that have got columns since there are seals, with the number of columns they had then."""

Line = bytes


class Stretch(NamedTuple):
    """Rows of one table with ids in a row."""

    table: str
    first: int
    last: int

    def __str__(self) -> str:
        return f"{self.table} {self.first} {self.last}"


class Head(NamedTuple):
    """Where a chain ends: its last seal."""

    seal_id: int = 0
    digest: bytes = NO_DIGEST

    def __str__(self) -> str:
        """``SEAL:DIGEST``, as a page has it and `coatbench store verify` takes it."""
        return f"{self.seal_id}:{self.digest.hex()}"


class SealRow(NamedTuple):
    """A seal as the store has it."""

    id: int
    stretches: str
    sums: bytes
    digest: bytes
    upto: str | None

    @property
    def head(self) -> Head:
        """Where the chain ends with this one."""
        return Head(self.id, self.digest)


def row_line(row: Sequence[object], table: str = "") -> Line:
    """A row as it is sealed."""
    told = tuple(row)
    if table in GROWN:
        least = GROWN[table]
        while len(told) > least and told[-1] is None:
            told = told[:-1]
    return ascii(told).encode("ascii")


def stretches(table: str, rows: Iterable[Sequence[object]]) -> Iterator[tuple[Stretch, list[Line]]]:
    """Rows of a table, in the order of their ids, as lines, cut where an id is left out."""
    numbered = enumerate(rows)
    for _, run in groupby(numbered, key=lambda one: _step(one[1][0], one[0])):
        own = [row for _, row in run]
        lines = [row_line(row, table) for row in own]
        yield Stretch(table, _id(own[0]), _id(own[-1])), lines


def sealed_by(
    head: Head, found: Sequence[tuple[Stretch, list[Line]]], upto: str | None = None
) -> SealRow:
    """The seal of these stretches behind a head."""
    digest, sums = sha256(head.digest), bytearray()
    told: list[str] = []
    whole: list[Line] = []
    if upto is not None:
        digest.update(upto.encode())
    for (table, first, last), lines in found:
        # As a stretch is told, and as `sum_of`, without a call in the path of every reading.
        words = f"{table} {first} {last}"
        told.append(words)
        whole.append(words.encode())
        whole += lines
        for line in lines:
            sums += crc32(line).to_bytes(SUM_BYTES, "big")
    # Each line ends with its sign, the last one, too.
    whole.append(b"")
    digest.update(b"\n".join(whole))
    return SealRow(head.seal_id + 1, ", ".join(told), bytes(sums), digest.digest(), upto)


def read_stretches(text: str) -> list[Stretch]:
    """The stretches that a seal names. Raises ValueError where the text is none."""
    found = []
    for words in filter(None, text.split(", ")):
        table, first, last = words.split(" ")
        found.append(Stretch(table, int(first), int(last)))
    return found


def upto_words(lasts: Mapping[str, int]) -> str:
    """The last rows of all tables, as a seal has them."""
    return ", ".join(f"{table} {last}" for table, last in lasts.items())


def read_upto(text: str) -> dict[str, int]:
    """The last rows that a seal names. Raises ValueError where the text is none."""
    pairs = (words.split(" ") for words in filter(None, text.split(", ")))
    return {table: int(last) for table, last in pairs}


def sum_of(line: Line) -> bytes:
    """What tells a line from others."""
    return crc32(line).to_bytes(SUM_BYTES, "big")


def by_table(
    rows: Iterable[Sequence[object]], tables: dict[type, str]
) -> list[tuple[Stretch, list[Line]]]:
    """The rows of a commit as stretches, table by table."""
    found: list[tuple[Stretch, list[Line]]] = []
    sorts: dict[str, list[Sequence[object]]] = {}
    for row in rows:
        sorts.setdefault(tables[type(row)], []).append(row)
    for table, own in sorts.items():
        if len(own) == 1:
            # As nearly all of a press: the same as below, in fewer steps.
            (row,) = own
            number = _id(row)
            found.append((Stretch(table, number, number), [row_line(row, table)]))
            continue
        own.sort(key=itemgetter(0))
        found += stretches(table, own)
    return found


def _id(row: Sequence[object]) -> int:
    value = row[0]
    assert isinstance(value, int)
    return value


def _step(number: object, place: int) -> int:
    assert isinstance(number, int)
    return number - place
