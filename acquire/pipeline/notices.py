"""What an instrument tells of itself, or a person of it: switched on, re-adjusted, its identity.

Runs on the desk's thread.
"""

from __future__ import annotations

from acquire.model import (
    RATE_HOLDS,
    UNKNOWN_SERIAL,
    EndReason,
    IncidentKind,
    Instant,
    Notice,
    NoticeKind,
    opened_words,
)
from acquire.pipeline.gatekeeper import Gatekeeper
from acquire.pipeline.ids import Ids
from acquire.pipeline.standing import NOT_TOLD, Standing
from acquire.store import rows as r
from acquire.store.rows import Row


def notice_rows(
    keeper: Gatekeeper, ids: Ids, standing: Standing, connection_id: int, notice: Notice
) -> list[Row]:
    """A notice, and what it ends: checks under way, passes, or the trust in a serial number."""
    name = standing.spec.id
    at = notice.at
    notice_id = ids.take(r.NoticeRow)
    rows: list[Row] = [
        r.NoticeRow(
            notice_id,
            connection_id,
            name,
            at.utc_ns,
            notice.kind.value,
            notice.text,
            notice.raw,
            notice.start,
            notice.end,
            standing.serial,
            ids.last(r.ReadingRow),
        )
    ]
    if notice.kind is NoticeKind.TYPED_ONCE:
        standing.typed_ns = at.mono_ns
    elif notice.kind is NoticeKind.POWER_UP:
        standing.press.forget()
        standing.on_since = at
        # Without bytes nobody said it: it follows from a count or from a silence.
        happened = "was switched off and on"
        if not notice.raw:
            happened += ", or used out of reach, or another is in its place"
        rows += keeper.abandon_check(standing, at, f"the instrument {happened}")
        rows += keeper.end_pass(
            standing,
            EndReason.SWITCHED_OFF,
            at,
            f"{name} {happened}; its check ended with that",
        )
    elif notice.kind is NoticeKind.ADJUSTED:
        rows += keeper.abandon_check(standing, at, "the instrument was re-adjusted")
        rows += keeper.end_pass(
            standing,
            EndReason.ADJUSTED,
            at,
            f"{name} was re-adjusted; what was checked before says nothing of it now",
        )
        keeper.readjusted(standing, notice_id, at)
    elif notice.kind is NoticeKind.OTHER_RATE:
        standing.other_rate = "" if notice.text == RATE_HOLDS else notice.text
    named = notice.kind in (NoticeKind.POWER_UP, NoticeKind.IDENTITY) and notice.text
    if named and notice.text != standing.serial:
        standing.serial = notice.text
        rows += _another(keeper, standing, notice.text, at)
    return rows


def _another(keeper: Gatekeeper, standing: Standing, serial: str, at: Instant) -> list[Row]:
    """What a serial number ends that is not the one of before."""
    name, wanted = standing.spec.id, standing.spec.serial
    said = f"serial {serial} answers"
    why = f"{said} as {name}; the check was of another serial number"
    step = f"plug in {wanted}, or change the serial in bench.toml"
    if other := keeper.whose(serial):
        said += f", which is {other} of this bench"
        step = f"exchange the plugs of {name} and {other}, or their links in bench.toml"
    if serial == UNKNOWN_SERIAL:
        said = NOT_TOLD
        why = f"{name}: {said}; another may be in its place"
        step = (
            "see that its cable goes both ways and press once, for each press asks it anew (if it "
            "cannot tell, use a profile without [identify])"
        )
    rows: list[Row] = []
    if standing.is_expected_device:
        standing.message = opened_words(standing.opened_as)
    else:
        message = f"{name}: {said}, wanted {wanted}. Next: {step}, then coatbench check {name}"
        standing.message = message
        rows.append(keeper.incident(name, IncidentKind.OTHER_SERIAL, at, message))
        rows += keeper.abandon_check(standing, at, said)
    return [*rows, *keeper.end_pass(standing, EndReason.OTHER_SERIAL, at, why)]
