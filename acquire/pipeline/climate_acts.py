"""Entering the room's climate. Runs on the desk's thread."""

from __future__ import annotations

from decimal import Decimal

from acquire.errors import Refused
from acquire.model import Instant
from acquire.model.room import COLDEST_C, DAMPEST_PERCENT, DRIEST_PERCENT, HOTTEST_C
from acquire.pipeline.asking import Answer
from acquire.pipeline.climate import Entered
from acquire.pipeline.desk import Desk
from acquire.store import rows as r
from acquire.store.check_rows import ClimateRow
from acquire.store.rows import Row

TYPED = "typed"


class ClimateActs:
    """The climate as a person reads it off a thermometer."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

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
        told = [one.message for one in ended if isinstance(one, r.PassEndRow)]
        rows: list[Row] = [row, *ended]
        return Answer({"climate_id": row.id, "ended": told}, rows)


def _refused(what: str, got: str, wanted: str) -> Refused:
    return Refused(
        f"the {what} is not entered",
        reason=what,
        got=got,
        wanted=wanted,
        next_step="read it off again: coatbench climate 21.4 --humidity 48, in degrees Fahrenheit "
        "coatbench climate 70.5F --humidity 48",
    )
