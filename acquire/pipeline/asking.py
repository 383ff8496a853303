"""What the acts share: the answer's form, and the questions every act asks first.

Runs on the desk's thread.
"""

from __future__ import annotations

from typing import NamedTuple

from acquire.cautions import cautions
from acquire.errors import NotFound, Refused
from acquire.link.find import PLUG
from acquire.model import UNKNOWN_SERIAL, Instant, Measure, Plan, Quantity
from acquire.pipeline.desk import Desk
from acquire.pipeline.standing import Standing
from acquire.pipeline.under_way import RunUnderWay
from acquire.store import rows as r
from acquire.store.rows import Row


class Answer(NamedTuple):
    """What the caller is told, once `rows` are on disk."""

    reply: dict[str, object]
    rows: list[Row]


def standing_of(desk: Desk, instrument: str) -> Standing:
    """How an instrument of the bench stands. Raises `NotFound`."""
    found = desk.standings.get(instrument)
    if instrument in desk.probes.standings:
        kind = desk.probes.standings[instrument].spec.kind
        raise NotFound(
            f"{instrument} measures no surface",
            got=f"an instrument of the kind {kind.value}, which is not checked and reads no zone",
            wanted=", ".join(desk.standings) or "an instrument that measures",
            next_step="name one of these (coatbench status)",
        )
    if found is None:
        raise NotFound(
            f"the bench has no instrument {instrument!r}",
            wanted=", ".join(desk.standings) or "an instrument in bench.toml",
            next_step="name one of these (coatbench status)",
        )
    return found


def require_ready(standing: Standing, act: str) -> None:
    """An instrument must be there, and be the one that is expected."""
    name = standing.spec.id
    check = f"coatbench check {name}"
    if not standing.connected:
        raise Refused(
            f"{name} cannot start a {act}",
            reason="not connected",
            got=standing.message,
            wanted=f"{name} connected",
            next_step=first_connect(standing, check),
        )
    if not standing.is_expected_device:
        raise Refused(
            f"{name} cannot start a {act}",
            reason="other serial number",
            got=standing.other_words(),
            wanted=f"serial {standing.spec.serial}",
            next_step=first_connect(standing, check),
        )


def first_connect(standing: Standing, step: str) -> str:
    """The next step for an instrument: what must come before it while that is not connected."""
    spec = standing.spec
    if not standing.connected:
        _, _, own = standing.message.partition(". Next: ")
        if own in ("", PLUG):
            own = f"plug {spec.id} in and switch it on (it is found by itself)"
        return f"{own}, then {step}"
    if standing.serial == UNKNOWN_SERIAL:
        return f"press {spec.id} once, so that it is asked anew, then {step}"
    if not standing.is_expected_device:
        return f"plug in {spec.serial}, or change the serial in bench.toml, then {step}"
    return step


def measure_of(plan: Plan, measure_id: str | None) -> Measure:
    """The measure named, or the only one. Raises `NotFound`."""
    if measure_id is None and len(plan.measures) == 1:
        return plan.measures[0]
    found = plan.measure(measure_id) if measure_id else None
    if found is None:
        raise NotFound(
            f"trial {plan.id} has no measure {measure_id!r}"
            if measure_id
            else f"trial {plan.id} has several measures",
            wanted=", ".join(m.id for m in plan.measures),
            next_step="name one with --measure",
        )
    return found


def open_run(desk: Desk) -> RunUnderWay:
    """The run that is open. Raises `Refused`."""
    if desk.run is None:
        raise no_run()
    return desk.run


def no_run() -> Refused:
    return Refused(
        "no run is open", reason="no run", next_step="begin one: coatbench run FILE STAGE"
    )


def sit_down(desk: Desk, at: Instant) -> tuple[list[Row], dict[str, object]]:
    """Open a sitting if none is; the cautions are shown once a sitting.

    For an act that raises nothing from here on: the row of the sitting is stored with its answer.
    """
    if desk.sitting_id is not None:
        return [], {}
    row = r.SittingRow(desk.ids.take(r.SittingRow), at.utc_ns, desk.bench.name)
    desk.sitting_id = row.id
    kinds: set[Quantity] = {i.kind for i in desk.bench.instruments}
    return [row], {"sitting_id": row.id, "cautions": list(cautions(kinds))}
