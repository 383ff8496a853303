"""Readings as CSV or JSON lines: one row a reading, with its units, tags, text, bytes and proof.

Reads the store and writes one stream or one file, whole or not at all; changes nothing in the
store, and may be used while a daemon records. Any thread, with a reader of its own.
"""

from __future__ import annotations

import contextlib
import csv
import itertools
import json
import re
import sqlite3
from collections.abc import Generator, Sequence
from decimal import Decimal
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, Protocol

from acquire.errors import NotFound
from acquire.model import Plan
from acquire.report.evidence.coefficients import CoefficientsOfReadings
from acquire.report.evidence.correctedreadings import CorrectedReadings
from acquire.report.files.outplace import require_place
from acquire.report.files.wholefile import whole_file
from acquire.report.record.placing import CHECKS, LOOSE, LOOSE_BESIDE, MINE
from acquire.report.rows.latereadings import LateReadings
from acquire.report.words.columns import Column, Record
from acquire.settings import parse_plan
from acquire.store.reader import StoreReader
from acquire.trial.blinding import shown_plan
from acquire.units import symbol
from acquire.visible import json_visible

if TYPE_CHECKING:
    from acquire.report.record.loading import Loader
    from acquire.report.record.record import TrialRecord

CSV, JSONL = "csv", "jsonl"


COLUMNS = (
    Column("reading_id", "number of the reading in its store; coatbench void takes it"),
    Column("at", "when it arrived: ISO 8601, UTC, milliseconds"),
    Column("trial", "id of the trial; empty where the reading belongs to none", True),
    Column("measure", "id of the measure in the trial's plan", True),
    Column("stage", "stage of the trial", True),
    Column("washes", "how many washes it comes after, by the plan of the run; empty where that "
           "gives no count"),
    Column("zone", "zone of the panel", True),
    Column("treatment", "id of the treatment on the zone, by the plan of the run", True),
    Column("treatment_name", "its name", True),
    Column("is_control", "1 if that treatment is the control, else 0"),
    Column("replicate", "counted from 1 within zone, stage and channel"),
    Column(
        "quantity",
        "gloss, force or transmittance; of what measures no surface, and counts for nothing: "
        "counter or climate",
    ),
    Column(
        "channel",
        "gloss: angle in degrees; transmittance: band in nm; force: empty; counter: stroke or "
        "total; climate: temperature or humidity, which are two readings of one answer, with one "
        "`at_utc_ns`",
    ),
    Column("value", "the value in `unit`, every digit as kept; empty where it was out of range"),
    Column("unit", "name of the unit of `value`"),
    Column("unit_symbol", "its sign", True),
    Column("sent_text", "the value as the device sent it, or as it was typed", True),
    Column("typed", "1 if a person typed it off a display, 0 if it came down a cable"),
    Column("sent_unit", "the unit in which it sent it"),
    Column(
        "flags",
        "over-range, under-range, echo, repeat, not sure whose, other rate; comma between them",
    ),
    Column("role", "run (in a trial), check (of a reference piece) or loose (counts for nothing)"),
    Column("counts", "1 if the reading is in the results, else 0"),
    Column("void_reason", "why a person took it out of the results", True),
    Column("loose_reason", "why it is loose", True),
    Column("assigned_reason", "why a person gave a loose reading its place", True),
    Column("bracket", "bracketed, open (no closing check yet), not closed (re-adjusted since, and "
           "undecided as found), suspect (found outside its limit at the closing check, or "
           "re-adjusted with no check as found: then without a closing check; or a check around "
           "it does not pass without a certificate that was withdrawn since) or unchecked"),
    Column("check_id", "the check that covers it; for role check: the check it belongs to"),
    Column("check_outcome", "what that check came to: pass, fail, undecided or not judged"),
    Column("check_judged", "when: ISO 8601, UTC, milliseconds; empty before it is judged"),
    Column("closing_check_id", "the check that closed the bracket"),
    Column("closing_check_outcome", "what that check came to"),
    Column("closing_check_judged", "when"),
    Column("drift_correction", "what the latest plan corrects results by: none, offset or gain"),
    Column("corrected_value", "`value` corrected for the drift between both checks, in `unit`; "
           "empty where it is not corrected"),
    Column("not_corrected", "why it is not, where the plan wants it", True),
    Column("static_coefficient", "of friction, where the plan has a sled: by this force, or by the "
           "first peak of its pull in the trace; of the latest plan"),
    Column("kinetic_coefficient", "likewise, by the mean of the steady window; empty without a "
           "trace"),
    Column("no_coefficient", "why it has none, where the plan has a sled", True),
    Column("trial_unchecked", "1 if the trial was planned to count readings without a check"),
    Column("piece", "the reference piece, for role check", True),
    Column("run_id", "the run"),
    Column("sitting_id", "the sitting"),
    Column("instrument", "id of the instrument in bench.toml", True),
    Column("serial", "serial number it gave itself; where it gave none, that of bench.toml", True),
    Column("press", "the device's own count of presses, where it has one"),
    Column("connection_id", "the connection it came through"),
    Column("opened_as", "port or address of that connection, or: typed by hand", True),
    Column("raw", "its bytes: printable ASCII as it is, else \\xNN, and \\x5c for a backslash",
           True),
    Column("raw_start", "offset of these bytes in what the connection received"),
    Column("raw_end", "offset of the byte after them"),
    Column("at_utc_ns", "when it arrived: nanoseconds since 1970, UTC"),
    Column("too_late", "why the surface of its stage was gone when it was read; empty where it was "
           "not, or the reading does not count", True),
)  # fmt: skip


