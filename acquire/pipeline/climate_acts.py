"""The room's climate, as a person enters it or a probe tells it. Runs on the desk's thread.

The latest word holds, whoever said it. A probe tells it all the time: a row is written when it has
changed, when a minute has gone by, and whenever a check ends by it.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from acquire.errors import Refused
from acquire.model import HUMIDITY, Incident, IncidentKind, Instant
from acquire.model.room import COLDEST_C, DAMPEST_PERCENT, DRIEST_PERCENT, HOTTEST_C
from acquire.pipeline.asking import Answer
from acquire.pipeline.climate import Entered
from acquire.pipeline.desk import Desk
from acquire.pipeline.probes import ProbeStanding
from acquire.store.check_rows import ClimateRow, PassEndRow
from acquire.store.rows import ReadingRow, Row

TYPED = "typed"


ROW_EVERY_S = 60
LEAST_CHANGE_C = Decimal("0.2")
LEAST_CHANGE_PERCENT = Decimal(2)
"""A smaller change is not written at once; probes of rooms are no better than that (common
practice, no source)."""


@dataclass(slots=True)
class _Probe:
    """What a probe told last, and what was written of it last."""

    temperature: ReadingRow | None = None
    humidity: ReadingRow | None = None
    written: Entered | None = None
    is_strange: bool = False


class ClimateActs:
    """The climate as a person reads it off a thermometer, or as a probe tells it."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._probes: dict[str, _Probe] = {}
        desk.probes.on_climate = self._told

    def _told(self, standing: ProbeStanding, rows: list[ReadingRow], at: Instant) -> list[Row]:
        desk, name = self._desk, standing.spec.id
        probe = self._probes.setdefault(name, _Probe())
        for row in rows:
            if row.channel == HUMIDITY:
                probe.humidity = row
            else:
                probe.temperature = row
        warm, damp = probe.temperature, probe.humidity
        if damp is not None and at.mono_ns - damp.at_mono_ns > _OLD_NS:
            probe.humidity = damp = None
        if warm is None or at.mono_ns - warm.at_mono_ns > _OLD_NS:
            return []
        assert warm.value is not None
        humidity = None if damp is None or damp.value is None else Decimal(damp.value)
        now = Entered(at, Decimal(warm.value), humidity, name)
        if strange := _strange(now):
            is_new, probe.is_strange = not probe.is_strange, True
            message = f"{name}: {strange}; it is not used. Next: look at {name} and its profile"
            told = Incident(name, IncidentKind.CLIMATE_PROBE, at, message)
            return [desk.probes.incident(told)] if is_new else []
        probe.is_strange = False
        desk.keeper.climate.latest = now
        ended = desk.keeper.tick(at)
        if not ended and not _is_news(probe.written, now):
            return []
        probe.written = now
        return [
            ClimateRow(
                desk.ids.take(ClimateRow), at.utc_ns, desk.sitting_id, str(now.temperature_c),
                None if humidity is None else str(humidity), name, warm.id,
                None if damp is None else damp.id,
            ),
            *ended,
        ]  # fmt: skip

    def enter(
        self, temperature_c: Decimal, humidity_percent: Decimal | None, at: Instant
    ) -> Answer:
        """Write it down; a check whose policy does not allow it ends with that."""
        if not COLDEST_C <= temperature_c <= HOTTEST_C:
            wanted = f"{COLDEST_C} to {HOTTEST_C} °C, as policies may ask for it"
            raise _refused("temperature", f"{temperature_c} °C", wanted)
        if humidity_percent is not None and not (
            DRIEST_PERCENT <= humidity_percent <= DAMPEST_PERCENT
        ):
            wanted = f"{DRIEST_PERCENT} to {DAMPEST_PERCENT} %"
            raise _refused("humidity", f"{humidity_percent} %", wanted)
        desk = self._desk
        row = ClimateRow(
            desk.ids.take(ClimateRow),
            at.utc_ns,
            desk.sitting_id,
            str(temperature_c),
            None if humidity_percent is None else str(humidity_percent),
            TYPED,
        )
        desk.keeper.climate.latest = Entered(at, temperature_c, humidity_percent)
        ended = desk.keeper.tick(at)
        told = [one.message for one in ended if isinstance(one, PassEndRow)]
        rows: list[Row] = [row, *ended]
        return Answer({"climate_id": row.id, "ended": told}, rows)


_OLD_NS = 600_000_000_000
"""What a probe told longer ago goes with nothing that it tells now."""


def _strange(now: Entered) -> str:
    """What no room has, as policies may ask for it; nothing where it is usual."""
    if not COLDEST_C <= now.temperature_c <= HOTTEST_C:
        return f"it tells {now.temperature_c} °C, and a room has {COLDEST_C} to {HOTTEST_C} °C"
    damp = now.humidity_percent
    if damp is not None and not DRIEST_PERCENT <= damp <= DAMPEST_PERCENT:
        return f"it tells {damp} % humidity, and there are {DRIEST_PERCENT} to {DAMPEST_PERCENT} %"
    return ""


def _is_news(written: Entered | None, now: Entered) -> bool:
    if written is None or now.at.seconds_since(written.at) >= ROW_EVERY_S:
        return True
    before, damp = written.humidity_percent, now.humidity_percent
    if abs(now.temperature_c - written.temperature_c) >= LEAST_CHANGE_C:
        return True
    if before is None or damp is None:
        return before is not damp
    return abs(damp - before) >= LEAST_CHANGE_PERCENT


def _refused(what: str, got: str, wanted: str) -> Refused:
    return Refused(
        f"the {what} is not entered",
        reason=what,
        got=got,
        wanted=wanted,
        next_step="read it off again: coatbench climate 21.4 --humidity 48, in degrees Fahrenheit "
        "coatbench climate 70.5F --humidity 48",
    )
