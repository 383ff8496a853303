"""From the store to a `TrialRecord`: the one place of the report that asks the database.

All queries of one record see the same moment of the store, also while a daemon records into it.
Writes nothing. The thread of the reader.
"""

from __future__ import annotations

import json
import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from acquire.analysis.samples.repeatability import Lent
from acquire.drift.history import Seen
from acquire.drift.reading import histories
from acquire.errors import NotFound, Refused
from acquire.model import Plan, Quantity, StudyKind
from acquire.report.record.beams import beams_of
from acquire.report.record.beside import Beside
from acquire.report.record.checkrecord import CheckReading, CheckRecord, PieceRecord
from acquire.report.record.entrysteps import entry_steps
from acquire.report.record.outofrange import beyond_of
from acquire.report.record.placing import MINE, count_loose, sitting_ids_of
from acquire.report.record.record import (
    InstrumentRecord,
    NoteRecord,
    PlanRecord,
    ReadingRecord,
    RunRecord,
    SittingRecord,
    Standing,
    TrialRecord,
)
from acquire.report.record.scorecards import scorecards_of
from acquire.report.record.shaping import (
    CERTIFIED,
    READ,
    check_reading,
    check_record,
    piece_record,
    reading_record,
)
from acquire.report.record.shifts import shifts_of
from acquire.report.record.sittings import sittings_of, with_loose
from acquire.report.record.soundness import misfit_of
from acquire.report.record.spectra import spectra_of
from acquire.report.record.surrounding import EVER_NS, Stretch, stretches
from acquire.report.record.traces import traces_of
from acquire.report.record.troubles import noise_of, troubles_of
from acquire.report.record.workrecord import work_of
from acquire.schema import unlike_id
from acquire.settings import parse_plan
from acquire.store.reader import StoreReader
from acquire.store.seals import Head
from acquire.study.found import studies
from acquire.study.lending import candidates, lent_of
from acquire.trial.blinding import blinding_of
from acquire.trial.naming import named_plan

_MOST_VARIABLES = 500
"""Placeholders of one query; SQLite has taken 999 since ever."""


Loader = Callable[[str], TrialRecord]
"""Gives the record of a trial by its id."""


def load_trial(store: Path, trial: str) -> TrialRecord:
    """All the store says about a trial.

    Raises `NotFound` where there is no store or no such trial (with those there are), `Refused`
    for a warm-up study, whose readings are no result, and `StoreError` where the file is no store.
    """
    with StoreReader(store) as reader, reader.snapshot():
        return trial_in(reader, trial)


def trial_in(reader: StoreReader, trial: str) -> TrialRecord:
    """The same by a reader of one's own, within a snapshot of it."""
    return _Loading(reader, trial).record()


