"""The proof of one reading: from the number in the results back to bytes that came down a cable.

Reads the store alone. The tape of the reading's connection is played through the driver and the
profile that were in use then, and must give the very same reading again.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from acquire.driverapi.registry import Registry
from acquire.errors import NotFound
from acquire.model import MEASURED, Quantity, at_channel, iso_utc
from acquire.report.proof.again import replayed
from acquire.report.record.soundness import words
from acquire.report.record.withdrawn import Withdrawals
from acquire.store import StoreReader
from acquire.store.verify import misfit_since
from acquire.units import symbol

LARGEST_NUMBER = 2**63 - 1


@dataclass(frozen=True, slots=True)
class Proof:
    """What the store says of a reading. `holds` is whether the tape gives it again."""

    reading_id: int
    holds: bool
    lines: tuple[str, ...]


def prove(store: Path, reading_id: int, registry: Registry | None = None) -> Proof:
    """Prove a reading. Raises `NotFound`, and `StoreError` if the store cannot be read."""
    with StoreReader(store) as reader:
        # SQLite takes no greater number, so none can have it.
        found = reading_id <= LARGEST_NUMBER and reader.rows(
            "SELECT * FROM readings WHERE reading_id = ?", (reading_id,)
        )
        if not found:
            raise NotFound(
                f"there is no reading {reading_id}",
                next_step="the page of results and coatbench export name the numbers",
            )
        row: dict[str, Any] = dict(found[0])
        lines = [_value_line(row), *_spectrum_lines(reader, row), *_place_lines(row)]
        lines += [*_moment_lines(reader, row), *_check_lines(reader, row)]
        holds, evidence = _replayed(reader, row, registry or Registry())
        misfit = misfit_since(reader, _first(reader, row))
    if misfit is not None:
        told = words(misfit)
        if holds:
            evidence = [*evidence[:-1], f"NOT PROVED, though the tape gives this reading: {told}"]
        lines = [told, *lines]
    return Proof(reading_id, holds and misfit is None, (*lines, *evidence))


def _first(reader: StoreReader, row: dict[str, Any]) -> dict[str, int]:
    """The first rows that the proof rests on: connection and check, the latter maybe of before."""
    first = {"connection": row["connection_id"], "check_begin": row["check_id"]}
    if row["run_id"] is not None:
        first["trial"] = reader.one("SELECT trial_id FROM run WHERE id = ?", (row["run_id"],))
    return {table: number for table, number in first.items() if number is not None}


def _value_line(row: dict[str, Any]) -> str:
    value = "no value" if row["value"] is None else f"{row['value']} {symbol(row['unit'])}"
    channel = at_channel(row["channel"])
    if row["typed"]:
        return (
            f"reading {row['reading_id']}: {value}{channel}, typed by hand as "
            f"{row['sent_text']!r} for {row['instrument']}, serial {row['serial']} as bench.toml "
            f"declares it, on {row['at']}"
        )
    return (
        f"reading {row['reading_id']}: {value}{channel}, sent as {row['sent_text']!r} by "
        f"{row['instrument']} serial {row['serial']} on {row['at']}"
    )


def _place_lines(row: dict[str, Any]) -> list[str]:
    if row["role"] == "check":
        return [f"it reads piece {row['piece']} in check {row['check_id']}"]
    if row["quantity"] not in MEASURED:
        return [f"it can count as no measure: {row['loose_reason']}"]
    if row["role"] == "loose":
        return [f"it is loose and counts for nothing: {row['loose_reason']}"]
    lines = [
        f"its place: trial {row['trial']}, measure {row['measure']}, zone {row['zone']}, "
        f"stage {row['stage']}, replicate {row['replicate']} (run {row['run_id']})"
    ]
    if row["assigned_reason"]:
        lines.append(f"assigned by a person: {row['assigned_reason']}")
    if row["void_reason"]:
        lines.append(f"void: {row['void_reason']}")
    lines.append("it counts in the results" if row["counts"] else "it is left out of the results")
    return lines


def _moment_lines(reader: StoreReader, row: dict[str, Any]) -> list[str]:
    """What else a climate probe told of the room at the same moment; together they are one word."""
    if row["quantity"] != Quantity.CLIMATE:
        return []
    others = reader.rows(
        "SELECT id, value, unit, channel FROM reading WHERE id BETWEEN ?1 - 3 AND ?1 + 3 "
        "AND id <> ?1 AND connection_id = ?2 AND at_utc_ns = ?3 ORDER BY id",
        (row["reading_id"], row["connection_id"], row["at_utc_ns"]),
    )
    return [
        f"of the same moment: {other['value']} {symbol(other['unit'])}"
        f"{at_channel(other['channel'])}, reading {other['id']}"
        for other in others
    ]


def _check_lines(reader: StoreReader, row: dict[str, Any]) -> list[str]:
    if row["role"] != "run":
        return []
    if row["check_id"] is None:
        return ["no check covers it: the trial is declared unchecked"]
    lines = []
    for check_id, word in ((row["check_id"], "opened"), (row["closing_check_id"], "closed")):
        if check_id is None:
            lines.append("no check has closed its bracket")
            continue
        (check,) = reader.rows("SELECT * FROM checks WHERE check_id = ?", (check_id,))
        lines.append(
            f"{word} by check {check_id}: {check['outcome']} on {check['judged']}, "
            f"{check['message']}"
        )
        lines += [f"  WITHDRAWN SINCE: {text}" for text in Withdrawals(reader).words(check_id)]
        for piece in reader.rows(
            "SELECT p.*, c.issuer, c.issued, c.due FROM piece_judgement AS p "
            "LEFT JOIN certificate AS c ON c.id = p.certificate_id WHERE p.check_id = ? "
            "ORDER BY p.id",
            (check_id,),
        ):
            held = ""
            if piece["issuer"] is not None:
                held = f" (certificate of {piece['issuer']}, {piece['issued']}, due {piece['due']})"
            lines.append(f"  {piece['message']}{held}")
    return lines


def _spectrum_lines(reader: StoreReader, row: dict[str, Any]) -> list[str]:
    """Of what spectrum a reading was made, where it was made of one."""
    if row["quantity"] != "transmittance":
        return []
    from acquire.report.record.spectra import spectra_behind  # noqa: PLC0415 - slow

    one = spectra_behind(reader, [row["reading_id"]]).get(row["reading_id"])
    if one is None:
        return []
    unit = "raw counts" if one.is_counts else one.unit
    said = f"made of spectrum {one.id}: {one.values.size} points in {unit}"
    if one.is_counts:
        said += (
            ", by the dark and the open beam that the head itself kept; films in all bands go by "
            "those of the checks"
        )
    return [said]


def _bytes_words(row: dict[str, Any], stretch: tuple[int, int] | None) -> str:
    """The bytes of a reading; one that a stream was made into has none of its own."""
    if row["raw"]:
        return f"the bytes: {row['raw']!r}, {row['raw_start']} to {row['raw_end']}"
    if stretch is not None:
        return f"the bytes: made of the samples in {stretch[0]} to {stretch[1]}"
    return f"the bytes: none of its own, made of what had come up to {row['raw_end']}"


def _replayed(
    reader: StoreReader, row: dict[str, Any], registry: Registry
) -> tuple[bool, list[str]]:
    (connection,) = reader.rows("SELECT * FROM connection WHERE id = ?", (row["connection_id"],))
    start, end = row["raw_start"], row["raw_end"]
    pull = None
    if row["role"] == "run" and row["quantity"] == "force":
        from acquire.report.proof.pullproof import pull_behind  # noqa: PLC0415 - slow

        pull = pull_behind(reader, row)
    stretch = None if pull is None else pull.stretch
    came = "was typed by hand" if row["typed"] else f"came over {connection['opened_as']}"
    lines = [
        f"{_bytes_words(row, stretch)} of what {came} since {iso_utc(connection['at_utc_ns'])} "
        f"(connection {connection['id']})"
    ]
    played = replayed(reader, connection["id"], registry, [(start, end)], stretch)
    if played.why_not:
        return False, [*lines, f"NOT PROVED, the driver of then is not to be had: {played.why_not}"]
    unlike, again = played.unlike(row), played.at(row)
    is_held = not unlike
    if pull is not None:
        proved = pull.against(played.samples)
        lines += proved.lines
        is_held = is_held and proved.holds
    if is_held:
        lines.append(
            f"PROVED: the tape, played through driver {played.driver} with profile "
            f"{played.profile} as it was then, gives this very reading again"
        )
        if row["typed"]:
            lines.append("that the display showed it is the word of whoever typed it")
    elif unlike:
        lines.append(
            "NOT PROVED: the tape does not give this reading again. "
            f"It holds {played.bytes_at(start, end)!r} there"
            + (f" and reads {again[0].text!r}" if again else " and gives no reading there")
            + f". Otherwise than stored: {'; '.join(unlike)}"
        )
    return is_held, lines
