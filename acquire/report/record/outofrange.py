"""Presses of a run that the meter sent as out of its range: where the run stood when they came.

They have no value, so they are loose and the store gives them no place; but their zone at their
stage has readings of one side alone (`acquire.analysis.cells.onesided`). A run stands at the place
that its next reading fills, unless a hand or a check moved it before: then at the one that was
left. A press that would not have counted with a value either says nothing: one in a check, without
a valid pass, under a pass whose readings became suspect, or of what its place had already. Nor does
one that a person took out. Reads the store and writes nothing; the thread of the reader.
"""

from __future__ import annotations

from bisect import bisect
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from acquire.analysis.cells.onesided import Beyond, OneSided
from acquire.model import OUT_OF_RANGE, Flag, Measure, Plan, arrange, at_channel
from acquire.report.record.checkrecord import CheckRecord
from acquire.report.record.record import (
    BeyondRecord,
    ReadingRecord,
    RunRecord,
    Standing,
    TrialRecord,
)
from acquire.report.words.tabled import BEYOND_MARK
from acquire.report.words.wording import numbered
from acquire.store.reader import StoreReader

_MOST_PLACES = 24

_MOVES = (
    "SELECT left_zone, left_replicate, zone, replicate, after_reading FROM move "
    "WHERE run_id = ? ORDER BY id"
)


class _Move(NamedTuple):
    left_zone: str | None
    left_replicate: int | None
    zone: str | None
    replicate: int | None
    after_reading: int


class _Known:
    """The readings of a trial by what is asked of them for each press."""

    def __init__(self, readings: Sequence[ReadingRecord]) -> None:
        self.taken: dict[int | None, list[ReadingRecord]] = {}
        """Of each run, in their order. An assigned one is older than its place, and moved the run
        by a row of its own."""
        self._sound: dict[tuple[int | None, str], bool] = {}
        self._held: dict[tuple[str, str, str, str, int], int] = {}
        for r in readings:
            if not r.assigned_reason:
                self.taken.setdefault(r.run_id, []).append(r)
            under = r.check_id, r.channel
            self._sound[under] = self._sound.get(under, False) or r.bracket != "suspect"
            if r.standing is Standing.COUNTS:
                self._held.setdefault((r.measure, r.stage, r.channel, r.zone, r.replicate), r.id)

    def around(self, number: int, runs: Iterable[int]) -> list[ReadingRecord | None]:
        """The last reading of these runs before a number, and the first after it."""
        befores, afters = [], []
        for run in runs:
            own = self.taken.get(run, [])
            at = bisect(own, number, key=_number)
            befores += own[at - 1 : at] if at else []
            afters += own[at : at + 1]
        return [max(befores, key=_number, default=None), min(afters, key=_number, default=None)]

    def is_sound(self, check: int, channel: str) -> bool:
        """Whether what was read under a pass has not become suspect as a whole."""
        return self._sound.get((check, channel), True)

    def is_held(self, press: ReadingRecord, of: tuple[str, str], place: tuple[str, int]) -> bool:
        """Whether a place of a measure and stage had a reading that counts before a press."""
        return self._held.get((*of, press.channel, *place), press.id) < press.id


def is_out_of_range(reading: ReadingRecord) -> bool:
    """Whether the device said so in the place of a value."""
    return bool(OUT_OF_RANGE & set(reading.flags.split(",")))


def beyond_of(
    reader: StoreReader,
    plan: Plan,
    runs: Sequence[RunRecord],
    readings: Sequence[ReadingRecord],
    loose: Sequence[ReadingRecord],
    checks: Sequence[CheckRecord],
) -> tuple[BeyondRecord, ...]:
    """The place of each such press among the loose readings around the trial's runs."""
    # What is an old value or came twice was no press of its own.
    presses = [
        press
        for press in loose
        if OUT_OF_RANGE.issuperset(press.flags.split(",")) and not press.void_reason
    ]
    if not presses:
        return ()
    found: list[BeyondRecord] = []
    measures = {m.id: m for m in plan.measures}
    known, moves = _Known(readings), dict[int, list[_Move]]()
    for press in presses:
        run = _run_at(runs, press, known)
        measure = measures.get(run.measure) if run is not None else None
        if run is None or measure is None or press.channel not in measure.channels:
            continue
        if not plan.unchecked and not _would_count(press, known, checks):
            continue
        if run.id not in moves:
            moves[run.id] = [_Move(*row) for row in reader.rows(_MOVES, (run.id,))]
        place = _stood_at(plan, measure, run, press, known, moves[run.id])
        if place is not None:
            is_above = Flag.OVER_RANGE.value in press.flags.split(",")
            found.append(BeyondRecord(press.id, measure.id, press.channel, *place, is_above))
    return tuple(found)


def one_sided(record: TrialRecord, measure: str) -> dict[str, OneSided]:
    """By channel of a measure the zones and stages with such presses, and how many they have."""
    found: dict[str, dict[tuple[str, str], Beyond]] = {}
    for press in record.beyond:
        if press.measure == measure:
            own = found.setdefault(press.channel, {})
            above, below = own.get((press.zone, press.stage), Beyond())
            own[press.zone, press.stage] = (
                Beyond(above + 1, below) if press.is_above else Beyond(above, below + 1)
            )
    return dict(found)


