"""What a daemon writes down when it starts: the bench as configured, and what it finds open.

A pass does not outlive the daemon: while nobody watched, the instrument may have been unplugged,
switched off or exchanged. An open run is found and offered to go on, under a fresh check.
"""

from __future__ import annotations

from decimal import Decimal

from acquire.calibration.changed import limits_changed
from acquire.model import (
    Ending,
    EndReason,
    IncidentKind,
    Instant,
    Judgement,
    Outcome,
    iso_utc,
    read_policy_text,
)
from acquire.pipeline.climate import Entered
from acquire.pipeline.desk import Desk
from acquire.pipeline.reassessing import reassessment_rows
from acquire.pipeline.register import register_rows
from acquire.pipeline.unfinished import then, unfinished
from acquire.store import rows as r
from acquire.store.check_rows import PassEndRow
from acquire.store.register_rows import CertificateRow
from acquire.store.rows import Row

_SITTING_LIMIT_NS = 16 * 3600 * 1_000_000_000


def open_desk(desk: Desk, at: Instant) -> list[Row]:
    """Bring a new desk up to what the store holds; gives the rows that are to be stored first.

    Raises `SettingsError` where the bench file has edited certificates.
    """
    rows: list[Row] = []
    rows += _instruments(desk, at)
    rows += register_rows(desk, at)
    new = [row for row in rows if isinstance(row, CertificateRow)]
    register = [*desk.shelf.certificates(), *new]
    rows += reassessment_rows(desk.ids, desk.shelf.query, register, at)
    for found in desk.shelf.passes.unjudged_checks():
        # As if it had been broken off at the bench: a check that goes badly cannot be undone by
        # ending the daemon.
        pieces, certificate_ids = then(desk.shelf.certificates(), found.begun_utc_ns)
        judgement, judged = desk.keeper.broken_off(
            unfinished(found),
            at,
            "the daemon stopped",
            pieces,
            certificate_ids=certificate_ids,
        )
        rows += judged
        desk.judged_as_then = True
        if found.instrument in desk.standings:
            desk.standings[found.instrument].judged = judgement
    for passed in desk.shelf.passes.unended_passes():
        # An expired pass ended when its time was over, not when somebody next looked.
        expired = passed.expires.utc_ns <= at.utc_ns
        rows.append(
            PassEndRow(
                desk.ids.take(PassEndRow),
                passed.expires.utc_ns if expired else at.utc_ns,
                passed.check_id,
                (EndReason.EXPIRED if expired else EndReason.NOT_WATCHED).value,
                f"the check of {passed.instrument} ended when its time was over"
                if expired
                else f"the daemon was not running; nobody watched {passed.instrument} meanwhile",
                desk.ids.last(r.ReadingRow),
            )
        )
        standing = desk.standings.get(passed.instrument)
        if standing is not None:
            standing.ending = Ending(
                passed.check_id,
                EndReason.NOT_WATCHED,
                at,
                f"the daemon was not running; nobody watched {passed.instrument} meanwhile",
            )
    _recall_checks(desk, at)
    _recall_policies(desk)
    _recall_climate(desk, at)
    rows += _clock_behind(desk, at)
    runs = desk.shelf.open_runs()
    desk.interrupted = runs[-1] if runs else None
    rows += _sitting(desk, at)
    return rows


def _recall_checks(desk: Desk, at: Instant) -> None:
    """Why no check holds is what the last one came to, and not that there was none."""
    for last in desk.shelf.aftermath.last_checks():
        standing = desk.standings.get(last.instrument)
        if standing is None or standing.spec.serial != last.serial:
            continue
        if standing.ending is not None or standing.judged is not None:
            continue
        if last.outcome != Outcome.PASS:
            outcome = Outcome(last.outcome)
            standing.judged = Judgement(outcome, (), last.message, last.next_step)
        elif last.end_reason is not None:
            reason = EndReason(last.end_reason)
            standing.ending = Ending(last.check_id, reason, at, last.end_message or "")


def _recall_policies(desk: Desk) -> None:
    """Limits that are others now than at the last check are told before the next one."""
    for standing in desk.standings.values():
        spec = standing.spec
        found = desk.shelf.aftermath.last_policy(spec.serial, spec.policy.quantity.value)
        if found is not None:
            check_id, text = found
            changed = limits_changed(read_policy_text(text), spec.policy, check_id)
            standing.limits_changed = tuple(changed)


def _recall_climate(desk: Desk, at: Instant) -> None:
    """How the room was before the daemon stopped, and how long ago that is.

    By a clock that was set back since nobody knows that, and the room has to be entered again.
    """
    row = desk.shelf.latest_climate()
    if row is not None and row.at_utc_ns <= at.utc_ns:
        age_ns = at.utc_ns - row.at_utc_ns
        desk.keeper.climate.latest = Entered(
            Instant(row.at_utc_ns, at.mono_ns - age_ns),
            Decimal(row.temperature_c),
            None if row.humidity_percent is None else Decimal(row.humidity_percent),
            "" if row.temperature_reading_id is None else row.source,
        )


def _clock_behind(desk: Desk, at: Instant) -> list[Row]:
    """A clock that stands before the store's last entry would make old certificates valid again."""
    keeper, told = desk.keeper, desk.shelf.told
    keeper.told.recall(told.latest_utc_ns(), told.of_clocks())
    if keeper.told.floor_ns - at.utc_ns <= keeper.clock_jump_ns:
        return []
    return [keeper.incident("", IncidentKind.CLOCK_JUMPED, at, keeper.clock_behind(at))]


def _instruments(desk: Desk, at: Instant) -> list[Row]:
    known = {row.instrument: row for row in desk.shelf.instruments()}
    rows: list[Row] = []
    for spec in desk.bench.connected:
        row = r.InstrumentRow(
            0,
            at.utc_ns,
            spec.id,
            spec.kind.value,
            spec.serial,
            spec.driver,
            spec.profile_name,
            spec.profile_text,
            str(spec.address),
        )
        if spec.id not in known or known[spec.id][2:] != row[2:]:
            rows.append(row._replace(id=desk.ids.take(r.InstrumentRow)))
        before = known.get(spec.id)
        if before is not None and before.serial != spec.serial:
            message = (
                f"{spec.id} is said to have the serial number {spec.serial} now, and was said to "
                f"have {before.serial} before. Next: if it is another meter, give it an id of its "
                "own; its checks say nothing of the one before"
            )
            rows.append(desk.keeper.incident(spec.id, IncidentKind.OTHER_SERIAL, at, message))
    return rows


def _sitting(desk: Desk, at: Instant) -> list[Row]:
    """A sitting goes on over a restart, but not over a night."""
    found = desk.shelf.open_sitting()
    if found is None:
        return []
    sitting_id, begun_ns = found
    if 0 <= at.utc_ns - begun_ns < _SITTING_LIMIT_NS:
        desk.sitting_id = sitting_id
        return []
    return [
        r.SittingEndRow(
            desk.ids.take(r.SittingEndRow),
            at.utc_ns,
            sitting_id,
            f"left open since {iso_utc(begun_ns)}; closed when the daemon started again",
        )
    ]
