"""What an instrument tells of itself, or a person of it: switched on, re-adjusted, its identity.

Runs on the desk's thread.
"""

from __future__ import annotations

from acquire.model import EndReason, IncidentKind, Notice, NoticeKind
from acquire.pipeline.gatekeeper import Gatekeeper
from acquire.pipeline.ids import Ids
from acquire.pipeline.standing import Standing
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
    if notice.kind is NoticeKind.POWER_UP:
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
    named = notice.kind in (NoticeKind.POWER_UP, NoticeKind.IDENTITY) and notice.text
    if named and notice.text != standing.serial:
        standing.serial = notice.text
        if not standing.is_expected_device:
            message = (
                f"{name}: serial {notice.text} answers, wanted {standing.spec.serial}. "
                f"Next: plug in {standing.spec.serial}, or change the serial in bench.toml, "
                f"then coatbench check {name}"
            )
            standing.message = message
            rows.append(keeper.incident(name, IncidentKind.OTHER_SERIAL, at, message))
            rows += keeper.abandon_check(standing, at, f"serial {notice.text} answered")
        rows += keeper.end_pass(
            standing,
            EndReason.OTHER_SERIAL,
            at,
            f"serial {notice.text} answers as {name}; the check was of another serial number",
        )
    return rows
