"""A policy file: how an instrument kind is checked, from TOML to a `CheckPolicy`.

The file is documented, line by line, in ``config/policies/gloss-20.toml``. Any thread.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Annotated

from pydantic import Field

from acquire.errors import Fault, SettingsError
from acquire.model import AmbientRule, CheckPolicy, PieceRule
from acquire.schema import Id, Number, Schema, either, load_toml, rule, show, sound, survey
from acquire.settings.fields import Angles, Bands, Between, Kind, channel_faults
from acquire.units import canonical, normalise, units_of

LONGEST_PASS_S = 7 * 24 * 3600


class StepTable(Schema):
    piece: Id
    # One reading has no scatter, and a check without scatter would look surer than it is.
    readings: Annotated[int, Field(ge=2, le=100)]
    limit: Annotated[Number, Field(gt=0)]
    spread_limit: Annotated[Number, Field(gt=0)]


class AmbientTable(Schema):
    temperature_c: Between | None = None
    temperature_change_c: Annotated[Number, Field(gt=0, le=50)] | None = None
    humidity_percent: Between | None = None
    known_for_s: Annotated[float, Field(gt=0, le=LONGEST_PASS_S)] = 4 * 3600.0

    @rule
    def something_is_asked_of_the_room(self) -> Iterator[Fault]:
        if (self.temperature_c, self.temperature_change_c, self.humidity_percent) == (None,) * 3:
            wanted = "temperature_c, temperature_change_c or humidity_percent; or no [ambient]"
            yield Fault("temperature_c", "nothing", wanted)

    @rule
    def humidity_is_a_share(self) -> Iterator[Fault]:
        if self.humidity_percent is not None and not 0 <= min(self.humidity_percent) <= 100:
            got = f"from {self.humidity_percent[0]}"
            yield Fault("humidity_percent", got, "percent of relative humidity, from 0 to 100")

    def ambient(self) -> AmbientRule:
        """The rule; only of a table without faults."""
        return AmbientRule(
            self.known_for_s, self.temperature_c, self.temperature_change_c, self.humidity_percent
        )


class PolicyFile(Schema):
    quantity: Kind
    geometry: Angles | None = None
    band: Bands | None = None
    unit: str | None = None
    resolution: Annotated[Number, Field(gt=0)]
    valid_for_s: Annotated[float, Field(gt=0, le=LONGEST_PASS_S)]
    clock_jump_s: Annotated[float, Field(gt=0, le=3600)] = 2.0
    valid_for_presses: Annotated[int, Field(ge=1, le=1_000_000)] | None = None
    idle_s: Annotated[float, Field(gt=0, le=LONGEST_PASS_S)] | None = None
    ends_with_sitting: bool = False
    warm_up_s: Annotated[float, Field(ge=0, le=24 * 3600)] = 0.0
    range: Between | None = None
    linearity_limit: Annotated[Number, Field(gt=0)] | None = None
    ambient: AmbientTable | None = None
    step: Annotated[list[StepTable], Field(min_length=1, max_length=20)]

    @rule
    def channels_fit(self) -> Iterator[Fault]:
        yield from channel_faults(self.quantity, self.geometry, self.band)

    @rule
    def unit_is_one_of_the_quantity(self) -> Iterator[Fault]:
        fitting = units_of(self.quantity)
        if self.unit is not None and self.unit not in fitting:
            yield Fault("unit", show(self.unit), f"a unit of {self.quantity}: {either(fitting)}")

    @rule
    def each_piece_once(self) -> Iterator[Fault]:
        seen: set[str] = set()
        for index, step in sound(self.step, "piece"):
            if step.piece in seen:
                yield Fault(f"step[{index}].piece", show(step.piece), "each piece in one step")
            seen.add(step.piece)


def load_policy(path: Path) -> CheckPolicy:
    """The policy of a file, named after it. Raises `SettingsError` with every fault of it."""
    policy, faults = survey_policy(path.stem, load_toml(path))
    if policy is None:
        raise SettingsError(str(path), faults)
    return policy


def survey_policy(
    name: str, table: Mapping[str, object], prefix: str = ""
) -> tuple[CheckPolicy | None, list[Fault]]:
    """A policy, or None and every fault of its table with `prefix` before its path.

    Its figures are in the unit in which readings are kept, whatever the file's.
    """
    file, faults = survey(PolicyFile, table, prefix)
    if faults:
        return None, faults
    unit = file.unit or canonical(file.quantity)

    def kept(figure: Decimal) -> Decimal:
        return normalise(figure, unit, file.quantity)[0]

    policy = CheckPolicy(
        id=name,
        quantity=file.quantity,
        channels=file.geometry or file.band or ("",),
        unit=canonical(file.quantity),
        resolution=kept(file.resolution),
        rules=tuple(
            PieceRule(s.piece, s.readings, kept(s.limit), kept(s.spread_limit)) for s in file.step
        ),
        valid_for_s=file.valid_for_s,
        clock_jump_s=file.clock_jump_s,
        valid_for_presses=file.valid_for_presses,
        idle_s=file.idle_s,
        ends_with_sitting=file.ends_with_sitting,
        warm_up_s=file.warm_up_s,
        span=None if file.range is None else (kept(file.range[0]), kept(file.range[1])),
        linearity_limit=None if file.linearity_limit is None else kept(file.linearity_limit),
        ambient=None if file.ambient is None else file.ambient.ambient(),
    )
    return policy, []