def beyond_lines(record: TrialRecord) -> Iterator[str]:
    """A sentence on all zones and stages with such presses, with the numbers of these."""
    places: dict[str, list[BeyondRecord]] = {}
    for press in record.beyond:
        place = f"zone {press.zone}, {press.stage}{at_channel(press.channel)}"
        places.setdefault(place, []).append(press)
    if not places:
        return
    said = []
    for place, here in places.items():
        count = Beyond(sum(p.is_above for p in here), sum(not p.is_above for p in here))
        many = "s" if len(here) > 1 else ""
        number = f"reading{many} {numbered([p.reading_id for p in here])}"
        said.append(f"{place}: {count.words} ({number})")
    shown = said[:_MOST_PLACES]
    more = f"; and {len(said) - len(shown)} more places" if len(said) > len(shown) else ""
    yield (
        f"{BEYOND_MARK} at {'; '.join(shown)}{more}. What is out of range has no value, so the "
        "mean of what counts there is one-sided: no uncertainty of it is told, and nothing is "
        "decided by it. A press that was a slip can be taken out with the reason (coatbench void "
        "NUMBER --reason TEXT)."
    )


def _run_at(runs: Sequence[RunRecord], press: ReadingRecord, known: _Known) -> RunRecord | None:
    """The run of the instrument that was open when it was pressed.

    By the numbers of readings where they tell, since a clock may be set back; else by the clock.
    """
    own = {r.id: r for r in runs if (r.instrument, r.serial) == (press.instrument, press.serial)}
    before, after = known.around(press.id, own)
    if before is not None and after is not None and before.run_id == after.run_id:
        return own.get(before.run_id or 0)
    open_then = {
        run.id: run
        for run in own.values()
        if run.begun_utc_ns <= press.at_utc_ns
        and (run.ended_utc_ns is None or press.at_utc_ns <= run.ended_utc_ns)
    }
    for neighbour in (after, before):
        if neighbour is not None and neighbour.run_id in open_then:
            return open_then[neighbour.run_id]
    return max(open_then.values(), key=lambda run: run.id, default=None)


def _would_count(press: ReadingRecord, known: _Known, checks: Sequence[CheckRecord]) -> bool:
    """Whether a value would have counted: under a pass whose readings did not become suspect."""
    at_ns = press.at_utc_ns
    own = [c for c in checks if (c.instrument, c.serial) == (press.instrument, press.serial)]
    for check in reversed(own):
        read = [r.id for r in check.readings]
        is_begun = check.begun_utc_ns < at_ns
        if press.id < max(read, default=0):
            is_before_its_end = check.judged_utc_ns is None or at_ns <= check.judged_utc_ns
            if press.id > min(read) or (is_begun and is_before_its_end):
                return False
            continue
        if not read and not is_begun:
            continue
        if check.judged_utc_ns is None:
            # Under way still, or broken off without a verdict: then the one before it stands.
            if check.ended_utc_ns is None or check.ended_utc_ns > at_ns:
                return False
            continue
        ends = [ns for ns in (check.ended_utc_ns, check.expires_utc_ns) if ns is not None]
        if check.outcome != "pass" or any(ns < at_ns for ns in ends):
            return False
        return known.is_sound(check.id, press.channel)
    return False


def _number(reading: ReadingRecord) -> int:
    return reading.id


def _stood_at(
    plan: Plan,
    measure: Measure,
    run: RunRecord,
    press: ReadingRecord,
    known: _Known,
    moves: Sequence[_Move],
) -> tuple[str, str] | None:
    """Zone and stage of the place of a run that was next when a press came; None if it was full."""
    _, after = known.around(press.id, [run.id])
    move = next((m for m in moves if m.after_reading >= press.id), None)
    if move is not None and (after is None or move.after_reading < after.id):
        target = None
        if move.left_zone is not None and move.left_replicate is not None:
            target = (move.left_zone, move.left_replicate)
    else:
        target = None if after is None else (after.zone, after.replicate)
    if target is None:
        target = _gone_on(plan, measure, run, press, known, moves)
    if target is None or known.is_held(press, (measure.id, run.stage), target):
        return None
    return target[0], run.stage


def _gone_on(
    plan: Plan,
    measure: Measure,
    run: RunRecord,
    press: ReadingRecord,
    known: _Known,
    moves: Sequence[_Move],
) -> tuple[str, int] | None:
    """The place by what came before the press, where nothing of the run came after it."""
    before, _ = known.around(press.id, [run.id])
    move = next((m for m in reversed(moves) if m.after_reading < press.id), None)
    targets = [(t.zone, t.replicate) for t in arrange(plan, measure, run.stage)]
    start = 0
    if move is not None and (before is None or move.after_reading >= before.id):
        if move.zone is not None and move.replicate is not None:
            return move.zone, move.replicate
    elif before is not None and (before.zone, before.replicate) in targets:
        # Of several channels its place may want another one still.
        start = targets.index((before.zone, before.replicate))
    in_turn = (*targets[start:], *targets[:start])
    return next((t for t in in_turn if not known.is_held(press, (measure.id, run.stage), t)), None)
