"""The page's section on the work: what was put on, how it was washed, which photos. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePosixPath, PureWindowsPath
from typing import NamedTuple

from acquire.report.evidence.othercount import other_count_lines
from acquire.report.record.record import TrialRecord
from acquire.report.words.wording import listed, moment
from acquire.trial.readiness import washed
from acquire.trial.washes import KEY, TYPED, checkpoints, counts_of, shared

MOST_ROWS = 500
_HOW = {TYPED: "typed", KEY: "counted by key"}


class CoatRow(NamedTuple):
    """One application; `when` is UTC."""

    zone: str
    name: str
    when: str
    amount: str
    haze: str
    note: str


class WashLine(NamedTuple):
    """Washes that were counted, or a correction; equal rows one after the other are one line."""

    when: str
    zones: str
    washes: str
    how: str


class PhotoLine(NamedTuple):
    """A picture by its name and hash."""

    name: str
    where: str
    sha256: str
    note: str


class WorkPart(NamedTuple):
    """All that the page says of the work beside the readings."""

    recipe: tuple[tuple[str, str], ...]
    coats: tuple[CoatRow, ...]
    washes: tuple[WashLine, ...]
    sentences: tuple[str, ...]
    photos: tuple[PhotoLine, ...]
    hidden: int

    @property
    def is_empty(self) -> bool:
        return not (self.recipe or self.coats or self.washes or self.photos)


def work_part(record: TrialRecord) -> WorkPart:
    """Tables of it; of more than `MOST_ROWS` rows the first ones, `hidden` counts the rest."""
    coats = tuple(_coats(record))
    washes = tuple(_washes(record))
    photos = tuple(_photos(record))
    hidden = sum(max(0, len(rows) - MOST_ROWS) for rows in (coats, washes, photos))
    return WorkPart(
        record.plan.recipe,
        coats[:MOST_ROWS],
        washes[:MOST_ROWS],
        tuple(_sentences(record)),
        photos[:MOST_ROWS],
        hidden,
    )


def _coats(record: TrialRecord) -> Iterator[CoatRow]:
    known = {z.id for z in record.plan.zones}
    away = {row.id: void for row, void in record.work.taken_back}
    every = (*record.work.applications, *(row for row, _ in record.work.taken_back))
    for row in sorted(every, key=lambda one: one.id):
        name = (
            record.name_of(record.plan.treatment_of(row.zone).id)
            if row.zone in known
            else "not in the plan"
        )
        haze = f"{row.haze_minutes} min" if row.haze_minutes is not None else ""
        note = row.text
        if row.id in away:
            void = away[row.id]
            note = f"TAKEN BACK on {moment(void.at_utc_ns)}: {void.reason}"
            note += f" (note: {row.text})" if row.text else ""
        yield CoatRow(row.zone, name, moment(row.applied_utc_ns), row.amount, haze, note)


def _washes(record: TrialRecord) -> Iterator[WashLine]:
    last: tuple[str, str, str] | None = None
    first_ns = until_ns = number = 0
    entries: list[int] = []
    for row in (*record.work.washes, None):
        key = None if row is None else (row.zones, row.counted_by, row.reason)
        if last is not None and (key != last or last[2]):
            zones, by, reason = last
            when = moment(first_ns)
            if until_ns != first_ns:
                when += f" to {moment(until_ns)}"
            how = f"corrected: {reason}" if reason else _HOW.get(by, "")
            if not how:
                # By these numbers each goes back to the bytes of its stroke (coatbench proof).
                span = f"{entries[0]}" if len(entries) == 1 else f"{entries[0]} to {entries[-1]}"
                how = f"counted by {by}, a counter: wash {span}"
            yield WashLine(when, zones.replace(",", ", "), f"{number:+d}", how)
            first_ns = number = 0
            entries = []
        if row is not None:
            first_ns = first_ns or row.at_utc_ns
            until_ns = row.at_utc_ns
            number += row.washes
            entries.append(row.id)
        last = key


def _sentences(record: TrialRecord) -> Iterator[str]:
    """The counts as they stand, and stages that were read after other counts than planned."""
    rows = record.work.washes
    if not rows:
        if checkpoints(record.plan) and any(
            r.stage in {c.stage for c in checkpoints(record.plan)} for r in record.readings
        ):
            yield (
                "No wash was counted with the program: the counts of the stages are those of the "
                "plan alone."
            )
        return
    counts = counts_of(record.plan, rows)
    told = "; ".join(f"{listed(z, 12)}: {washed(n)}" for n, z in shared(counts))
    yield f"Washes counted in all: {told}."
    yield from other_count_lines(record)


def _photos(record: TrialRecord) -> Iterator[PhotoLine]:
    for row in {r.picture: r for r in record.work.photos}.values():
        # The name alone: where somebody keeps their pictures is nobody's business.
        name = (PureWindowsPath if "\\" in row.path else PurePosixPath)(row.path).name
        where = " ".join(filter(None, (row.zone, row.stage)))
        yield PhotoLine(name, where, row.sha256, row.text)
