"""``[measure.sled]``: the sled that makes coefficients of friction of forces, with its corrections.

Any thread.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, NamedTuple

from pydantic import BeforeValidator, Field

from acquire.errors import Fault
from acquire.model.sled import Angle, SledCorrection, SledSpec, SteadyWindow
from acquire.schema import Number, Schema, either, rule, show
from acquire.units import convert

STANDARD_GRAVITY = Decimal("9.80665")
"""m/s2, exact by convention (SI Brochure, 9th edition; ISO 80000-3; from memory)."""
LIGHTEST_KG, HEAVIEST_KG = Decimal("0.001"), Decimal(100)
STEEPEST_DEG = 45
"""That of `acquire.analysis.slickness.slope`: beyond, this is no test of slickness."""
LARGEST_SHARE = Decimal("0.1")
"""Of the mass: a sled that is known to no more than this was not weighed."""

_MASSES = {
    "g": "gram", "kg": "kilogram", "oz": "ounce", "lb": "pound",
    "gram": "gram", "kilogram": "kilogram", "ounce": "ounce", "pound": "pound",
}  # fmt: skip
_WRITTEN = re.compile(r"\s*(\d{1,9}(?:\.\d{1,9})?)\s*([a-z]{1,8})\s*", re.ASCII)
_WANTED = 'a mass with its unit in quotes, such as "512.4 g" (g, kg, oz or lb)'


class Mass(NamedTuple):
    """A mass in kilogram, and as it was written."""

    kg: Decimal
    written: str


def sled_mass(written: str) -> Mass:
    """A mass as a file has it. Raises `ValueError` with what is wanted."""
    return _mass(written)


def _mass(value: object) -> Mass:
    found = _WRITTEN.fullmatch(value) if isinstance(value, str) else None
    if found is None or found[2] not in _MASSES:
        raise ValueError(_WANTED)
    kg = convert(Decimal(found[1]), _MASSES[found[2]], "kilogram")
    return Mass(kg, f"{found[1]} {found[2]}")


def _heavy(value: object) -> Mass:
    mass = _mass(value)
    if not LIGHTEST_KG <= mass.kg <= HEAVIEST_KG:
        raise ValueError(f"{_WANTED}, from 1 g to {HEAVIEST_KG} kg")
    return mass


AMass = Annotated[Mass, BeforeValidator(_mass), Field(description=_WANTED)]
SledMass = Annotated[Mass, BeforeValidator(_heavy), Field(description=_WANTED)]
Degrees = Annotated[Number, Field(ge=-STEEPEST_DEG, le=STEEPEST_DEG)]
DegreesOff = Annotated[Number, Field(ge=0, le=STEEPEST_DEG)]


class WindowTable(Schema):
    skip_mm: Annotated[Number, Field(ge=0, le=1000)]
    length_mm: Annotated[Number, Field(gt=0, le=10_000)]
    speed_mm_per_s: Annotated[Number, Field(gt=0, le=1000)]


class SledTable(Schema):
    mass: SledMass
    standard_uncertainty: AMass | None = None
    expanded_uncertainty: AMass | None = None
    coverage_factor: Annotated[Number, Field(ge=1, le=5)] | None = None
    gravity: Annotated[Number, Field(ge=Decimal("9.7"), le=Decimal("9.9"))] = STANDARD_GRAVITY
    pull_angle_deg: Degrees | None = None
    pull_angle_u_deg: DegreesOff | None = None
    tilt_deg: Degrees | None = None
    tilt_u_deg: DegreesOff | None = None
    corrections: list[Annotated[SledCorrection, Field(strict=False)]] | None = None
    window: WindowTable | None = None

    @rule
    def one_uncertainty(self) -> Iterator[Fault]:
        given = [
            name
            for name in ("standard_uncertainty", "expanded_uncertainty")
            if getattr(self, name) is not None
        ]
        if len(given) != 1:
            wanted = "one of standard_uncertainty or expanded_uncertainty, by the balance's data"
            yield Fault("", either(given, "and") or "a mass without its uncertainty", wanted)

    @rule
    def a_factor_has_what_it_is_of(self) -> Iterator[Fault]:
        if self.coverage_factor is not None and self.expanded_uncertainty is None:
            wanted = "expanded_uncertainty beside it, or neither"
            yield Fault("coverage_factor", show(self.coverage_factor), wanted)

    @rule
    def it_was_weighed(self) -> Iterator[Fault]:
        for name in ("standard_uncertainty", "expanded_uncertainty"):
            u: Mass | None = getattr(self, name)
            if u is not None and u.kg > LARGEST_SHARE * self.mass.kg:
                wanted = f"at most a tenth of the mass, {self.mass.written}: weigh the sled"
                yield Fault(name, show(u.written), wanted)

    @rule
    def doubts_have_their_angles(self) -> Iterator[Fault]:
        for name in ("pull_angle", "tilt"):
            if getattr(self, f"{name}_u_deg") is not None and getattr(self, f"{name}_deg") is None:
                got = show(getattr(self, f"{name}_u_deg"))
                yield Fault(f"{name}_u_deg", got, f"{name}_deg beside it, or neither")

    @rule
    def corrections_can_be_made(self) -> Iterator[Fault]:
        angles = {SledCorrection.PULL_ANGLE: "pull_angle_deg", SledCorrection.TILT: "tilt_deg"}
        for index, one in enumerate(self.corrections or ()):
            path = f"corrections[{index}]"
            if one in (self.corrections or ())[:index]:
                yield Fault(path, show(str(one)), "each correction once")
            elif one in angles and getattr(self, angles[one]) is None:
                yield Fault(path, show(str(one)), f"{angles[one]} beside it, or the list without")

    def spec(self) -> SledSpec:
        """The sled of a table without faults."""
        u = self.standard_uncertainty
        if self.expanded_uncertainty is not None:
            u_kg = self.expanded_uncertainty.kg / (self.coverage_factor or Decimal(2))
        else:
            assert u is not None
            u_kg = u.kg
        line = _angle(self.pull_angle_deg, self.pull_angle_u_deg)
        tilt = _angle(self.tilt_deg, self.tilt_u_deg)
        wanted = self.corrections
        if wanted is None:
            # All that can be made: whoever gives an angle means it.
            known = {SledCorrection.PULL_ANGLE: line, SledCorrection.TILT: tilt}
            wanted = [c for c in SledCorrection if known.get(c, True) is not None]
        w = self.window
        return SledSpec(
            self.mass.kg,
            u_kg,
            self.mass.written,
            self.gravity,
            tuple(c for c in SledCorrection if c in wanted),
            line,
            tilt,
            None if w is None else SteadyWindow(w.skip_mm, w.length_mm, w.speed_mm_per_s),
        )


def _angle(deg: Decimal | None, u_deg: Decimal | None) -> Angle | None:
    return None if deg is None else Angle(deg, u_deg if u_deg is not None else Decimal(0))
