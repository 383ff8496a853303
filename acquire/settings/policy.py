"""A policy file: how an instrument kind is checked, from TOML to a `CheckPolicy`.

The file is documented, line by line, in ``config/policies/gloss-20.toml``. Any thread.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any, NamedTuple

from pydantic import Field

from acquire.errors import Fault, SettingsError
from acquire.model import AmbientRule, CheckPolicy, PieceRule, at_channel
from acquire.schema import Id, Number, Schema, Unsound, either, load_toml, rule, show, sound, survey
from acquire.settings.fields import (
    Angles,
    Bands,
    Between,
    Kind,
    RoomHumidities,
    RoomTemperatures,
    channel_faults,
)
from acquire.settings.pieces import ALL_LIGHT, largest
from acquire.units import canonical, convert, normalise, units_of

LONGEST_PASS_S = 7 * 24 * 3600
NO_LINE = (
    "steps with two pieces that read other than 0, or no linearity_limit: one between zero and the "
    "highest piece is judged"
)


def shortly(figure: Decimal) -> str:
    """A figure in a message: at most six decimals, none that says nothing."""
    return f"{round(figure, 6).normalize():f}"


class StepTable(Schema):
    piece: Id
    # One reading has no scatter, and a check without scatter would look surer than it is.
    readings: Annotated[int, Field(ge=2, le=100)]
    limit: Annotated[Number, Field(gt=0)]
    spread_limit: Annotated[Number, Field(gt=0)]


class AmbientTable(Schema):
    temperature_c: RoomTemperatures | None = None
    temperature_change_c: Annotated[Number, Field(gt=0, le=50)] | None = None
    humidity_percent: RoomHumidities | None = None
    known_for_s: Annotated[float, Field(gt=0, le=LONGEST_PASS_S)] = 4 * 3600.0

    @rule
    def something_is_asked_of_the_room(self) -> Iterator[Fault]:
        if (self.temperature_c, self.temperature_change_c, self.humidity_percent) == (None,) * 3:
            wanted = "temperature_c, temperature_change_c or humidity_percent; or no [ambient]"
            yield Fault("temperature_c", "nothing", wanted)

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

    @rule
    def a_line_has_two_pieces(self) -> Iterator[Fault]:
        if self.linearity_limit is not None and len(self.step) < 2:
            yield Fault("linearity_limit", show(self.linearity_limit), NO_LINE)

    @rule
    def no_limit_is_as_wide_as_the_scale(self) -> Iterator[Fault]:
        scales = [*self._widths()]
        if not scales:
            return
        width, what = min(scales)
        wanted = (
            f"less than {shortly(width)} {self.own_unit}, {what}: a limit as wide as the scale "
            "holds nothing"
        )
        for path, limit in self.limits():
            if limit >= width:
                yield Fault(path, show(limit), wanted)

    def _widths(self) -> Iterator[tuple[Decimal, str]]:
        """How wide the scale is in the file's own unit, in words what makes it so wide."""
        for span in self._sound("range"):
            if span is not None:
                yield span[1] - span[0], "the width of range"
        with suppress(Unsound):
            quantity, unit = self.quantity, self.own_unit
            for channel in self.channels:
                most = largest(quantity, channel)
                if most is not None:
                    what = f"{ALL_LIGHT[quantity]}{at_channel(channel)}"
                    yield convert(most, canonical(quantity), unit), what

    def limits(self) -> Iterator[tuple[str, Decimal]]:
        """Path and figure of every limit that is sound, in the file's own unit."""
        for limit in self._sound("linearity_limit"):
            if limit is not None:
                yield "linearity_limit", limit
        for steps in self._sound("step"):
            for key in ("limit", "spread_limit"):
                for index, step in sound(steps, key):
                    yield f"step[{index}].{key}", step.__dict__[key]

    def _sound(self, name: str) -> Iterator[Any]:
        """The value of a field, where it has no fault of its own."""
        if name in self.__dict__:
            yield self.__dict__[name]

    @property
    def channels(self) -> tuple[str, ...]:
        """Geometries or bands; `Unsound` where they do not fit the quantity."""
        if any(channel_faults(self.quantity, self.geometry, self.band)):
            raise Unsound("geometry")
        return self.geometry or self.band or ("",)

    @property
    def own_unit(self) -> str:
        """The unit of the file's figures; `Unsound` where it is none of the quantity."""
        unit = self.unit or canonical(self.quantity)
        if unit not in units_of(self.quantity):
            raise Unsound("unit")
        return unit


class Draft(NamedTuple):
    """A policy file as far as it is sound, and its faults; whole only without any."""

    file: PolicyFile
    policy: CheckPolicy | None
    faults: list[Fault]


def load_policy(path: Path) -> CheckPolicy:
    """The policy of a file, named after it. Raises `SettingsError` with every fault of it."""
    draft = draft_policy(path.stem, load_toml(path))
    if draft.policy is None:
        raise SettingsError(str(path), draft.faults)
    return draft.policy


def draft_policy(name: str, table: Mapping[str, object], prefix: str = "") -> Draft:
    """A policy with every fault of its table, `prefix` before their paths.

    Its figures are in the unit in which readings are kept, whatever the file's.
    """
    file, faults = survey(PolicyFile, table, prefix)
    return Draft(file, None if faults else _policy(name, file), faults)


def _policy(name: str, file: PolicyFile) -> CheckPolicy:
    unit = file.own_unit

    def kept(figure: Decimal) -> Decimal:
        return normalise(figure, unit, file.quantity)[0]

    return CheckPolicy(
        id=name,
        quantity=file.quantity,
        channels=file.channels,
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