class _Loading:
    """One trial's way out of the store; lives as long as one call."""

    def __init__(self, reader: StoreReader, trial: str) -> None:
        self._reader = reader
        self._trial = trial

    def record(self) -> TrialRecord:
        plans = self._plans()
        plan = parse_plan(plans[-1].text, f"trial {self._trial} as stored")
        if plan.study is StudyKind.WARM_UP:
            raise Refused(
                f"{self._trial} is a warm-up study and has no report",
                reason="warm-up study",
                got="readings of an instrument that was warming up, without a check",
                wanted="a trial, or a repeatability study",
                next_step=f"coatbench study --show {self._trial} says what it found",
            )
        blinding = blinding_of(self._reader.rows, plan)
        if blinding is not None:
            plan = named_plan(plan, blinding.products)
        runs = self._runs()
        readings = self._readings(plan)
        sitting_ids = sitting_ids_of(self._reader, self._trial)
        used = sorted(
            {(r.instrument, r.serial) for r in runs} | {(r.instrument, r.serial) for r in readings}
        )
        checks = self._checks(sitting_ids, used, readings)
        taken = [r.id for r in readings] + [r.id for c in checks for r in c.readings]
        sittings = sittings_of(self._reader, sitting_ids, taken, [c.id for c in checks])
        names = sorted({name for name, _ in used})
        windows = [(s.begun_utc_ns, _end(s)) for s in sittings]
        around = stretches(sittings, runs, readings, checks)
        loose = self._loose(sitting_ids, around)
        lent = self._lent(plan, readings)
        spectra = spectra_of(self._reader, self._trial)
        return TrialRecord(
            store=self._reader.path.name,
            plan=plan,
            plans=tuple(plans),
            sittings=tuple(with_loose(self._reader, sittings, [r.id for r in loose])),
            instruments=tuple(self._instrument(name, serial) for name, serial in used),
            runs=tuple(runs),
            readings=tuple(readings),
            loose=tuple(loose),
            checks=tuple(checks),
            troubles=troubles_of(self._reader, windows, names, self._trial),
            notes=tuple(self._notes(sitting_ids)),
            noise=noise_of(self._reader, windows, names),
            loose_elsewhere=count_loose(self._reader) - len(loose),
            shifts=shifts_of(self._reader, names),
            seal=self._seal(),
            histories=tuple(self._histories(used)),
            lent=lent,
            blinding=blinding,
            spectra=spectra,
            beyond=beyond_of(self._reader, plan, runs, readings, loose, checks),
            beams=beams_of(self._reader, checks, spectra.values()),
            traces=traces_of(self._reader, self._trial, plan),
            work=work_of(self._reader, plan),
            entry_steps=entry_steps(
                self._reader, [r.connection_id for r in readings if r.is_typed]
            ),
            scorecards=scorecards_of(self._reader, self._trial),
            misfit=misfit_of(
                self._reader,
                self._trial,
                with_studies=any(one.known for one in lent.values()),
            ),
        )

    def _lent(self, plan: Plan, readings: Sequence[ReadingRecord]) -> dict[str, Lent]:
        """What studies lend to each measure, as of the last reading of the trial."""
        counting = [r for r in readings if r.standing is Standing.COUNTS]
        # A study is what lends, and it is not judged by itself.
        if plan.study is not None or not counting:
            return {}
        lists = candidates(studies(self._reader))
        last_utc_ns = max(r.at_utc_ns for r in counting)
        found = {}
        for measure in plan.measures:
            serials: dict[str, dict[str, str]] = {}
            for r in counting:
                if r.measure == measure.id:
                    serials.setdefault(r.channel, {})[r.serial] = r.instrument
            found[measure.id] = lent_of(lists, measure.quantity, serials, last_utc_ns)
        return found

    def _histories(self, used: Iterable[tuple[str, str]]) -> list[Seen]:
        """How each meter held over all of its checks, seen at its last one: a day of the store."""
        found: list[Seen] = []
        for name, serial in used:
            own = [h for h in histories(self._reader, name) if h.key.serial == serial]
            latest_ns = max((int(h.series.at_ns[-1]) for h in own), default=0)
            found += [history.seen(latest_ns) for history in own]
        return found

    def _seal(self) -> str:
        rows = self._reader.rows("SELECT id, digest FROM seal ORDER BY id DESC LIMIT 1")
        return "".join(str(Head(*row)) for row in rows)

    def _plans(self) -> list[PlanRecord]:
        # What could be no id is the name of nothing, and may be no text that SQLite would take.
        rows = not unlike_id(self._trial) and self._reader.rows(
            "SELECT id, at_utc_ns, digest, text FROM trial WHERE trial = ? ORDER BY id",
            (self._trial,),
        )
        if not rows:
            known = [r["trial"] for r in self._reader.rows("SELECT DISTINCT trial FROM trial")]
            raise NotFound(
                f"there is no trial {self._trial!r} in {self._reader.path}",
                wanted=", ".join(sorted(known)) or "a trial, but the store has none yet",
                next_step="name one of these"
                if known
                else "begin a run of it first: coatbench run FILE STAGE",
            )
        return [PlanRecord(*row) for row in rows]

    def _runs(self) -> list[RunRecord]:
        rows = self._reader.rows(
            "SELECT r.id, r.measure, r.stage, r.instrument, r.serial, r.at_utc_ns, "
            "e.at_utc_ns, e.open_slots, coalesce(e.why, ''), r.trial_id "
            "FROM run AS r JOIN trial AS t ON t.id = r.trial_id "
            "LEFT JOIN run_end AS e ON e.run_id = r.id WHERE t.trial = ? ORDER BY r.id",
            (self._trial,),
        )
        return [RunRecord(*row) for row in rows]

    def _readings(self, plan: Plan) -> list[ReadingRecord]:
        rows = self._reader.each(
            f"SELECT {READ} FROM readings WHERE reading_id IN ({MINE}) "  # noqa: S608 - our names
            "ORDER BY reading_id",
            (self._trial,),
        )
        places = {
            (m.id, zone.id, stage, channel)
            for m in plan.measures
            for zone in plan.zones
            for stage in m.stages
            for channel in m.channels
        }
        return [reading_record(row, places) for row in rows]

    def _instrument(self, name: str, serial: str) -> InstrumentRecord:
        rows = self._reader.rows(
            "SELECT kind, driver, profile FROM instrument WHERE instrument = ? "
            "ORDER BY serial = ? DESC, id DESC LIMIT 1",
            (name, serial),
        )
        kind, driver, profile = rows[0] if rows else ("", "", "")
        known = Quantity(kind) if kind in set(Quantity) else None
        return InstrumentRecord(name, serial, known, driver, profile)

    def _loose(self, sitting_ids: Sequence[int], around: Sequence[Stretch]) -> list[ReadingRecord]:
        others = [
            Stretch(*row[1:])
            for row in self._some(
                "SELECT t.trial, r.instrument, r.at_utc_ns, e.at_utc_ns FROM run AS r "
                "JOIN trial AS t ON t.id = r.trial_id JOIN run_end AS e ON e.run_id = r.id "
                "WHERE r.sitting_id IN ({})",
                sitting_ids,
            )
            if row[0] != self._trial
        ]
        rows = self._some(
            f"SELECT {READ} FROM readings WHERE role = 'loose' AND reading_id IN ("  # noqa: S608
            "SELECT id FROM reading WHERE role = 'loose' AND sitting_id IN ({})) "
            "ORDER BY reading_id",
            sitting_ids,
        )
        return [
            reading_record(row, set())
            for row in rows
            if any(s.holds(row["instrument"], row["at_utc_ns"]) for s in around)
            and not any(s.holds(row["instrument"], row["at_utc_ns"]) for s in others)
        ]

    def _checks(
        self,
        sitting_ids: Sequence[int],
        used: Iterable[tuple[str, str]],
        readings: Sequence[ReadingRecord],
    ) -> list[CheckRecord]:
        mine = set(used)
        around = {r.check_id for r in readings} | {r.closing_check_id for r in readings}
        rows = [
            row
            for row in self._some("SELECT * FROM checks WHERE sitting_id IN ({})", sitting_ids)
            if (row["instrument"], row["serial"]) in mine
        ]
        around |= self._between(readings)
        missing = sorted({i for i in around if i is not None} - {row["check_id"] for row in rows})
        rows += self._some("SELECT * FROM checks WHERE check_id IN ({})", missing)
        rows.sort(key=lambda row: int(row["check_id"]))
        ids = [row["check_id"] for row in rows]
        policies = {
            row["id"]: json.loads(row["policy_json"])
            for row in self._some("SELECT id, policy_json FROM check_begin WHERE id IN ({})", ids)
        }
        pieces: dict[int, list[PieceRecord]] = defaultdict(list)
        for row in self._some(
            f"{CERTIFIED.format(table='piece_judgement')} WHERE p.check_id IN ({{}}) ORDER BY p.id",
            ids,
        ):
            pieces[row["check_id"]].append(piece_record(row))
        taken: dict[int, list[CheckReading]] = defaultdict(list)
        typed: set[int] = set()
        for row in self._some(
            "SELECT * FROM readings WHERE role = 'check' AND reading_id IN "
            "(SELECT id FROM reading WHERE check_id IN ({})) ORDER BY reading_id",
            ids,
        ):
            taken[row["check_id"]].append(check_reading(row))
            if row["typed"]:
                typed.add(row["check_id"])
        beside = Beside(self._reader, ids)
        return [
            beside.of(check_record(row, policies[i], pieces[i], taken[i], is_typed=i in typed))
            for row in rows
            for i in (row["check_id"],)
        ]

    def _between(self, readings: Sequence[ReadingRecord]) -> set[int]:
        """Checks between those around readings, be it in a sitting of another trial, or under
        another serial number: of a meter that cannot be asked, it is what somebody entered.
        """
        found: set[int] = set()
        for opening, closing, serial, name in {
            (r.check_id, r.closing_check_id, r.serial, r.instrument)
            for r in readings
            if r.check_id is not None
        }:
            rows = self._reader.rows(
                "SELECT c.id FROM check_begin AS c JOIN check_judgement AS j ON j.check_id = c.id "
                "WHERE (c.serial = ?1 OR c.instrument = ?4) AND c.id > ?2 "
                "AND c.id < coalesce(?3, (SELECT coalesce(min(p.id), 9223372036854775807) "
                "FROM check_begin AS p JOIN check_judgement AS o ON o.check_id = p.id "
                "WHERE p.serial = ?1 AND p.id > ?2 AND o.outcome = 'pass'))",
                (serial, opening, closing, name),
            )
            found |= {row["id"] for row in rows}
        return found

    def _notes(self, sitting_ids: Sequence[int]) -> list[NoteRecord]:
        rows = self._reader.rows(
            "SELECT at_utc_ns, stage, text, trial, sitting_id FROM note "
            "WHERE trial IN (?, '') ORDER BY id",
            (self._trial,),
        )
        mine = set(sitting_ids)
        return [NoteRecord(*row[:3]) for row in rows if row["trial"] or row["sitting_id"] in mine]

    def _some(self, sql: str, ids: Sequence[int]) -> list[sqlite3.Row]:
        """Rows of a query with ``IN ({})``, asked in portions that SQLite takes."""
        rows: list[sqlite3.Row] = []
        for start in range(0, len(ids), _MOST_VARIABLES):
            portion = ids[start : start + _MOST_VARIABLES]
            rows += self._reader.rows(sql.format(", ".join("?" * len(portion))), portion)
        return rows


def _end(sitting: SittingRecord) -> int:
    # A sitting that is still open goes on: what happened since its last reading belongs to it.
    return sitting.last_utc_ns if sitting.is_closed else EVER_NS
