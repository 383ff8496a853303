"""Reference pieces and their certificates as written in ``bench.toml``. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Annotated

from pydantic import Field

from acquire.errors import Fault
from acquire.model import Certificate, Piece, PieceKind, Quantity
from acquire.schema import Id, Name, Number, Schema, either, rule, show, sound
from acquire.schema.band import Band
from acquire.settings.fields import Angle, Kind, channel_faults
from acquire.units import canonical, normalise, units_of

_QUANTITY_OF = {
    PieceKind.GLOSS_TILE: Quantity.GLOSS,
    PieceKind.BLACK_TRAP: Quantity.GLOSS,
    PieceKind.NO_LOAD: Quantity.FORCE,
    PieceKind.CHECK_WEIGHT: Quantity.FORCE,
    PieceKind.NEUTRAL_FILTER: Quantity.TRANSMITTANCE,
    PieceKind.OPEN_BEAM: Quantity.TRANSMITTANCE,
    PieceKind.DARK: Quantity.TRANSMITTANCE,
}


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

    @rule
    def channels_fit(self) -> Iterator[Fault]:
        yield from channel_faults(self.quantity, self.geometry, self.band)

    @rule
    def unit_fits(self) -> Iterator[Fault]:
        fitting = units_of(self.quantity)
        if self.unit not in fitting:
            yield Fault("unit", show(self.unit), f"a unit of {self.quantity}: {either(fitting)}")

    @rule
    def due_comes_after_issued(self) -> Iterator[Fault]:
        if self.due <= self.issued:
            yield Fault("due", show(self.due), f"a date after issued ({show(self.issued)})")


class PieceTable(Schema):
    id: Id
    kind: Annotated[PieceKind, Field(strict=False)]
    certificate: Annotated[list[CertificateTable], Field(min_length=1, max_length=50)]

    @rule
    def certificates_fit_the_kind(self) -> Iterator[Fault]:
        fitting = _QUANTITY_OF[self.kind]
        for index, certificate in sound(self.certificate, "quantity"):
            if certificate.quantity is not fitting:
                path = f"certificate[{index}].quantity"
                yield Fault(path, show(certificate.quantity), f"{show(fitting)} for a {self.kind}")

    @rule
    def one_certificate_at_a_time(self) -> Iterator[Fault]:
        seen = set()
        for index, c in sound(self.certificate, "quantity", "geometry", "band", "issued"):
            key = (c.quantity, c.geometry, c.band, c.issued)
            if key in seen:
                wanted = "one certificate for each quantity, geometry or band, and day"
                yield Fault(f"certificate[{index}].issued", show(c.issued), wanted)
            seen.add(key)

    def piece(self) -> Piece:
        """The piece, in the unit readings are kept in; only of a table without faults."""
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
                )
                for c in self.certificate
            ),
        )
