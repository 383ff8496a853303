"""Which rows of a store a trial rests on: what a package of it holds.

The trial's own runs, readings and whatever else is said of it; the checks of its instruments in all
of the store, since drift and brackets are told by all of them; the bytes of the lines that its
readings and checks came by; and every row that one of these names. Of other trials only a study
whose scatter is lent to this one, and what lies in the minute of a trace before its pulls. A table
that is not named here comes along by its column ``trial``, or by naming a row that is in. Reads the
store; the thread of the reader.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from acquire.model import IncidentKind, StudyKind
from acquire.report.package.shape import shapes
from acquire.report.record.record import TrialRecord
from acquire.report.record.spans import ROWS_OF
from acquire.report.record.troubles import broken_off, counter_incidents
from acquire.store.reader import StoreReader
from acquire.study.found import studies

Ids = dict[str, set[int]]
"""Row ids by table."""

_PART = 500
"""So many ids are asked for at once: SQLite bounds the number of variables."""
_LEFT_OUT = frozenset(("past_import", "past_result"))
"""What was imported is no evidence of this trial, and a file of it may hold any other."""


def rows_of(reader: StoreReader, record: TrialRecord) -> Ids:
    """The rows of a trial's package. To be called within one snapshot of the reader."""
    return _Scope(reader, record).found()


