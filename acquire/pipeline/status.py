"""How the bench stands, as plain data for screens and programs. Runs on the desk's thread."""

from __future__ import annotations

from decimal import Decimal

from acquire.calibration import found_outside
from acquire.calibration.due import Due, to_renew
from acquire.model import Instant, Quantity, Slot, Target, iso_utc
from acquire.pipeline.asking import first_connect
from acquire.pipeline.certified import certificates_of
from acquire.pipeline.checking import Checking
from acquire.pipeline.desk import Desk
from acquire.pipeline.nearness import far_from, scattering
from acquire.pipeline.probes import ProbeStanding
from acquire.pipeline.standing import Standing
from acquire.pipeline.under_way import RunUnderWay
from acquire.store.rows import ReadingRow
from acquire.trial.blinding import opened_plan


def status(desk: Desk, now: Instant) -> dict[str, object]:
    """Bench, instruments with their checks, check and run under way, what is interrupted."""
    run = desk.run
    return {
        "bench": desk.bench.name,
        "store": str(desk.bench.store),
        "at": iso_utc(now.utc_ns),
        "sitting": desk.sitting_id,
        "clock": desk.keeper.clock_behind(now),
        "instruments": [_instrument(desk, s, now) for s in desk.standings.values()],
        "climate": _climate(desk, now),
        "probes": [_probe(one) for one in desk.probes.standings.values()],
        "run": None if run is None else _run(desk, run, now),
        "interrupted": None
        if desk.interrupted is None
        else {
            "run_id": desk.interrupted.id,
            "trial": desk.interrupted.trial.trial,
            "measure": desk.interrupted.measure,
            "stage": desk.interrupted.stage,
            "instrument": desk.interrupted.instrument,
            "unchecked": bool(desk.interrupted.trial.unchecked),
            "begun": iso_utc(desk.interrupted.at_utc_ns),
        },
    }


def _instrument(desk: Desk, standing: Standing, now: Instant) -> dict[str, object]:
    spec = standing.spec
    verdict = desk.keeper.ask_gate(standing, frozenset(spec.policy.channels), now)
    passed = standing.passed
    checking = standing.checking
    last = standing.last
    return {
        "id": spec.id,
        "kind": spec.kind.value,
        "serial": standing.serial,
        "expected_serial": spec.serial,
        "channels": list(spec.policy.channels),
        "connected": standing.connected,
        # The daemon puts in what the session knows, here and in `shared`; the desk knows neither.
        "can_take": False,
        "typed": spec.address.typed,
        "message": standing.message,
        "shared": "",
        "unread": standing.unread.words(spec.id),
        "other_rate": standing.other_rate if standing.connected else "",
        "check": {
            "valid": verdict.is_open,
            "check_id": verdict.check_id,
            "left_s": max(0.0, (passed.expires.utc_ns - now.utc_ns) / 1e9)
            if verdict.is_open and passed is not None
            else None,
            "presses_left": passed.presses - standing.used
            if verdict.is_open and passed is not None and passed.presses is not None
            else None,
            "expires": iso_utc(passed.expires.utc_ns)
            if verdict.is_open and passed is not None
            else None,
            "reason": verdict.reason,
            "message": verdict.message
            or (standing.judged.message if standing.judged is not None else ""),
            "next_step": first_connect(standing, verdict.next_step) if verdict.next_step else "",
        },
        "certificates": [
            {
                "piece": due.piece,
                "channels": list(due.channels),
                "due": due.due.isoformat(),
                "days_left": due.days_left,
                "state": due.state.value,
                "words": due.words,
            }
            for due in _to_renew(desk, standing, now)
        ],
        "too_wide": list(standing.too_wide),
        "limits_changed": list(standing.limits_changed),
        "checking": None
        if checking is None
        else {
            "check_id": checking.check_id,
            "step": checking.step + 1,
            "steps": len(checking.policy.rules),
            "piece": checking.rule.piece if checking.rule else None,
            "readings": checking.rule.readings if checking.rule else 0,
            "taken": {g: checking.count(g) for g in checking.policy.channels},
            "last_taken": _last_taken(desk, checking.last_id, standing),
            "far": _far_from_piece(desk, checking, standing, now),
            "scatter": _scatter(checking, standing),
            "begun": checking.has_readings,
            "outside": found_outside(
                checking.policy,
                desk.keeper.judging.pieces(now),
                checking.readings,
                checking.found,
                desk.keeper.judging.certain(now).utc().date(),
            ),
        },
        "last": None
        if last is None
        else {
            "reading_id": last.id,
            "at": iso_utc(last.at_utc_ns),
            "value": last.value,
            "unit": last.unit,
            "channel": last.channel,
            "role": last.role,
            "flags": last.flags,
            "loose_reason": last.loose_reason,
            "zone": last.zone,
            "replicate": last.replicate,
            "piece": last.piece,
            "void_reason": desk.shelf.void_reason(last.id),
        },
    }


def _climate(desk: Desk, now: Instant) -> dict[str, object] | None:
    """How the room was when somebody last told it, and how long ago that is."""
    latest = desk.keeper.climate.latest
    if latest is None:
        return None
    damp = latest.humidity_percent
    return {
        "temperature_c": str(latest.temperature_c),
        "humidity_percent": None if damp is None else str(damp),
        "source": latest.source,
        "age_s": max(0.0, now.seconds_since(latest.at)),
    }


