"""Studies out of the store: their readings that count, and what they say, computed anew.

One thread at a time uses a reader. Writes nothing.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Protocol

from acquire.model import NoticeKind, Plan, Quantity, StudyKind
from acquire.settings import parse_plan
from acquire.study.writing import PREFIX
from acquire.units import convert

if TYPE_CHECKING:
    from acquire.analysis.studies.study import Study, StudyCell
    from acquire.analysis.studies.warmup import WarmUp

_TABLE = "[study]"
JUST_BEFORE_NS = 600 * 10**9
"""A meter that said it was switched on so long before its warm-up study began had been on since
then; a longer time says that it was not switched on for the study. Ten minutes: our choice."""


class Reader(Protocol):
    """What is asked: `acquire.store.reader.StoreReader`."""

    def rows(self, sql: str, arguments: Sequence[object] = ()) -> list[sqlite3.Row]: ...


@dataclass(frozen=True, slots=True)
class Finding:
    """What a study says of one instrument, by its serial number, at one channel.

    One of `study` and `warm_up` is set. `trouble` says why a warm-up study cannot be taken as it
    is; empty where it can.
    """

    instrument: str
    serial: str
    channel: str
    unit: str
    resolution: float
    last_utc_ns: int
    study: Study | None = None
    warm_up: WarmUp | None = None
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class FoundStudy:
    """A study with its findings, one an instrument and channel.

    `open_places` counts places without a reading that counts, over all people; `is_open` says
    that one of its runs has not ended, `is_closed` that a passed check closes every reading that
    counts. `void` and `suspect` count readings that are left out.
    """

    id: str
    kind: StudyKind
    plan: Plan
    instrument: str
    begun_utc_ns: int
    is_open: bool
    open_places: int
    void: int
    suspect: int
    is_closed: bool = False
    findings: tuple[Finding, ...] = field(default=())

    @property
    def name(self) -> str:
        """``study 3``; the id of a study that was not numbered by Coatbench."""
        number = self.id.removeprefix(PREFIX)
        return f"study {number}" if number.isdecimal() else f"study {self.id}"

    @property
    def people(self) -> tuple[str, ...]:
        return self.plan.stages

    @property
    def quantity(self) -> Quantity:
        return self.plan.measures[0].quantity


def studies(reader: Reader) -> list[FoundStudy]:
    """All studies of a store, the oldest first."""
    plans = study_plans(reader)
    if not plans:
        return []
    # One query for all: the view works out the brackets of every check of the store.
    readings: dict[str, list[sqlite3.Row]] = {plan.id: [] for plan, _ in plans}
    marks = ", ".join("?" * len(readings))
    runs = (
        "SELECT run.id FROM run JOIN trial AS t ON t.id = run.trial_id "  # noqa: S608 - marks alone
        f"WHERE t.trial IN ({marks})"
    )
    for row in reader.rows(
        "SELECT q.*, c.policy_json FROM readings AS q "  # noqa: S608 - marks alone
        # By their numbers, or the view would work out every reading of the store.
        "LEFT JOIN check_begin AS c ON c.id = q.check_id WHERE q.reading_id IN "
        f"(SELECT id FROM reading WHERE run_id IN ({runs}) UNION "
        f"SELECT reading_id FROM assignment WHERE run_id IN ({runs})) ORDER BY q.reading_id",
        [*readings, *readings],
    ):
        readings[row["trial"]].append(row)
    return [_found(reader, plan, at, readings[plan.id]) for plan, at in plans]


def study_plans(reader: Reader) -> list[tuple[Plan, int]]:
    """The plans of all studies with the moment each was stored, the oldest first."""
    rows = reader.rows(
        "SELECT trial, text, at_utc_ns FROM trial WHERE id IN "
        "(SELECT max(id) FROM trial WHERE instr(text, ?) > 0 GROUP BY trial) ORDER BY id",
        (_TABLE,),
    )
    plans = ((parse_plan(r["text"], f"trial {r['trial']} as stored"), r["at_utc_ns"]) for r in rows)
    # The word may stand in a comment of an ordinary plan.
    return [(plan, at) for plan, at in plans if plan.study is not None]


def next_number(reader: Reader) -> int:
    """One more than any study, or trial of such a name, has."""
    names = [str(r["trial"]) for r in reader.rows("SELECT DISTINCT trial FROM trial")]
    numbers = [n.removeprefix(PREFIX) for n in names if n.startswith(PREFIX)]
    return 1 + max((int(n) for n in numbers if n.isdecimal() and len(n) < 9), default=0)


def _found(
    reader: Reader, plan: Plan, begun_utc_ns: int, rows: Sequence[sqlite3.Row]
) -> FoundStudy:
    runs = reader.rows(
        "SELECT run_id, instrument, ended FROM runs WHERE trial = ? ORDER BY run_id", (plan.id,)
    )
    counting = [r for r in rows if r["counts"]]
    measure = plan.measures[0]
    places = len(plan.zones) * measure.replicates * len(measure.channels) * len(measure.stages)
    filled = {(r["zone"], r["stage"], r["replicate"], r["channel"]) for r in counting}
    assert plan.study is not None
    return FoundStudy(
        id=plan.id,
        kind=plan.study,
        plan=plan,
        instrument=runs[-1]["instrument"] if runs else "",
        begun_utc_ns=begun_utc_ns,
        is_open=any(r["ended"] is None for r in runs),
        open_places=places - len(filled),
        void=sum(r["void_reason"] is not None for r in rows),
        suspect=sum(r["void_reason"] is None and r["bracket"] == "suspect" for r in rows),
        is_closed=bool(counting) and all(r["bracket"] == "bracketed" for r in counting),
        findings=tuple(_findings(reader, plan, counting)),
    )


def _findings(reader: Reader, plan: Plan, counting: Sequence[sqlite3.Row]) -> Iterable[Finding]:
    groups: dict[tuple[str, str], list[sqlite3.Row]] = {}
    for row in counting:
        groups.setdefault((row["serial"], row["channel"]), []).append(row)
    unit = plan.measures[0].unit
    for (serial, channel), rows in groups.items():
        step = _resolution(rows, unit)
        instrument, last = rows[-1]["instrument"], max(r["at_utc_ns"] for r in rows)
        if plan.study is StudyKind.WARM_UP:
            from acquire.analysis.studies.warmup import warm_up_of  # noqa: PLC0415 - slow

            since, trouble = _switched_on(reader, plan.id, serial, rows)
            times = [(r["at_utc_ns"] - since) / 1e9 for r in rows]
            found = warm_up_of(times, [r["value_real"] for r in rows], step)
            yield Finding(
                instrument, serial, channel, unit, step, last, warm_up=found, trouble=trouble
            )
        else:
            from acquire.analysis.studies.study import study_of  # noqa: PLC0415 - slow

            study = study_of(_cells(plan, rows), step)
            yield Finding(instrument, serial, channel, unit, step, last, study=study)


def _cells(plan: Plan, rows: Sequence[sqlite3.Row]) -> list[StudyCell]:
    from acquire.analysis.studies.study import StudyCell  # noqa: PLC0415 - slow

    found: dict[tuple[str, str], list[sqlite3.Row]] = {
        (zone.id, stage): [] for zone in plan.zones for stage in plan.stages
    }
    for row in rows:
        if (row["zone"], row["stage"]) in found:
            found[row["zone"], row["stage"]].append(row)
    return [
        StudyCell(
            spot,
            person,
            tuple(r["value_real"] for r in mine),
            tuple(r["reading_id"] for r in mine),
        )
        for (spot, person), mine in found.items()
    ]


def _switched_on(
    reader: Reader, trial: str, serial: str, rows: Sequence[sqlite3.Row]
) -> tuple[int, str]:
    """When the instrument was switched on: as it said, or was found, else when the study began.

    With what stands against the study: the instrument was switched off and on in its midst.
    """
    (begun,) = reader.rows(
        "SELECT min(run.at_utc_ns) AS at_utc_ns FROM run JOIN trial ON trial.id = run.trial_id "
        "WHERE trial.trial = ? AND run.serial = ?",
        (trial, serial),
    )
    # Another serial number may have answered in a run that was begun with this one's.
    run_ns = int(begun["at_utc_ns"] or rows[0]["at_utc_ns"])
    first, last = rows[0]["reading_id"], rows[-1]["reading_id"]
    told = reader.rows(
        "SELECT at_utc_ns, after_reading FROM notice WHERE serial = ? AND kind = ? "
        "AND after_reading < ? AND at_utc_ns >= ? ORDER BY id",
        (serial, NoticeKind.POWER_UP.value, last, run_ns - JUST_BEFORE_NS),
    )
    before = [r["at_utc_ns"] for r in told if r["after_reading"] < first]
    if not before:
        # A meter that is powered by its cable came up when it was found; one that was found
        # earlier than it was switched on makes the time longer, on the safe side.
        opened = reader.rows(
            "SELECT max(at_utc_ns) AS at_utc_ns FROM connection WHERE instrument = ? "
            "AND at_utc_ns BETWEEN ? AND ?",
            (rows[0]["instrument"], run_ns - JUST_BEFORE_NS, run_ns),
        )
        before = [r["at_utc_ns"] for r in opened if r["at_utc_ns"] is not None]
    since = min(max(before, default=run_ns), rows[0]["at_utc_ns"])
    if any(r["after_reading"] >= first for r in told):
        return since, "the instrument was switched off and on between its readings"
    return since, ""


def _resolution(rows: Sequence[sqlite3.Row], unit: str) -> float:
    """The step of the display in `unit`: by the check policies, else by the last digit sent."""
    steps = []
    for text in {r["policy_json"] for r in rows if r["policy_json"]}:
        policy = json.loads(text)
        steps.append(convert(Decimal(str(policy["resolution"])), policy["unit"], unit))
    if steps:
        return float(max(steps))
    sent = []
    for row in rows:
        try:
            exponent = Decimal(row["sent_text"].strip()).as_tuple().exponent
        except InvalidOperation:
            continue
        if isinstance(exponent, int):
            sent.append(convert(Decimal(1).scaleb(exponent), row["sent_unit"], unit))
    return float(min(sent)) if sent else 0.0
