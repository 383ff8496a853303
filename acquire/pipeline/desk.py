"""The desk: where every fact gets its place. It decides, in one thread, what each reading is.

Facts of the instruments go in, rows to be stored come out. The desk keeps how each instrument
stands and which run is under way; the gatekeeper keeps the checks. It does no I/O of its own; what
it needs from the store it asks of the shelf, between batches.

What a person asks for (begin a check, skip a target, void a reading) is in `acquire.pipeline.acts`.
"""

from __future__ import annotations

from decimal import Decimal
from functools import lru_cache

from acquire.calibration.width import wide_limits
from acquire.errors import CoatbenchError
from acquire.model import (
    Batch,
    Bench,
    EndReason,
    Gap,
    IncidentKind,
    Instant,
    Measure,
    Noise,
    Plan,
    Reading,
    Samples,
    Slot,
    Spectrum,
    channel_label,
    opened_words,
    unasked,
)
from acquire.model.batch import CLOSED_BY_DAEMON
from acquire.pipeline.aim import PRESSED_BEFORE, TYPED_BEFORE
from acquire.pipeline.arrays import spectrum_row, trace_rows
from acquire.pipeline.course import Course, Filling
from acquire.pipeline.gatekeeper import Gatekeeper
from acquire.pipeline.ids import Ids
from acquire.pipeline.misplaced import of_another_piece
from acquire.pipeline.moving import reopen_suspects
from acquire.pipeline.notices import notice_rows
from acquire.pipeline.place import Place, loose
from acquire.pipeline.press import why_apart
from acquire.pipeline.probes import Probes, noise_row, tape_rows
from acquire.pipeline.reassessing import reassessment_rows
from acquire.pipeline.refusals import Refusals
from acquire.pipeline.standing import Standing
from acquire.pipeline.under_way import RunUnderWay
from acquire.pipeline.wanted import wanted_targets
from acquire.store import rows as r
from acquire.store.found import OpenRun
from acquire.store.rows import Row
from acquire.store.shelf import Shelf
from acquire.units import normalise

_ZERO = Decimal(0)


@lru_cache(maxsize=64)
def _alone(channel: str) -> frozenset[str]:
    """One channel, as the gate is asked for it."""
    return frozenset((channel,))