def _probe(standing: ProbeStanding) -> dict[str, object]:
    """A counter or climate probe; `counting` is what its strokes are counted for.

    `beside` is the other half of what a climate probe told last: temperature and humidity of one
    answer are two readings.
    """
    counting = standing.counting
    return {
        "id": standing.spec.id,
        "kind": standing.spec.kind.value,
        "serial": standing.serial,
        "expected_serial": standing.spec.serial,
        "connected": standing.connected,
        "message": standing.message,
        "shared": "",
        "last": _told_by(standing.last),
        "beside": _told_by(standing.beside),
        "counting": None
        if counting is None
        else {
            "trial": counting.trial,
            "zones": list(counting.zones),
            "strokes_per_wash": counting.strokes_per_wash,
            "over": counting.over,
        },
    }


def _told_by(row: ReadingRow | None) -> dict[str, object] | None:
    if row is None:
        return None
    return {
        "reading_id": row.id,
        "at": iso_utc(row.at_utc_ns),
        "value": row.value,
        "unit": row.unit,
        "channel": row.channel,
        "press": row.press,
        "flags": row.flags,
    }


def _to_renew(desk: Desk, standing: Standing, now: Instant) -> list[Due]:
    """Certificates that the checks of an instrument rely on and that are due soon or overdue."""
    relied_on = certificates_of(standing.spec.policy, desk.keeper.judging.pieces(now).values())
    today = desk.keeper.judging.certain(now).utc().date()
    return to_renew(relied_on, today, desk.bench.due_soon_days)


def _run(desk: Desk, run: RunUnderWay, now: Instant) -> dict[str, object]:
    standing = desk.standings[run.instrument]
    verdict = desk.keeper.ask_gate(standing, frozenset(run.course.channels), now)
    target = run.course.next
    # Of one press a reading may count and the next be loose: where it counted is what is shown.
    filled = run.last_place
    means = {}
    if filled is not None:
        for channel in run.course.channels:
            count, mean = run.course.mean(filled.zone, channel)
            means[channel] = {"count": count, "mean": mean}
    return {
        "run_id": run.id,
        "trial": run.plan.id,
        "title": run.plan.title,
        "unchecked": run.plan.unchecked,
        "measure": run.measure.id,
        "unit": run.measure.unit,
        "stage": run.stage,
        "instrument": run.instrument,
        "slots_left": run.course.slots_left,
        "slots_total": run.course.slots_total,
        "next": None
        if target is None
        else {
            "zone": target.zone,
            "treatment": opened_plan(desk.shelf.worked, run.plan).treatment_of(target.zone).name,
            "replicate": target.replicate,
            "replicates": run.measure.replicates,
            "channels": list(run.course.wanted(target)),
        },
        "last_taken": _last_taken(desk, run.last_filled, standing),
        "zone": None if filled is None else filled.zone,
        "zone_means": means,
        "far": [] if filled is None else _far_from_zone(run, filled, standing),
        "blocked": None
        if verdict.is_open or run.plan.unchecked
        else {
            "reason": verdict.reason,
            "message": verdict.message,
            "next_step": first_connect(standing, verdict.next_step),
        },
    }


_FAR_LIMITS, _FAR_SHARE, _LEAST_OTHERS = 10, 0.2, 2
"""Far from the others of its zone is a reading more than ten limits of the check off their mean,
or below a fifth of it (common practice, no source)."""


def _far_from_zone(run: RunUnderWay, filled: Target, standing: Standing) -> list[dict[str, object]]:
    """Readings of the last press of a run that lie far from the others of their zone.

    They count: what is far may be true, and only a person can say that a press slipped.
    """
    limit = max((rule.limit for rule in standing.spec.policy.rules), default=Decimal(0))
    found: list[dict[str, object]] = []
    for channel in run.course.channels:
        filling = run.course.filling(Slot(filled, channel))
        if filling is None:
            continue
        count, mean = run.course.mean(filled.zone, channel)
        others = count - 1
        rest = ((mean or 0.0) * count - filling.value) / others if others else 0.0
        is_off = others >= _LEAST_OTHERS and (
            abs(filling.value - rest) > _FAR_LIMITS * limit or filling.value < _FAR_SHARE * rest
        )
        if is_off or (filling.value == 0 and run.measure.quantity is Quantity.GLOSS):
            found.append(
                {
                    "reading_id": filling.reading_id,
                    "channel": channel,
                    "value": filling.value,
                    "others": others,
                    "mean": rest if is_off else None,
                }
            )
    return found


def _far_from_piece(
    desk: Desk, checking: Checking, standing: Standing, now: Instant
) -> dict[str, object] | None:
    """The last reading of a check, if it is far from the certificate of its piece."""
    last = standing.last
    if last is None or last.id != checking.last_id or last.value is None or last.piece is None:
        return None
    value = Decimal(last.value)
    pieces = tuple(desk.keeper.judging.pieces(now).values())
    certified = far_from(pieces, checking.policy, last.piece, last.channel, value)
    if certified is None:
        return None
    return {"reading_id": last.id, "certified": str(certified)}


def _scatter(checking: Checking, standing: Standing) -> dict[str, object] | None:
    """That the piece read last scatters more than it may, as far as it was read."""
    last = standing.last
    if last is None or last.id != checking.last_id or last.piece is None:
        return None
    found = scattering(checking, last.piece)
    if found is None:
        return None
    channel, spread, limit = found
    return {
        "reading_id": last.id,
        "piece": last.piece,
        "channel": channel,
        "spread": f"{spread:.2f}",
        "limit": str(limit),
        "unit": checking.policy.unit,
    }


def _last_taken(desk: Desk, reading_id: int | None, standing: Standing) -> dict[str, object] | None:
    """The last reading of a run or a check that counts there."""
    if reading_id is None:
        return None
    last = standing.last
    found = last if last is not None and last.id == reading_id else desk.shelf.tags(reading_id)
    if found is None:
        return None
    return {
        "reading_id": reading_id,
        "value": found.value,
        "unit": found.unit,
        "channel": found.channel,
        "zone": found.zone,
        "replicate": found.replicate,
        "piece": found.piece,
    }
