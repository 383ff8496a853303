"""Results as a package has them, held against results computed anew: cell by cell. Pure."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from acquire.report.markdown.tree import Element, page_tree
from acquire.report.package.tabular import result_cells
from acquire.report.words.columns import Column, Record

_SECTION = '<section id="'
_MOST_CHARACTERS = 60
_BEFORE_CHARACTERS = 20
"""So much of what both have in common stands before what differs."""
_BLOCKS = frozenset(("p", "li", "td", "th", "dd", "dt", "h1", "h2", "h3", "h4", "summary", "pre"))
_ELSEWHERE = "in this store and ha"
"""Of the loose readings that have nothing to do with the trial: a package has none of them."""
_ADDED = frozenset(("too_late",))
"""Columns that came to results and readings after packages had been written."""
_APART = frozenset(("provenance",))
"""What a page says of the file it was made from."""


class Compared(NamedTuple):
    """How many figures and words there are, and which differ, in words."""

    what: str
    figures: int
    unlike: tuple[str, ...]


def compare_rows(
    what: str, lines: Iterable[str], columns: Sequence[Column], records: Sequence[Record]
) -> Compared:
    """Rows of CSV against records. Raises `csv.Error` and ValueError where they are none.

    A package from before a column has none of it, and is held against the others.
    """
    reader = csv.reader(lines)
    head = next(reader, [])
    columns = [column for column in columns if column.name in head or column.name not in _ADDED]
    names = [column.name for column in columns]
    unlike: list[str] = []
    if head != names:
        unlike.append(f"{what}: other columns than this Coatbench has")
        return Compared(what, 0, tuple(unlike))
    told = [result_cells(columns, record) for record in records]
    # As a reader of CSV gets it, for instance where a cell has a line end.
    packed = list(reader)
    count = 0
    if len(packed) != len(told):
        unlike.append(f"{what}: {len(packed)} rows, and computed anew {len(told)}")
    for number, (was, now) in enumerate(zip(packed, told, strict=False), 1):
        for name, old, new in zip(names, was, now, strict=False):
            count += bool(new)
            if old != new:
                was_said, now_said = _apart(old, new)
                unlike.append(
                    f"{what} row {number} ({_place(names, now)}), {name}: {was_said}, and "
                    f"computed anew {now_said}"
                )
        if len(was) != len(now):
            unlike.append(f"{what} row {number}: {len(was)} cells")
    return Compared(what, count, tuple(unlike))


def compare_pages(was: str, now: str) -> Compared:
    """Every text of two pages but what they say of the file they were made from."""
    try:
        new = list(_texts(page_tree(now)))
        # Reading a page takes seconds: one that has the same characters needs no second reading.
        old = new if _sections(was) == _sections(now) else list(_texts(page_tree(was)))
    except (ValueError, StopIteration, IndexError):
        return Compared("report.html", 0, ("report.html is no page of Coatbench",))
    unlike = [
        "report.html: {}, and made anew {}".format(*_apart(a, b))
        for a, b in zip(old, new, strict=False)
        if a != b
    ]
    if len(old) != len(new):
        unlike.append(f"report.html: {len(old)} texts, and made anew {len(new)}")
    return Compared("report.html", len(new), tuple(unlike))


def _sections(page: str) -> list[str]:
    """The characters of a page without its sections that tell of the file it was made from."""
    parts = page.split(_SECTION)
    return [part for part in parts if part.partition('"')[0] not in _APART]


def _texts(element: Element) -> Iterator[str]:
    for child in element.children:
        if child.tag == "section" and child.attributes.get("id") in _APART:
            continue
        if child.tag in _BLOCKS and not any(c.tag in _BLOCKS for c in child.children):
            if _ELSEWHERE not in child.text:
                yield child.text
        else:
            yield from _texts(child)
        if child.tag == "svg":
            yield child.drawing


def _place(names: Sequence[str], cells: Sequence[str]) -> str:
    """Which row it is, by what people know it by."""
    of = dict(zip(names, cells, strict=True))
    known = ("result", "reading_id", "measure", "channel", "stage", "zone", "treatment", "against")
    return ", ".join(of[name] for name in known if of.get(name))[:120]


def _apart(one: str, other: str) -> tuple[str, str]:
    """Two texts that differ, shortened so that it shows where; of long ones what stands there."""
    pairs = zip(one, other, strict=False)
    same = next((k for k, (a, b) in enumerate(pairs) if a != b), min(len(one), len(other)))
    first = max(0, same - _BEFORE_CHARACTERS)
    if max(len(one), len(other)) <= _MOST_CHARACTERS or first <= _BEFORE_CHARACTERS:
        first = 0
    return _short(one, first), _short(other, first)


def _short(text: str, first: int) -> str:
    part = text[first : first + _MOST_CHARACTERS]
    before = "..." if first else ""
    after = "..." if len(text) > first + _MOST_CHARACTERS else ""
    return f"{before}{part}{after}" or "nothing"