class Desk:
    """State of the bench and the rules of the gate over it. One thread."""

    def __init__(self, bench: Bench, shelf: Shelf, ids: Ids) -> None:
        self.bench = bench
        self.shelf = shelf
        self.ids = ids
        self.standings = {
            spec.id: Standing(spec, spec.serial, tuple(wide_limits(spec.policy, bench.pieces)))
            for spec in bench.instruments
        }
        self.run: RunUnderWay | None = None
        self.interrupted: OpenRun | None = None
        self.judged_as_then = False
        self.sitting_id: int | None = None
        self.sources: dict[str, str] = {}
        """The file that a trial's plan was last read from, by trial."""
        self.keeper = Gatekeeper(bench, self.standings, shelf.passes, ids)
        self.refusals = Refusals(ids)
        self.probes = Probes(bench.probes, ids, shelf.worked)

    def chart(self, plan: Plan, measure: Measure, stage: str, channels: tuple[str, ...]) -> Course:
        """The course of a measure at a stage, with what counts already filled in."""
        filled = self.shelf.filled(plan.id, measure.id, stage)
        return Course(
            wanted_targets(self.shelf, plan, measure, stage, filled),
            channels,
            {slot: Filling(*filling) for slot, filling in filled.items()},
        )

    def settle(self, at: Instant) -> list[Row]:
        """After a commit: open the places of readings that became suspect.

        An undecided check may make them so, too, and so does a re-adjustment without a check as
        found. Cheap unless there was such a thing since the last call. Gives the rows of that, to
        be stored next. At the start checks that the end of the daemon broke off have been judged
        by the certificates of then, of which one may be withdrawn by now.
        """
        if self.judged_as_then:
            # Only now are they rows that can be judged anew.
            self.judged_as_then = False
            return reassessment_rows(self.ids, self.shelf.query, self.shelf.certificates(), at)
        by = self.keeper.unsettled.take()
        if not any(by) or self.run is None:
            return []
        return reopen_suspects(self.ids, self.shelf, self.run, by, at)

    # -- facts of the instruments --------------------------------------------------------------

    def take_in(self, batch: Batch) -> list[Row]:
        """The rows that a batch amounts to, in order."""
        if batch.instrument in self.probes.standings:
            return self._take_in_probe(batch)
        standing = self.standings[batch.instrument]
        rows: list[Row] = []
        if batch.connected is not None:
            at = batch.connected.at
            rows += self.keeper.watch_clock(at)
            standing.connection_id = self.ids.take(r.ConnectionRow)
            standing.opened_as = batch.connected.where
            standing.since = at
            standing.on_since = at
            standing.unread.heard()
            standing.other_rate = ""
            standing.serial = standing.spec.serial
            standing.message = opened_words(batch.connected.where)
            rows.append(
                r.ConnectionRow(
                    standing.connection_id,
                    at.utc_ns,
                    at.mono_ns,
                    standing.spec.id,
                    batch.connected.where,
                    batch.connected.adapter,
                    self.ids.last(r.TapeRow),
                )
            )
        if batch.gap is not None:
            rows += self._gap(standing, batch.gap)
        connection_id = standing.connection_id
        if connection_id is not None:
            rows += tape_rows(self.ids, connection_id, batch)
            if batch.received is not None:
                rows += self.keeper.watch_clock(batch.received.at)
            for fact in batch.facts:
                if isinstance(fact, Reading):
                    self._reading(standing, connection_id, fact, rows)
                elif isinstance(fact, Noise):
                    rows.append(noise_row(self.ids, connection_id, fact, fact.reason))
                    rows += self._unread(standing, fact)
                elif isinstance(fact, Spectrum):
                    standing.unread.heard()
                    rows.append(
                        spectrum_row(self.ids, standing, connection_id, fact, self.sitting_id)
                    )
                elif isinstance(fact, Samples):
                    standing.unread.heard()
                    rows += self._samples(standing, connection_id, fact)
                else:
                    rows += notice_rows(self.keeper, self.ids, standing, connection_id, fact)
        for incident in batch.incidents:
            if incident.kind is not IncidentKind.LINK_SHARED:
                standing.message = incident.message
            rows.append(
                self.keeper.incident(standing.spec.id, incident.kind, incident.at, incident.message)
            )
        if batch.disconnected is not None and connection_id is not None:
            rows += self._disconnected(
                standing, connection_id, batch.disconnected.at, batch.disconnected.message
            )
        return rows

    def _unread(self, standing: Standing, noise: Noise) -> list[Row]:
        """One row of trouble where an instrument is not understood any more."""
        spec = standing.spec
        # What is typed is refused before the eyes of who typed it.
        if spec.address.typed or not standing.unread.noise(noise.at.mono_ns):
            return []
        words = standing.unread.words(spec.id)
        return [self.keeper.incident(spec.id, IncidentKind.NOT_UNDERSTOOD, noise.at, words)]

    def _take_in_probe(self, batch: Batch) -> list[Row]:
        """A batch of what measures no surface: it never comes near the gate."""
        rows: list[Row] = []
        if batch.connected is not None:
            rows += self.keeper.watch_clock(batch.connected.at)
        if batch.received is not None:
            rows += self.keeper.watch_clock(batch.received.at)
        return rows + self.probes.take_in(batch, self.sitting_id)

    def _gap(self, standing: Standing, gap: Gap) -> list[Row]:
        """What nobody recorded may have been a reading of the check, or worse; so it ends here."""
        gap_id, since_ns, until_ns = self.ids.take(r.GapRow), gap.since.utc_ns, gap.until.utc_ns
        row = r.GapRow(gap_id, gap.instrument, since_ns, until_ns, gap.lost_bytes)
        why = f"{gap.lost_bytes} bytes of {gap.instrument} went unrecorded"
        return [
            row,
            *self.keeper.abandon_check(standing, gap.since, why),
            *self.keeper.end_pass(
                standing, EndReason.GAP, gap.since, f"{why}; its check ended with that"
            ),
        ]

    def _disconnected(
        self, standing: Standing, connection_id: int, at: Instant, message: str
    ) -> list[Row]:
        standing.connection_id = None
        standing.message = message
        end_id, after_tape = self.ids.take(r.DisconnectionRow), self.ids.last(r.TapeRow)
        rows: list[Row] = [
            r.DisconnectionRow(end_id, at.utc_ns, connection_id, message, after_tape)
        ]
        name = standing.spec.id
        if message == CLOSED_BY_DAEMON:
            why = f"the daemon was stopped; nobody watched {name} from then on"
            rows += self.keeper.abandon_check(standing, at, "the daemon stopped")
            return [*rows, *self.keeper.end_pass(standing, EndReason.NOT_WATCHED, at, why)]
        rows += self.keeper.abandon_check(
            standing,
            at,
            "the instrument was unplugged",
            f"plug {name} in and switch it on, then coatbench check {name}",
        )
        gone = f"{name} was unplugged or its line broke; its check ended with that"
        return [*rows, *self.keeper.end_pass(standing, EndReason.UNPLUGGED, at, gone)]

    def _reading(
        self, standing: Standing, connection_id: int, reading: Reading, rows: list[Row]
    ) -> None:
        """Place one reading: in the check under way, in the run, or among the loose ones."""
        quantity, channel, sent, sent_unit, text, at, raw, start, end, press, flags = reading
        try:
            value, unit = normalise(_ZERO if sent is None else sent, sent_unit, quantity)
        except CoatbenchError as error:
            noise = Noise(at, raw, start, end, str(error))
            rows.append(noise_row(self.ids, connection_id, noise, noise.reason))
            return
        standing.unread.heard()
        digits = None if sent is None else str(value)
        real = None if digits is None else float(digits)
        reading_id = self.ids.take(r.ReadingRow)
        mate = standing.press.take(connection_id, press, at, channel, reading_id)
        if flags or real is None:
            place = loose(", ".join(sorted(flags)) or "no value")
        else:
            place = self._place(standing, channel, value, real, at, reading_id, mate, rows)
            if mate is None and place.role != "loose":
                standing.press.place = place
        role, run_id, zone, stage, replicate, check_id, unchecked, piece, loose_reason = place
        row = r.ReadingRow(
            reading_id,
            connection_id,
            standing.spec.id,
            standing.serial,
            at.utc_ns,
            at.mono_ns,
            quantity.value,
            channel,
            text,
            sent_unit,
            digits,
            real,
            unit,
            press,
            ",".join(sorted(flags)) if flags else "",
            raw,
            start,
            end,
            role,
            self.sitting_id,
            run_id,
            zone,
            stage,
            replicate,
            check_id,
            unchecked,
            piece,
            loose_reason,
        )
        standing.last = row
        rows.append(row)
        checking = standing.checking
        if role == "check" and checking is not None and checking.rule is None:
            rows += self.keeper.judge(standing, at)

    def _place(
        self,
        standing: Standing,
        channel: str,
        value: Decimal,
        real: float,
        at: Instant,
        reading_id: int,
        mate: Place | None,
        rows: list[Row],
    ) -> Place:
        """Where a value belongs: to the check under way, to the run, or to the loose ones.

        Where its press has a place already, `mate`, it belongs there or nowhere. Adds to `rows`
        what of its press counts no more.
        """
        spec = standing.spec
        if standing.serial != spec.serial:
            return loose(standing.other_words())
        if at.mono_ns < standing.aimed_ns:
            return loose(PRESSED_BEFORE)
        if standing.typed_ns is not None and standing.typed_ns < standing.aimed_ns:
            return loose(TYPED_BEFORE)
        checking, run = standing.checking, self.run
        if checking is not None:
            named = (reading_id, channel, value, at)
            pieces = tuple(self.keeper.judging.pieces(at).values())
            other = of_another_piece(pieces, self.ids, standing, named, mate, rows)
            if other:
                return loose(other)
        if mate is not None and (apart := why_apart(mate, checking, run.id if run else None)):
            return loose(apart)
        if checking is not None:
            piece = checking.take(channel, value, reading_id)
            if piece is None:
                return loose(checking.why_unwanted(channel))
            return Place("check", check_id=checking.check_id, piece=piece)
        if run is None or run.instrument != spec.id:
            return loose(standing.no_run_words())
        course = run.course
        target = course.next if mate is None else mate.target
        if target is None:
            return loose("every target of the run is filled")
        if not (course.wants(channel) if mate is None else course.is_open(Slot(target, channel))):
            return loose(
                f"{target} has its {channel_label(channel)} reading already"
                if channel in course.channels
                else f"{unasked.RUN}{channel_label(channel) or 'a reading'}"
            )
        # A pass that time has ended since the last tick has ended for this reading, too.
        rows += self.keeper.run_out(standing, at, reading_id - 1)
        verdict = self.keeper.ask_gate(
            standing, _alone(channel), at, value, is_mate=mate is not None
        )
        check_id = verdict.check_id
        if check_id is None and verdict.reason == EndReason.USED_UP:
            rows += self.keeper.end_used_up(standing, at, verdict, reading_id - 1)
        if check_id is None and not run.plan.unchecked:
            return loose(f"no valid check: {verdict.message}")
        if mate is None and check_id is not None:
            standing.take(at)
        if mate is None:
            course.fill(channel, Filling(reading_id, real))
        else:
            course.fill_at(Slot(target, channel), Filling(reading_id, real))
        run.last_filled, run.last_place = reading_id, target
        zone, stage, replicate = target
        return Place("run", run.id, zone, stage, replicate, check_id, 1 if check_id is None else 0)

    def _samples(self, standing: Standing, connection_id: int, samples: Samples) -> list[Row]:
        run = self.run if self.run and self.run.instrument == standing.spec.id else None
        return trace_rows(
            self.ids,
            standing,
            connection_id,
            samples,
            self.sitting_id,
            run.id if run else None,
            run.course.next if run else None,
        )