class Scope(NamedTuple):
    """Which readings: those of a trial (and of its checks, and loose in its sittings), or all."""

    trial: str | None = None
    everything: bool = False
    checks: bool = False
    loose: bool = False


_QUERY = """
SELECT q.*, c.opened_as, r.trial_id, r.unchecked AS trial_unchecked,
    o.outcome AS check_outcome, o.judged AS check_judged,
    l.outcome AS closing_check_outcome, l.judged AS closing_check_judged
FROM readings AS q JOIN connection AS c ON c.id = q.connection_id
LEFT JOIN runs AS r ON r.run_id = q.run_id
LEFT JOIN checks AS o ON o.check_id = q.check_id
LEFT JOIN checks AS l ON l.check_id = q.closing_check_id
"""


def records(
    store: StoreReader, scope: Scope, load: Loader | None = None
) -> Generator[Record, None, None]:
    """The readings in the order of their numbers, a value for each column; None where empty.

    `value` is a Decimal. `load` gives the results of a trial, where they are at hand already or
    have to be of the same moment as the rows; else they are loaded when first asked for. Raises
    `NotFound` for a trial without a run in this store.
    """
    where, arguments = _condition(store, scope)
    plans: dict[int, Plan] = {}
    latest: dict[str, Plan] = {}
    load = load or cache(partial(_loaded, store.path))
    corrected, coefficients = CorrectedReadings(load), CoefficientsOfReadings(load)
    late = LateReadings(store)
    # The condition is one of this module's own; its values are bound.
    for row in store.each(f"{_QUERY} WHERE {where} ORDER BY q.reading_id", arguments):
        record = _record(row, _plan(store, plans, row["trial_id"]))
        if row["trial"] is not None and row["role"] == "run":
            found = corrected.of(
                _latest(store, latest, row["trial"]), row["measure"], row["reading_id"]
            )
            record["drift_correction"] = found.how.value
            record["corrected_value"] = found.value
            record["not_corrected"] = found.why_not or None
            friction = coefficients.of(
                _latest(store, latest, row["trial"]), row["measure"], row["reading_id"]
            )
            record["static_coefficient"] = _shortened(friction.static)
            record["kinetic_coefficient"] = _shortened(friction.kinetic)
            record["no_coefficient"] = friction.why_not or None
            plan = _latest(store, latest, row["trial"])
            record["too_late"] = late.why(plan, row["reading_id"]) or None
        yield record


def _shortened(figure: float | None) -> float | None:
    """Six significant digits, more than any pull is worth."""
    return None if figure is None else float(f"{figure:.6g}")


class Sink(Protocol):
    """What readings are written to: an open text file, or whatever shows them."""

    def write(self, text: str, /) -> object: ...

    def flush(self) -> object: ...


def _loaded(store: Path, trial: str) -> TrialRecord:
    from acquire.report.record.loading import load_trial  # noqa: PLC0415 - slow, and seldom asked for

    return load_trial(store, trial)


def write_export(
    store: StoreReader, scope: Scope, form: str, file: Sink, load: Loader | None = None
) -> int:
    """Write the readings into an open text file, and give their number; `load` as of `records`."""
    # Closed before the store is, also when the other end of a pipe has heard enough.
    with contextlib.closing(records(store, scope, load)) as found:
        # The first one before any byte, so that a trial that is not there leaves nothing behind.
        first = next(found, None)
        rows = found if first is None else itertools.chain([first], found)
        count = 0
        writer = csv.writer(file, lineterminator="\n")
        # Readers take a bare carriage return for the end of a row (RFC 4180, 2.6: such are quoted).
        quoting = csv.writer(file, lineterminator="\n", quoting=csv.QUOTE_ALL)
        if form == CSV:
            writer.writerow([column.name for column in COLUMNS])
        for record in rows:
            if form == CSV:
                cells = csv_cells(record)
                (quoting if any("\r" in cell for cell in cells) else writer).writerow(cells)
            else:
                file.write(json_line(record) + "\n")
            count += 1
        file.flush()
    return count


