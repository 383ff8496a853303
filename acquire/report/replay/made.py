"""Facts in words that can be compared: those that the store holds, and those a driver makes now.

A reading is in the unit it is kept in; whose unit is not one of its quantity is noise, as it is at
the desk. Pure but for the reader it is given; any thread.
"""

from __future__ import annotations

import sys
from array import array
from collections.abc import Iterator, Mapping
from decimal import Decimal
from heapq import merge
from typing import Any
from zlib import crc32

from acquire.errors import CoatbenchError, NotFound
from acquire.link.tape import Made
from acquire.model import (
    TOLD_BY_PERSON,
    EvenGrid,
    Fact,
    Noise,
    Notice,
    Reading,
    Spectrum,
    at_channel,
)
from acquire.store import StoreReader
from acquire.units import normalise, symbol

READING, NOISE, NOTICE, SPECTRUM, SAMPLES = "reading", "noise", "notice", "spectrum", "samples"
KINDS = (READING, NOISE, NOTICE, SPECTRUM, SAMPLES)
TABLES = ("reading", "noise", "notice", "spectrum", "trace_block")
"""Where the store has facts."""
_BLOCKS = (
    "SELECT b.*, t.unit, t.quantity, t.channel, t.step, t.rate_hz FROM trace_block AS b "
    "JOIN trace AS t ON t.id = b.trace_id WHERE t.connection_id = ? AND b.id <= ? "
    "ORDER BY b.raw_end, b.id"
)
_CODES = {1: "b", 2: "h", 4: "i"}
_LITTLE = sys.byteorder == "little"


def made_of(fact: Fact, serial: str, shift: int = 0) -> Made:
    """A fact as a driver makes it now, of the instrument that answers with `serial`.

    `shift` is where its connection's bytes begin on the tape.
    """
    place = (fact.start + shift, fact.end + shift, fact.at.utc_ns)
    if isinstance(fact, Reading):
        try:
            value, unit = normalise(
                Decimal(0) if fact.value is None else fact.value, fact.unit, fact.quantity
            )
        except CoatbenchError as error:
            return _made(NOISE, place, reason=str(error), bytes=_sum(fact.raw))
        return _made(
            READING,
            place,
            value="" if fact.value is None else str(value),
            unit=unit,
            quantity=fact.quantity.value,
            channel=fact.channel,
            flags=",".join(sorted(fact.flags)),
            press=_number(fact.press),
            text=fact.text,
            sent_unit=fact.unit,
            serial=serial,
            bytes=_sum(fact.raw),
        )
    if isinstance(fact, Noise):
        return _made(NOISE, place, reason=fact.reason, bytes=_sum(fact.raw))
    if isinstance(fact, Notice):
        return _made(NOTICE, place, kind=fact.kind.value, text=fact.text, bytes=_sum(fact.raw))
    if isinstance(fact, Spectrum):
        grid = fact.wavelengths
        even = isinstance(grid, EvenGrid)
        return _made(
            SPECTRUM,
            place,
            values=fact.values.hex(),
            type=fact.type.value,
            unit=fact.unit,
            quantity=fact.quantity.value,
            start_nm=_number(grid.start_nm if isinstance(grid, EvenGrid) else None),
            step_nm=_number(grid.step_nm if isinstance(grid, EvenGrid) else None),
            grid_nm="" if even else _little(array("d", grid)).hex(),  # type: ignore[arg-type]
            flags=",".join(sorted(fact.flags)),
            press=_number(fact.press),
            serial=serial,
        )
    return _made(
        SAMPLES,
        place,
        counts=fact.counts.hex(),
        first=str(fact.first),
        unit=fact.unit,
        quantity=fact.quantity.value,
        channel=fact.channel,
        step=str(fact.step),
        rate_hz=str(fact.rate_hz),
    )


