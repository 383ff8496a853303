"""A mapping file: which columns of a CSV file of past results mean what. Any thread.

The file is documented, line by line, in ``config/scorecards/past-results.toml``.
"""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, Field

from acquire.errors import CoatbenchError, Fault
from acquire.model.past import PastKind
from acquire.schema import Name, Schema, either, load_text, parse_toml, read, rule, show
from acquire.settings.fields import Angle, Bands
from acquire.units import symbol, units_of

MOST_FIGURES = 100
MOST_CONDITIONS = 50


def units_for(kind: PastKind) -> tuple[str, ...]:
    """The units in which a past figure may come."""
    return ("one",) if kind.quantity is None else units_of(kind.quantity)


@dataclass(frozen=True, slots=True)
class Cell:
    """Where a text comes from: the column of this heading, or the same text in every row."""

    column: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True)
class FigureColumns:
    """One figure of each row; `uncertainty` is a heading or empty, its factor makes it 95 %."""

    name: Cell
    kind: Cell
    channel: Cell
    unit: Cell
    stage: Cell
    value: str
    uncertainty: str
    factor: int
    higher_is_better: bool


@dataclass(frozen=True, slots=True)
class Mapping:
    """A whole mapping. `units` has what the file writes for our unit names."""

    encoding: str
    delimiter: str
    quote: str
    decimal: str
    skip_lines: int
    trial: Cell
    treatment: Cell
    figures: tuple[FigureColumns, ...]
    conditions: tuple[tuple[str, Cell], ...]
    units: dict[str, str]
    text: str

    @property
    def columns(self) -> list[str]:
        """Every heading that is used."""
        cells = [self.trial, self.treatment, *(cell for _, cell in self.conditions)]
        for f in self.figures:
            cells += [f.name, f.kind, f.channel, f.unit, f.stage, Cell(f.value)]
            cells += [Cell(f.uncertainty)]
        return list(dict.fromkeys(c.column for c in cells if c.column))


def _encoding(value: str) -> str:
    try:
        found = codecs.lookup(value)
        # Some codecs turn bytes into bytes, and some are no encoding of text files.
        "a".encode(found.name)
    except (LookupError, ValueError, TypeError):
        raise ValueError('an encoding such as "utf-8", "utf-16", "cp1252" or "latin-1"') from None
    return found.name


def _sign(value: str) -> str:
    if len(value) != 1 or value in "\r\n\0" or not value.isascii():
        raise ValueError('one sign, such as "," or ";" or "\\t"')
    return value


_Sign = Annotated[str, AfterValidator(_sign)]


class FileTable(Schema):
    encoding: Annotated[str, AfterValidator(_encoding)] = "utf-8"
    delimiter: _Sign = ","
    quote: _Sign = '"'
    decimal: Annotated[str, Field(pattern=r"^[.,]$", description='"." or ","')] = "."
    skip_lines: Annotated[int, Field(ge=0, le=1000)] = 0

    @rule
    def signs_differ(self) -> Iterator[Fault]:
        if self.delimiter == self.quote:
            yield Fault("quote", show(self.quote), "another sign than the delimiter")


class CellTable(Schema):
    column: Name | None = None
    text: Name | None = None

    @rule
    def one_of_both(self) -> Iterator[Fault]:
        if (self.column is None) == (self.text is None):
            got = "both" if self.column is not None else "nothing"
            yield Fault("", got, 'column = "HEADING", or text = "the same in every row"')

    def cell(self) -> Cell:
        return Cell(self.column or "", self.text or "")


