"""Reference pieces and their certificates as written in ``bench.toml``. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, Field

from acquire.errors import Fault
from acquire.fresnel import largest_gloss
from acquire.model import (
    Certificate,
    CertificateFile,
    Nominal,
    Piece,
    PieceKind,
    Quantity,
    WeightClass,
    at_channel,
)
from acquire.schema import Id, Name, Number, Schema, either, rule, show, sound
from acquire.schema.band import Band
from acquire.settings.fields import Angle, Kind, channel_faults, path_text
from acquire.units import canonical, convert, normalise, units_of

QUANTITY_OF = {
    PieceKind.GLOSS_TILE: Quantity.GLOSS,
    PieceKind.BLACK_TRAP: Quantity.GLOSS,
    PieceKind.NO_LOAD: Quantity.FORCE,
    PieceKind.CHECK_WEIGHT: Quantity.FORCE,
    PieceKind.NEUTRAL_FILTER: Quantity.TRANSMITTANCE,
    PieceKind.OPEN_BEAM: Quantity.TRANSMITTANCE,
    PieceKind.DARK: Quantity.TRANSMITTANCE,
}

ALL_LIGHT = {Quantity.GLOSS: "all light sent back", Quantity.TRANSMITTANCE: "all light let through"}
"""What the largest value that can be is, in words."""

MASS_UNITS = ("gram", "kilogram", "pound", "ounce")


def largest(quantity: Quantity, channel: str) -> Decimal | None:
    """More than this no piece can have, in the unit its quantity is kept in; None for no limit.

    All light sent back by a mirror (ISO 2813 with Fresnel's equations), or let through.
    """
    if quantity is Quantity.GLOSS:
        return Decimal(f"{largest_gloss(float(channel)):.1f}")
    return Decimal(100) if quantity is Quantity.TRANSMITTANCE else None


def value_faults(
    value: Decimal, unit: str, quantity: Quantity, channel: str, at: str = ""
) -> Iterator[Fault]:
    """A unit of another quantity, or a value that nothing can have."""
    fitting = units_of(quantity)
    if unit not in fitting:
        yield Fault(f"{at}unit", show(unit), f"a unit of {quantity}: {either(fitting)}")
        return
    most = largest(quantity, channel)
    if most is not None and normalise(value, unit, quantity)[0] > most:
        what = ALL_LIGHT[quantity]
        kept = "" if unit == canonical(quantity) else f" ({canonical(quantity)})"
        wanted = f"at most {most}{kept}{at_channel(channel)}, which is {what}"
        yield Fault(f"{at}value", f"{value} {unit}", wanted)


class CertificateTable(Schema):
    quantity: Kind
    geometry: Angle | None = None
    band: Band | None = None
    value: Annotated[Number, Field(ge=0)]
    unit: str
    expanded_uncertainty: Annotated[Number, Field(ge=0)]
    # k of 1 gives the standard uncertainty itself; less is no coverage factor (JCGM 100, 6.2.1).
    coverage_factor: Annotated[Number, Field(ge=1, le=10)]
    issued: date
    due: date
    issuer: Name
    number: Name | None = None
    file: Annotated[str, AfterValidator(path_text)] | None = None
    withdrawn: Name | None = None

    @rule
    def channels_fit(self) -> Iterator[Fault]:
        yield from channel_faults(self.quantity, self.geometry, self.band)

    @rule
    def value_is_possible(self) -> Iterator[Fault]:
        if not list(channel_faults(self.quantity, self.geometry, self.band)):
            channel = self.geometry or self.band or ""
            yield from value_faults(self.value, self.unit, self.quantity, channel)

    @rule
    def due_comes_after_issued(self) -> Iterator[Fault]:
        if self.due <= self.issued:
            yield Fault("due", show(self.due), f"a date after issued ({show(self.issued)})")


class NominalTable(Schema):
    geometry: Angle | None = None
    band: Band | None = None
    value: Annotated[Number, Field(ge=0)]
    unit: str


class MassTable(Schema):
    value: Annotated[Number, Field(gt=0)]
    unit: str

    @rule
    def unit_is_of_mass(self) -> Iterator[Fault]:
        if self.unit not in MASS_UNITS:
            yield Fault("unit", show(self.unit), f"a unit of mass: {either(MASS_UNITS)}")


class PieceTable(Schema):
    id: Id
    kind: Annotated[PieceKind, Field(strict=False)]
    serial: Name | None = None
    name: Name | None = None
    refractive_index: Annotated[Number, Field(gt=1, le=3)] | None = None
    index_wavelength: Annotated[Number, Field(ge=380, le=780)] | None = None
    mass: MassTable | None = None
    weight_class: Annotated[WeightClass, Field(strict=False)] | None = None
    nominal: Annotated[list[NominalTable], Field(max_length=50, default_factory=list)]
    certificate: Annotated[list[CertificateTable], Field(min_length=1, max_length=50)]

    @rule
    def index_is_of_a_tile(self) -> Iterator[Fault]:
        if self.refractive_index is not None and self.kind is not PieceKind.GLOSS_TILE:
            wanted = f"no refractive_index, which only a gloss-tile has (here: {self.kind})"
            yield Fault("refractive_index", show(self.refractive_index), wanted)

    @rule
    def wavelength_is_of_an_index(self) -> Iterator[Fault]:
        if self.index_wavelength is not None and self.refractive_index is None:
            wanted = "no index_wavelength without the refractive_index that was told at it"
            yield Fault("index_wavelength", show(self.index_wavelength), wanted)

    @rule
    def mass_is_of_a_weight(self) -> Iterator[Fault]:
        if self.mass is not None and self.kind is not PieceKind.CHECK_WEIGHT:
            wanted = f"no mass, which only a check-weight has (here: {self.kind})"
            yield Fault("mass", show({"": ""}), wanted)

    @rule
    def class_is_of_a_mass(self) -> Iterator[Fault]:
        if self.weight_class is not None and self.mass is None:
            wanted = (
                'the mass of the weight beside its class: mass = { value = 500, unit = "gram" }'
            )
            yield Fault("weight_class", show(self.weight_class), wanted)

    @rule
    def nominal_values_fit(self) -> Iterator[Fault]:
        quantity, seen = QUANTITY_OF[self.kind], set()
        for index, n in sound(self.nominal, "geometry", "band", "value", "unit"):
            at = f"nominal[{index}]."
            wrong = list(channel_faults(quantity, n.geometry, n.band, at))
            channel = n.geometry or n.band or ""
            wrong = wrong or list(value_faults(n.value, n.unit, quantity, channel, at))
            if not wrong and channel in seen:
                what = f"nominal[{index}].{'geometry' if n.geometry else 'band'}"
                what = what if channel else f"nominal[{index}]"
                wrong = [Fault(what, show(channel), "one nominal value for each geometry or band")]
            yield from wrong
            seen.add(channel)

    @rule
    def certificates_fit_the_kind(self) -> Iterator[Fault]:
        fitting = QUANTITY_OF[self.kind]
        for index, certificate in sound(self.certificate, "quantity"):
            if certificate.quantity is not fitting:
                path = f"certificate[{index}].quantity"
                yield Fault(path, show(certificate.quantity), f"{show(fitting)} for a {self.kind}")

    @rule
    def one_certificate_at_a_time(self) -> Iterator[Fault]:
        seen = set()
        keys = ("quantity", "geometry", "band", "issued", "withdrawn")
        for index, c in sound(self.certificate, *keys):
            key = (c.quantity, c.geometry, c.band, c.issued)
            if key in seen and not c.withdrawn:
                wanted = "one certificate for each quantity, geometry or band, and day"
                yield Fault(f"certificate[{index}].issued", show(c.issued), wanted)
            if not c.withdrawn:
                seen.add(key)

    def piece(
        self,
        files: Mapping[str, CertificateFile] | None = None,
        gravity_m_s2: Decimal | None = None,
    ) -> Piece:
        """The piece, in the unit readings are kept in; only of a table without faults.

        `files` has the files of its certificates by the names they have here.
        """
        found = files or {}
        return Piece(
            id=self.id,
            kind=self.kind,
            certificates=tuple(
                Certificate(
                    piece=self.id,
                    quantity=c.quantity,
                    channel=c.geometry or c.band or "",
                    value=normalise(c.value, c.unit, c.quantity)[0],
                    unit=canonical(c.quantity),
                    expanded_uncertainty=normalise(c.expanded_uncertainty, c.unit, c.quantity)[0],
                    coverage_factor=c.coverage_factor,
                    issued=c.issued,
                    due=c.due,
                    issuer=c.issuer,
                    number=c.number or "",
                    file=found.get(c.file) if c.file else None,
                    withdrawn=c.withdrawn or "",
                )
                for c in self.certificate
            ),
            serial=self.serial or "",
            name=self.name or "",
            nominal=self._nominal(gravity_m_s2),
        )

    def _nominal(self, gravity_m_s2: Decimal | None) -> Nominal:
        quantity = QUANTITY_OF[self.kind]
        mass = self.mass
        return Nominal(
            refractive_index=self.refractive_index,
            index_wavelength_nm=self.index_wavelength,
            mass_g=None if mass is None else convert(mass.value, mass.unit, "gram"),
            weight_class=self.weight_class,
            gravity_m_s2=None if mass is None else gravity_m_s2,
            values={
                n.geometry or n.band or "": normalise(n.value, n.unit, quantity)[0]
                for n in self.nominal
            },
        )
