"""Results of earlier years out of a CSV file: figures by a mapping, or every faulty line at once.

What comes out is imported and unchecked: no reading is behind it that this store could show. Pure;
any thread.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple, TypeVar

from acquire.errors import Fault, SettingsError
from acquire.model.past import AT_LEAST, HIGHER, PastKind
from acquire.schema import either, show
from acquire.schema.band import band
from acquire.settings.fields import GLOSS_ANGLES
from acquire.settings.mapping import Cell, FigureColumns, units_for
from acquire.settings.mapping import Mapping as Columns
from acquire.units import normalise

LARGEST_BYTES = 2_000_000
MOST_RESULTS = 50_000
MOST_TOLD = 50
LONGEST_CELL = 1000

_NUMBER = re.compile(r"[+-]?\d{1,24}(?:\.\d{1,24})?(?:[eE][+-]?\d{1,2})?")
_LARGEST = Decimal("1e12")
_Made = TypeVar("_Made")


@dataclass(frozen=True, slots=True)
class PastResult:
    """One figure. `line` is the line of the file on which its row begins, from 1.

    A life that had not ended has `AT_LEAST` among its conditions, and counts as the same figure.

    `value` and `expanded_uncertainty` (95 %, None where the file has none) are decimal texts in
    `unit`, which is the unit that the quantity is kept in. `conditions` is what else has to be
    alike where figures are compared.
    """

    line: int
    trial: str
    treatment: str
    figure: str
    quantity: str
    channel: str
    stage: str
    value: str
    unit: str
    expanded_uncertainty: str | None
    conditions: Mapping[str, str] = field(default_factory=dict)


class _Row(NamedTuple):
    line: int
    cells: dict[str, str]


class _Unfit(Exception):
    """A cell that cannot be read: its heading, what was got, what was wanted."""

    def __init__(self, column: str, got: str, wanted: str) -> None:
        super().__init__(column)
        self.fault = (column, got, wanted)


def past_results(data: bytes, columns: Columns, source: str) -> tuple[PastResult, ...]:
    """Every figure of a file, in its order.

    Raises `SettingsError` with all faults of the file, the first fifty of many in full.
    """
    if len(data) > LARGEST_BYTES:
        raise too_large(source)
    faults: list[Fault] = []
    rows = _rows(_text(data, columns, source), columns, source, faults)
    found: list[PastResult] = []
    first: dict[tuple[object, ...], int] = {}
    for row in rows:
        for result in _figures(row, columns, faults):
            key = (
                result.trial, result.treatment, result.figure, result.quantity, result.channel,
                result.stage,
                *sorted(c for c in result.conditions.items() if c[0] != AT_LEAST),
            )  # fmt: skip
            if key in first:
                got = f"{show(result.figure)} of {show(result.treatment)} a second time"
                faults.append(_fault(row.line, "", got, f"it once; line {first[key]} has it"))
            first.setdefault(key, row.line)
            found.append(result)
    if not faults and not found:
        faults.append(Fault("file", "no row with a value", "a row with a value, at least"))
    if len(found) > MOST_RESULTS:
        faults.append(Fault("file", f"{len(found)} figures", f"at most {MOST_RESULTS}"))
    if faults:
        raise _told(source, sorted(faults, key=_line_of))
    return tuple(found)


def too_large(source: str) -> SettingsError:
    """The one fault of a file that is not even read."""
    wanted = f"a table of results, at most {LARGEST_BYTES // 1_000_000} MB"
    return SettingsError(
        source,
        [Fault("file", f"more than {LARGEST_BYTES // 1_000_000} MB", wanted)],
        next_step="take out what is no result, or split the table, and try again",
    )


def _told(source: str, faults: Sequence[Fault]) -> SettingsError:
    error = SettingsError(
        source, list(faults[:MOST_TOLD]), next_step=f"mend {source} or the mapping; nothing is kept"
    )
    if len(faults) > MOST_TOLD:
        error.what = f"{source} has {len(faults)} faults, the first {MOST_TOLD} of which are"
    return error


def _line_of(fault: Fault) -> int:
    """Faults come by line; those of the whole file last."""
    number = re.match(r"line (\d+)", fault.path)
    return int(number[1]) if number else MOST_RESULTS * 100


def _fault(line: int, column: str, got: str, wanted: str) -> Fault:
    return Fault(f"line {line}, column {show(column)}" if column else f"line {line}", got, wanted)


# -- from bytes to rows ----------------------------------------------------------------------------


def _text(data: bytes, columns: Columns, source: str) -> str:
    try:
        text = data.decode(columns.encoding)
    except UnicodeDecodeError as trouble:
        line = data.count(b"\n", 0, trouble.start) + 1
        got = f"the byte 0x{data[trouble.start]:02x}, which is no {columns.encoding}"
        wanted = 'the encoding that the file was saved in, such as encoding = "cp1252"'
        raise SettingsError(source, [Fault(f"line {line}", got, wanted)]) from None
    except UnicodeError:
        got = f"bytes that are no {columns.encoding}"
        wanted = "the encoding that the file was saved in"
        raise SettingsError(source, [Fault("file", got, wanted)]) from None
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        wanted = 'text; a file with NUL at every other place is encoding = "utf-16"'
        raise SettingsError(source, [Fault(f"line {line}", "a NUL", wanted)])
    return text.removeprefix("\ufeff")


def _rows(text: str, columns: Columns, source: str, faults: list[Fault]) -> list[_Row]:
    """The rows of a file; those of another length than the headings go to `faults`."""
    lines = io.StringIO(text, newline="")
    for _ in range(columns.skip_lines):
        lines.readline()
    reader = csv.reader(lines, delimiter=columns.delimiter, quotechar=columns.quote, strict=True)
    headings: list[str] | None = None
    found: list[_Row] = []
    begun = columns.skip_lines + 1
    try:
        for cells in reader:
            line, begun = begun, columns.skip_lines + reader.line_num + 1
            if headings is None:
                headings = [cell.strip() for cell in cells]
                _require_headings(headings, columns, source, line)
            elif any(cell.strip() for cell in cells):
                if len(cells) != len(headings):
                    got, wanted = f"{len(cells)} cells", f"{len(headings)}, as there are headings"
                    faults.append(_fault(line, "", got, wanted))
                else:
                    found.append(_Row(line, dict(zip(headings, cells, strict=True))))
    except csv.Error as error:
        raise SettingsError(
            source, [*faults[: MOST_TOLD - 1], _syntax(str(error), begun)]
        ) from None
    if headings is None:
        raise SettingsError(source, [Fault("file", "nothing in it", "a line of headings")])
    return found


def _syntax(reason: str, line: int) -> Fault:
    if "end of data" in reason:
        return Fault(f"line {line}", "a quote that is never closed", "a closing quote")
    if "field limit" in reason:
        return Fault(
            f"line {line}",
            "a cell of more than 131,072 signs",
            "cells of a table; perhaps a quote before it is never closed",
        )
    if "expected after" in reason:
        wanted = "a delimiter behind a closing quote, and two quotes for one inside a cell"
        return Fault(f"line {line}", "more text behind a closing quote", wanted)
    return Fault(f"line {line}", show(reason), "lines of CSV with the delimiter of the mapping")


def _require_headings(headings: Sequence[str], columns: Columns, source: str, line: int) -> None:
    faults = []
    for name in dict.fromkeys(h for h in headings if h):
        if headings.count(name) > 1:
            got = f"the heading {show(name)} {headings.count(name)} times"
            faults.append(_fault(line, "", got, "each heading once"))
    for name in columns.columns:
        if name not in headings:
            told = either([h for h in headings if h][:20], "and")
            hint = " (is the delimiter right?)" if len(headings) == 1 else ""
            faults.append(_fault(line, "", f"no heading {show(name)}", f"it among {told}{hint}"))
    if faults:
        raise _told(source, faults)


# -- from a row to figures -------------------------------------------------------------------------


def _figures(row: _Row, columns: Columns, faults: list[Fault]) -> Iterator[PastResult]:
    """The figures of a row; what cannot be read goes to `faults`, every cell of it."""
    told: list[tuple[str, str, str]] = []

    def get(cell: Cell, what: str, *, may_lack: bool = False) -> str:
        try:
            return _cell(row, cell, what, may_lack=may_lack)
        except _Unfit as unfit:
            told.append(unfit.fault)
            return ""

    def take(make: Callable[..., _Made], *of: object) -> _Made | None:
        try:
            return make(*of)
        except _Unfit as unfit:
            told.append(unfit.fault)
            return None

    trial = get(columns.trial, "the name of a trial")
    treatment = get(columns.treatment, "the name of a product")
    conditions = {
        name: text
        for name, cell in columns.conditions
        if (text := get(cell, f"what {name} was", may_lack=True))
    }
    for figure in columns.figures:
        if not row.cells[figure.value].strip():
            # An empty cell is a figure that was not taken.
            continue
        name = get(figure.name, "the name of a figure")
        stage = get(figure.stage, "a stage", may_lack=True)
        before = len(told)
        u: Decimal | None = None
        if figure.uncertainty and row.cells[figure.uncertainty].strip():
            u = take(_uncertainty, row, figure, columns)
        kind = take(_kind, row, figure)
        is_least = kind is PastKind.WASHES and _is_at_least(row.cells[figure.value])
        number = take(_number, row, figure.value, columns, is_least)
        if kind is None or number is None or len(told) > before:
            continue
        channel = take(_channel, row, figure, kind)
        kept = take(_in_unit, row, figure, kind, columns, number, u)
        if channel is None or kept is None:
            continue
        value, wide, unit = kept
        yield PastResult(
            row.line, trial, treatment, name, kind.value, channel, stage, value, unit, wide,
            conditions
            | {HIGHER: "yes" if figure.higher_is_better else "no"}
            | ({AT_LEAST: "yes"} if is_least else {}),
        )  # fmt: skip
    faults += [_fault(row.line, *one) for one in dict.fromkeys(told)]


def _cell(row: _Row, cell: Cell, what: str, *, may_lack: bool = False) -> str:
    text = row.cells[cell.column].strip() if cell.column else cell.text
    if not text and not may_lack:
        raise _Unfit(cell.column, "nothing", what)
    if text.startswith("="):
        raise _Unfit(cell.column, f"a formula, {show(text)}", f"{what}, as text")
    if len(text) > LONGEST_CELL:
        raise _Unfit(cell.column, f"{len(text)} signs", f"{what}, at most {LONGEST_CELL} signs")
    if any(ord(sign) < 32 or sign == "\x7f" for sign in text):
        raise _Unfit(cell.column, show(text), f"{what} on one line, without control signs")
    return text


def _kind(row: _Row, figure: FigureColumns) -> PastKind:
    text = _cell(row, figure.kind, "a quantity")
    try:
        return PastKind(text.lower())
    except ValueError:
        raise _Unfit(figure.kind.column, show(text), either([k.value for k in PastKind])) from None


def _channel(row: _Row, figure: FigureColumns, kind: PastKind) -> str:
    text = _cell(row, figure.channel, "a geometry or a band", may_lack=True).removesuffix("°")
    if kind is PastKind.GLOSS:
        angles = [str(angle) for angle in GLOSS_ANGLES]
        if text.strip() not in angles:
            wanted = f"a geometry: {either(angles)} (degrees)"
            raise _Unfit(figure.channel.column, show(text) if text else "nothing", wanted)
        return text.strip()
    if kind is PastKind.TRANSMITTANCE:
        try:
            return band(text)
        except ValueError as error:
            raise _Unfit(figure.channel.column, show(text), str(error)) from None
    if text:
        raise _Unfit(figure.channel.column, show(text), f"nothing: {kind} has no channel")
    return ""


def _uncertainty(row: _Row, figure: FigureColumns, columns: Columns) -> Decimal:
    u = figure.factor * _number(row, figure.uncertainty, columns)
    if u < 0:
        written = show(row.cells[figure.uncertainty])
        raise _Unfit(figure.uncertainty, written, "an uncertainty, 0 or more")
    return u


def _in_unit(
    row: _Row, figure: FigureColumns, kind: PastKind, columns: Columns, value: Decimal,
    u: Decimal | None,
) -> tuple[str, str | None, str]:  # fmt: skip
    """Value and uncertainty in the unit that the quantity is kept in, and that unit."""
    written = _cell(row, figure.unit, "a unit")
    unit, able = columns.units.get(written, written), units_for(kind)
    if unit not in able:
        known = [*able, *(w for w, u in columns.units.items() if u in able)]
        wanted = f"a unit of {kind}: {either(known)}; the table [units] says what others mean"
        raise _Unfit(figure.unit.column, show(written), wanted)
    if kind.quantity is None:
        return f"{value:f}", None if u is None else f"{u:f}", "one"
    kept, name = normalise(value, unit, kind.quantity)
    wide = None if u is None else normalise(u, unit, kind.quantity)[0]
    return f"{kept:f}", None if wide is None else f"{wide:f}", name


def _is_at_least(text: str) -> bool:
    """Whether a life is written as one that had not ended when washing did: ``>20``, ``≥ 20``."""
    return text.lstrip().startswith((">", "\u2265"))


def _number(row: _Row, column: str, columns: Columns, is_least: bool = False) -> Decimal:
    text = row.cells[column].strip()
    if is_least:
        text = text.lstrip(">=\u2265 ")
    if text.startswith("="):
        raise _Unfit(column, f"a formula, {show(text)}", "the number that it came to")
    other = "," if columns.decimal == "." else "."
    plain = text.replace("\u2212", "-")
    if other not in plain:
        plain = plain.replace(columns.decimal, ".")
        if _NUMBER.fullmatch(plain):
            value = Decimal(plain)
            if value.copy_abs() <= _LARGEST and (not value or value.adjusted() > -13):
                return value
            raise _Unfit(column, show(text), "a number from -1e12 to 1e12, of at most 12 decimals")
    wanted = (
        f'a number such as 12{columns.decimal}5, without a unit (decimal = "{columns.decimal}")'
    )
    raise _Unfit(column, show(text), wanted)