class _Scope:
    def __init__(self, reader: StoreReader, record: TrialRecord) -> None:
        self._reader = reader
        self._record = record
        self._ids: Ids = {table: set() for table in shapes()}
        self._names = [i.instrument for i in record.instruments]
        self._serials = [i.serial for i in record.instruments]
        self._sittings = {s.id for s in record.sittings}
        self._windows = [
            (s.begun_utc_ns, s.last_utc_ns if s.is_closed else 2**63 - 1) for s in record.sittings
        ]
        self._seeded: set[str] = set()

    def found(self) -> Ids:
        self._trials()
        self._readings()
        self._checks()
        self._bench()
        self._told()
        self._others()
        self._parents()
        self._probes()
        return self._ids

    def _add(self, table: str, ids: Iterable[int | None]) -> None:
        self._seeded.add(table)
        self._ids[table] |= {i for i in ids if i is not None}

    def _asked(self, sql: str, values: Iterable[object]) -> Iterator[Any]:
        """The first column of a query with ``IN ({})``, asked in portions."""
        every = list(values)
        for at in range(0, len(every), _PART):
            part = every[at : at + _PART]
            for row in self._reader.rows(sql.format(", ".join("?" * len(part))), part):
                yield row[0]

    def _children(self, table: str, column: str, of: str) -> None:
        # Our own names of tables and columns; the values are bound.
        sql = f"SELECT id FROM {table} WHERE {column} IN ({{}})"  # noqa: S608
        self._add(table, self._asked(sql, sorted(self._ids[of])))

    def _trials(self) -> None:
        self._add("trial", (p.id for p in self._record.plans))
        lent = any(one.known for one in self._record.lent.values())
        lending = [
            study.id
            for study in (studies(self._reader) if lent else ())
            if study.kind is StudyKind.REPEATABILITY
            and any(f.serial in self._serials for f in study.findings)
        ]
        self._add("trial", self._asked("SELECT id FROM trial WHERE trial IN ({})", lending))
        self._children("trial_zone", "trial_id", "trial")
        self._children("run", "trial_id", "trial")
        self._children("run_end", "run_id", "run")
        self._children("move", "run_id", "run")

    def _readings(self) -> None:
        record = self._record
        self._children("reading", "run_id", "run")
        self._children("assignment", "run_id", "run")
        sql = "SELECT reading_id FROM assignment WHERE id IN ({})"
        self._add("reading", self._asked(sql, sorted(self._ids["assignment"])))
        self._add("reading", (r.id for c in record.checks for r in c.readings))
        self._add("reading", (r.id for r in record.loose))
        self._add("spectrum", (s.id for s in record.spectra.values()))
        beams = record.beams.values()
        self._add("spectrum", (s.id for beam in beams for s in (*beam.dark, *beam.open)))
        self._add("trace", (t.id for t in record.traces))
        self._add("trace_block", (b.id for t in record.traces for b in t.blocks))
        for trace in record.traces:
            # Whatever else ended a pull there bounds the stretch in which the next one lies.
            self._add("reading", (row[0] for row in self._reader.rows(
                "SELECT id FROM reading WHERE connection_id = ? AND raw_start = raw_end "
                "AND raw_start BETWEEN ? AND ?",
                (trace.connection_id, trace.blocks[0].raw_end, trace.blocks[-1].raw_end),
            )))  # fmt: skip
        self._children("void", "reading_id", "reading")

    def _checks(self) -> None:
        self._add("check_begin", (c.id for c in self._record.checks))
        self._add("check_begin", self._asked(
            "SELECT id FROM check_begin WHERE serial IN "
            "(SELECT serial FROM check_begin WHERE instrument IN ({}))", self._names,
        ))  # fmt: skip
        for table in (
            "check_judgement", "piece_judgement", "linearity_judgement", "pass_end",
            "reassessment", "reassessed_piece", "reassessed_line",
        ):  # fmt: skip
            self._children(table, "check_id", "check_begin")
        pieces = set(self._asked(
            "SELECT DISTINCT piece FROM piece_judgement WHERE id IN ({})",
            sorted(self._ids["piece_judgement"]),
        ))  # fmt: skip
        for table in ("piece", "certificate"):
            sql = f"SELECT id FROM {table} WHERE piece IN ({{}})"  # noqa: S608 - our own names
            self._add(table, self._asked(sql, sorted(pieces)))

    def _bench(self) -> None:
        """Sittings, instruments, their lines and the bytes on those that were used."""
        self._add("sitting", self._sittings)
        self._children("sitting_end", "sitting_id", "sitting")
        for table in ("instrument", "connection", "notice"):
            sql = f"SELECT id FROM {table} WHERE instrument IN ({{}})"  # noqa: S608 - our own names
            self._add(table, self._asked(sql, self._names))
        self._children("disconnection", "connection_id", "connection")
        lines = set(self._asked(
            "SELECT DISTINCT connection_id FROM reading WHERE id IN ({})",
            sorted(self._ids["reading"]),
        ))  # fmt: skip
        for window in self._windows:
            lines |= self._within("connection", "id", "at_utc_ns", window)
            # A line that nobody closed is told by its last byte, however long before it was opened.
            lines |= {row["connection_id"] for row in broken_off(self._reader, window)}
        lines &= self._ids["connection"]
        self._add("tape", self._asked(ROWS_OF, sorted(lines)))

    def _told(self) -> None:
        """Troubles, and what may have shifted a meter; the climate before each check."""
        whose = ("", *self._names)
        connections = self._ids["connection"]
        for window in self._windows:
            self._add("noise", (
                row[0]
                for row in self._reader.rows(
                    "SELECT id, connection_id FROM noise WHERE at_utc_ns BETWEEN ? AND ?", window
                )
                if row[1] in connections
            ))  # fmt: skip
            self._add("incident", (
                row[0]
                for row in self._reader.rows(
                    "SELECT id, instrument FROM incident WHERE at_utc_ns BETWEEN ? AND ?", window
                )
                if row[1] in whose
            ))  # fmt: skip
        self._add("incident", (
            row["id"] for row in counter_incidents(self._reader, self._record.plan.id)
        ))  # fmt: skip
        self._add("gap", self._asked("SELECT id FROM gap WHERE instrument IN ({})", whose))
        kinds = (IncidentKind.CLOCK_JUMPED.value, IncidentKind.OTHER_SERIAL.value)
        self._add("incident", (
            row[0]
            for row in self._reader.rows(
                "SELECT id, instrument FROM incident WHERE kind IN (?, ?)", kinds
            )
            if row[1] in whose
        ))  # fmt: skip
        sql = "SELECT id FROM climate WHERE sitting_id IN ({})"
        self._add("climate", self._asked(sql, sorted(self._sittings)))
        for check in self._record.checks:
            self._add("climate", (row[0] for row in self._reader.rows(
                "SELECT id FROM climate WHERE at_utc_ns <= ? ORDER BY id DESC LIMIT 1",
                (check.begun_utc_ns,),
            )))  # fmt: skip

    def _within(self, table: str, column: str, clock: str, window: tuple[int, int]) -> set[int]:
        sql = f"SELECT {column} FROM {table} WHERE {clock} BETWEEN ? AND ?"  # noqa: S608
        return {row[0] for row in self._reader.rows(sql, window)}

    def _others(self) -> None:
        """Every other table: what is said of the trial, and what is said of rows that are in."""
        trial = self._record.plan.id
        left = [s for s in shapes().values() if s.name not in self._seeded | _LEFT_OUT]
        for shape in left:
            if "trial" in shape.names:
                sql = f"SELECT id FROM {shape.name} WHERE trial = ?"  # noqa: S608 - our own names
                self._add(shape.name, (row[0] for row in self._reader.rows(sql, (trial,))))
                if "sitting_id" in shape.names:
                    self._add(shape.name, self._asked(
                        f"SELECT id FROM {shape.name} WHERE trial = '' AND sitting_id IN ({{}})",  # noqa: S608
                        sorted(self._sittings),
                    ))  # fmt: skip
        for shape in left:
            if "trial" not in shape.names and shape.name not in self._seeded:
                for key in shape.keys:
                    if key.target == "id" and self._ids[key.table]:
                        self._children(shape.name, key.column, key.table)

    def _probes(self) -> None:
        """The lines, and their bytes, of counters and climate probes of which readings are in."""
        lines = sorted(set(self._asked(
            "SELECT DISTINCT connection_id FROM reading WHERE quantity IN ('counter', 'climate') "
            "AND id IN ({})", sorted(self._ids["reading"]),
        )))  # fmt: skip
        self._add("tape", self._asked(ROWS_OF, lines))
        self._add("instrument", self._asked(
            "SELECT id FROM instrument WHERE instrument IN "
            "(SELECT instrument FROM connection WHERE id IN ({}))", lines,
        ))  # fmt: skip

    def _parents(self) -> None:
        """Every row that is named by one that is in, and so on."""
        is_settled = False
        while not is_settled:
            is_settled = True
            for shape in shapes().values():
                for key in shape.keys:
                    before = len(self._ids[key.table])
                    sql = (
                        f"SELECT t.id FROM {shape.name} AS c JOIN {key.table} AS t "  # noqa: S608
                        f"ON t.{key.target} = c.{key.column} WHERE c.id IN ({{}})"
                    )
                    found = self._asked(sql, sorted(self._ids[shape.name]))
                    self._ids[key.table] |= set(found)
                    is_settled = is_settled and len(self._ids[key.table]) == before