class FigureTable(Schema):
    name: Name | None = None
    name_column: Name | None = None
    quantity: Annotated[PastKind, Field(strict=False)] | None = None
    quantity_column: Name | None = None
    geometry: Angle | None = None
    band: Bands | None = None
    channel_column: Name | None = None
    unit: Name | None = None
    unit_column: Name | None = None
    stage: Name | None = None
    stage_column: Name | None = None
    value_column: Name
    uncertainty_column: Name | None = None
    uncertainty_is: Annotated[str, Field(description='"expanded" or "standard"')] = "expanded"
    higher_is_better: bool = True

    @rule
    def one_source_each(self) -> Iterator[Fault]:
        for key in ("name", "quantity", "unit"):
            own, column = getattr(self, key), getattr(self, f"{key}_column")
            if own is None and column is None:
                yield Fault(key, "nothing", f"{key}, or {key}_column with the heading that has it")
        for key in ("name", "quantity", "unit", "stage"):
            own, column = getattr(self, key), getattr(self, f"{key}_column")
            if own is not None and column is not None:
                yield Fault(f"{key}_column", show(column), f"either {key} or {key}_column")

    @rule
    def the_unit_fits(self) -> Iterator[Fault]:
        if self.quantity is None or self.unit is None:
            return
        if self.unit not in units_for(self.quantity):
            yield Fault(
                "unit",
                show(self.unit),
                f"a unit of {self.quantity}: {either(units_for(self.quantity))}",
            )

    @rule
    def the_channel_fits(self) -> Iterator[Fault]:
        given = [k for k in ("geometry", "band", "channel_column") if getattr(self, k) is not None]
        if len(given) > 1:
            yield Fault(given[1], "beside " + given[0], "one of geometry, band or channel_column")
        if self.quantity is None:
            return
        wanted = {PastKind.GLOSS: "geometry", PastKind.TRANSMITTANCE: "band"}.get(self.quantity)
        if wanted is None and given:
            only = f"no {given[0]}: {self.quantity} has none"
            yield Fault(given[0], show(getattr(self, given[0])), only)
        elif wanted is not None and not {wanted, "channel_column"} & set(given):
            yield Fault(wanted, "nothing", f"{wanted} or channel_column, for {self.quantity}")

    @rule
    def the_uncertainty_is_known(self) -> Iterator[Fault]:
        if self.uncertainty_is not in ("expanded", "standard"):
            yield Fault(
                "uncertainty_is", show(self.uncertainty_is), '"expanded" (95 %) or "standard"'
            )

    def columns(self) -> FigureColumns:
        channel = self.geometry or (self.band[0] if self.band else "")
        return FigureColumns(
            Cell(self.name_column or "", self.name or ""),
            Cell(self.quantity_column or "", self.quantity.value if self.quantity else ""),
            Cell(self.channel_column or "", channel),
            Cell(self.unit_column or "", self.unit or ""),
            Cell(self.stage_column or "", self.stage or ""),
            self.value_column,
            self.uncertainty_column or "",
            1 if self.uncertainty_is == "expanded" else 2,
            self.higher_is_better,
        )


class MappingFile(Schema):
    file: FileTable = FileTable()
    trial: CellTable
    treatment: CellTable
    figure: Annotated[list[FigureTable], Field(min_length=1, max_length=MOST_FIGURES)]
    conditions: Annotated[
        dict[str, CellTable], Field(max_length=MOST_CONDITIONS, description="a table of conditions")
    ] = Field(default_factory=dict)
    units: Annotated[dict[str, Name], Field(description='a table such as GU = "gloss_unit"')] = (
        Field(default_factory=dict)
    )

    @rule
    def units_are_known(self) -> Iterator[Fault]:
        for written, name in self.units.items():
            try:
                symbol(name)
            except CoatbenchError as error:
                yield Fault(f"units.{written}", show(name), error.wanted)


def load_mapping(path: Path) -> Mapping:
    """The mapping of a file. Raises `SettingsError` with every fault of it."""
    return parse_mapping(load_text(path), str(path))


def parse_mapping(text: str, source: str) -> Mapping:
    """The mapping of a file's text; `source` names it. Raises `SettingsError` with every fault."""
    file = read(MappingFile, parse_toml(text, source), source)
    return Mapping(
        file.file.encoding, file.file.delimiter, file.file.quote, file.file.decimal,
        file.file.skip_lines, file.trial.cell(), file.treatment.cell(),
        tuple(f.columns() for f in file.figure),
        tuple((name, table.cell()) for name, table in file.conditions.items()),
        dict(file.units), text,
    )  # fmt: skip
