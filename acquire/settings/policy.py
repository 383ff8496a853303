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
from acquire.model import CheckPolicy, PieceRule
from acquire.schema import Id, Number, Schema, either, load_toml, rule, show, sound, survey
from acquire.settings.fields import Angles, Bands, Kind, channel_faults
from acquire.units import canonical, normalise, units_of

LONGEST_PASS_S = 7 * 24 * 3600


class StepTable(Schema):
    piece: Id
    # One reading has no scatter, and a check without scatter would look surer than it is.
    readings: Annotated[int, Field(ge=2, le=100)]
    limit: Annotated[Number, Field(gt=0)]
    spread_limit: Annotated[Number, Field(gt=0)]


class PolicyFile(Schema):
    quantity: Kind
    geometry: Angles | None = None
    band: Bands | None = None
    unit: str | None = None
    resolution: Annotated[Number, Field(gt=0)]
    valid_for_s: Annotated[float, Field(gt=0, le=LONGEST_PASS_S)]
    clock_jump_s: Annotated[float, Field(gt=0, le=3600)] = 2.0
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
    )
    return policy, []