def stored(reader: StoreReader, connection: int, upto: Mapping[str, int]) -> Iterator[Made]:
    """The facts that were made of a connection, from the store, by their end.

    `upto` is the last row of each of `TABLES` that is of interest.
    """

    def rows(table: str, which: str = "") -> Iterator[Any]:
        return reader.each(
            f"SELECT * FROM {table} WHERE connection_id = ? AND id <= ? {which} "  # noqa: S608
            "ORDER BY raw_end, id",
            (connection, upto[table]),
        )

    told = f"AND text <> '{TOLD_BY_PERSON}'"
    blocks = reader.each(_BLOCKS, (connection, upto["trace_block"]))
    return merge(
        map(_reading, rows("reading")),
        map(_noise, rows("noise")),
        map(_notice, rows("notice", told)),
        map(_spectrum, rows("spectrum")),
        map(_samples, blocks),
        key=lambda made: made.end,
    )


def _reading(row: Any) -> Made:
    return _stored(
        READING,
        row,
        value=row["value"] or "",
        unit=row["unit"],
        quantity=row["quantity"],
        channel=row["channel"],
        flags=row["flags"],
        press=_number(row["press"]),
        text=row["text"],
        sent_unit=row["sent_unit"],
        serial=row["serial"],
        bytes=_sum(row["raw"]),
    )


def _noise(row: Any) -> Made:
    return _stored(NOISE, row, reason=row["reason"], bytes=_sum(row["raw"]))


def _notice(row: Any) -> Made:
    return _stored(NOTICE, row, kind=row["kind"], text=row["text"], bytes=_sum(row["raw"]))


def _spectrum(row: Any) -> Made:
    return _stored(
        SPECTRUM,
        row,
        values=row["numbers"].hex(),
        type=row["type"],
        unit=row["unit"],
        quantity=row["quantity"],
        start_nm=_number(row["start_nm"]),
        step_nm=_number(row["step_nm"]),
        grid_nm=(row["grid_nm"] or b"").hex(),
        flags=row["flags"],
        press=_number(row["press"]),
        serial=row["serial"],
    )


def _samples(row: Any) -> Made:
    return _stored(
        SAMPLES,
        row,
        counts=_wide(row["counts"], row["width"]).hex(),
        first=str(row["first"]),
        unit=row["unit"],
        quantity=row["quantity"],
        channel=row["channel"],
        step=row["step"],
        rate_hz=row["rate_hz"],
    )


def words(made: Made) -> str:
    """A fact in one line for a person."""
    says = dict(made.says)
    what = made.what
    if what == READING:
        value = f"{says['value']} {_symbol(says['unit'])}".rstrip() if says["value"] else "no value"
        channel = at_channel(says["channel"])
        press = f", press {says['press']}" if says["press"] else ""
        flags = f", {says['flags']}" if says["flags"] else ""
        number = f" {made.number}:" if made.number else ""
        return f"reading{number} {value}{channel}{press}{flags}, sent as {says['text']!r}"
    if what == NOISE:
        return f"noise: {says['reason']}"
    if what == NOTICE:
        return f"notice {says['kind']}" + (f": {says['text']}" if says["text"] else "")
    if what == SPECTRUM:
        points = len(says["values"]) // (8 if says["type"] == "binary32" else 16)
        return f"spectrum of {points} points, {_symbol(says['unit'])}"
    return f"{len(says['counts']) // 8} samples from {says['first']} on at {says['rate_hz']} /s"


def _symbol(unit: str) -> str:
    """A tape may come from a Coatbench that knows more units."""
    try:
        return symbol(unit)
    except NotFound:
        return unit


def _made(what: str, place: tuple[int, int, int], **says: str) -> Made:
    return Made(what, *place, tuple(says.items()))


def _stored(what: str, row: Any, **says: str) -> Made:
    made = _made(what, (row["raw_start"], row["raw_end"], row["at_utc_ns"]), **says)
    return made._replace(number=row["id"])


def _sum(raw: bytes) -> str:
    """What tells one stretch of bytes from another; the bytes themselves are on the tape."""
    return f"{len(raw)}:{crc32(raw):08x}"


def _number(value: float | None) -> str:
    return "" if value is None else repr(value)


def _wide(counts: bytes, width: int) -> bytes:
    """Counts of a few bytes each as counts of four."""
    narrow = array(_CODES[width])
    narrow.frombytes(counts)
    if not _LITTLE:
        narrow.byteswap()
    return _little(array("i", narrow))


def _little(numbers: array[int] | array[float]) -> bytes:
    if not _LITTLE:
        numbers.byteswap()
    return numbers.tobytes()