def write_file(
    store: StoreReader, scope: Scope, form: str, out: Path, load: Loader | None = None
) -> int:
    """Write the readings into a file (UTF-8), whole or not at all.

    It takes the place of an earlier export of this form or of nothing. Raises `Misuse` if it
    cannot.
    """
    require_place(out, form, store.path)
    with whole_file(out) as file:
        return write_export(store, scope, form, file, load)


# What a spreadsheet takes for the beginning of a formula, also behind signs that it leaves out when
# it reads the file, and what is a plain figure all the same.
_FORMULA = re.compile(r"[\x00-\x1f\x7f-\x9f\u200b\ufeff]*[=+\-@]|[\t\r\n]")
_FIGURE = re.compile(r"[+-]?\d+(?:[.,]\d+)?\Z", re.ASCII)


def csv_cells(record: Record, columns: Sequence[Column] = COLUMNS) -> list[str]:
    """The cells of a row: figures as figures, texts that would be formulas behind an apostrophe."""
    cells = []
    for column in columns:
        value = record[column.name]
        text = "" if value is None else str(value)
        if column.is_text and _FORMULA.match(text) and not _FIGURE.match(text):
            text = "'" + text
        cells.append(text)
    return cells


def json_line(record: Record) -> str:
    """The record as one JSON object; the value as a number with every digit it has.

    Signs that a terminal would obey are escaped as JSON has it, so that they say the same and do
    nothing wherever the line is looked at.
    """
    parts = []
    for name, value in record.items():
        # A finite Decimal's text is a JSON number (RFC 8259, 6); a float would drop its zeros.
        text = str(value) if isinstance(value, Decimal) else json.dumps(value, ensure_ascii=False)
        parts.append(f"{json.dumps(name)}: {text}")
    return json_visible("{" + ", ".join(parts) + "}")


def escaped(raw: bytes) -> str:
    """Bytes as text that can be turned back: printable ASCII, else ``\\xNN``."""
    return "".join(chr(b) if 0x20 <= b < 0x7F and b != 0x5C else f"\\x{b:02x}" for b in raw)


def _condition(store: StoreReader, scope: Scope) -> tuple[str, list[object]]:
    if scope.everything:
        return "1 = 1", []
    if scope.trial is None:
        return f"q.reading_id IN ({LOOSE})", []
    known = [row["trial"] for row in store.rows("SELECT DISTINCT trial FROM runs ORDER BY trial")]
    if scope.trial not in known:
        raise NotFound(
            f"the store {store.path} has no readings of a trial {scope.trial!r}",
            wanted=", ".join(known) or "a trial with a run; there is none yet",
            next_step="name one of these, or take readings first: coatbench run FILE STAGE "
            "--with INSTRUMENT",
        )
    parts = [MINE]
    if scope.checks:
        parts.append(CHECKS)
    if scope.loose:
        parts.append(LOOSE_BESIDE)
    return f"q.reading_id IN ({' UNION '.join(parts)})", [scope.trial]


def _plan(store: StoreReader, plans: dict[int, Plan], trial_id: int | None) -> Plan | None:
    """The version of the plan under which a run was begun."""
    if trial_id is None:
        return None
    if trial_id not in plans:
        text = store.one("SELECT text FROM trial WHERE id = ?", (trial_id,))
        plans[trial_id] = shown_plan(store.rows, parse_plan(text, f"trial {trial_id} as stored"))
    return plans[trial_id]


def _latest(store: StoreReader, plans: dict[str, Plan], trial: str) -> Plan:
    """The latest version of the plan of a trial."""
    if trial not in plans:
        text = store.one("SELECT text FROM trial WHERE trial = ? ORDER BY id DESC", (trial,))
        plans[trial] = parse_plan(text, f"trial {trial} as stored")
    return plans[trial]


def _record(row: sqlite3.Row, plan: Plan | None) -> Record:
    record: Record = dict.fromkeys(column.name for column in COLUMNS)
    for name in set(row.keys()) & set(record):
        record[name] = row[name]
    record["raw"] = escaped(row["raw"])
    record["unit_symbol"] = symbol(row["unit"])
    if row["value"] is not None:
        record["value"] = Decimal(row["value"])
    if plan is not None and row["stage"] is not None:
        record["washes"] = dict(plan.washes).get(row["stage"])
    zone = next((z for z in plan.zones if z.id == row["zone"]), None) if plan else None
    if plan is not None and zone is not None:
        treatment = plan.treatment_of(zone.id)
        record["treatment"] = treatment.id
        record["treatment_name"] = treatment.name
        record["is_control"] = int(treatment.is_control)
    return record
