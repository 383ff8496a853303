"""Reference pieces and what is certified of them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from enum import StrEnum
from pathlib import Path

from acquire.model.fact import Quantity
from acquire.model.nominal import Nominal


class PieceKind(StrEnum):
    """What a reference piece is."""

    GLOSS_TILE = "gloss-tile"
    BLACK_TRAP = "black-trap"
    NO_LOAD = "no-load"
    """Nothing hangs on the gauge: it reads zero."""
    CHECK_WEIGHT = "check-weight"
    NEUTRAL_FILTER = "neutral-filter"
    OPEN_BEAM = "open-beam"
    DARK = "dark"


@dataclass(frozen=True, slots=True)
class CertificateFile:
    """The certificate as it came, such as a PDF: its name in the bench file, its place, its hash.

    `sha256` (FIPS 180-4) is hexadecimal. The bytes are read when they are to be kept.
    """

    name: str
    path: Path
    size_bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Certificate:
    """The known value of a piece for one quantity and channel.

    `expanded_uncertainty` is U = k u in the unit of the value; `coverage_factor` is k
    (JCGM 100, 6.2 and 7.2.3). After `due` the value may not be used any more. `number` is its own,
    `withdrawn` says why it is not to be used, for one that was entered wrongly; both may be empty.
    """

    piece: str
    quantity: Quantity
    channel: str
    value: Decimal
    unit: str
    expanded_uncertainty: Decimal
    coverage_factor: Decimal
    issued: date
    due: date
    issuer: str
    number: str = ""
    file: CertificateFile | None = None
    withdrawn: str = ""

    @property
    def standard_uncertainty(self) -> Decimal:
        """u = U / k, in the unit of the value."""
        return self.expanded_uncertainty / self.coverage_factor


@dataclass(frozen=True, slots=True)
class Piece:
    """A thing with known values, and every certificate it ever had, in the order of the bench file.

    `serial` is the identity as engraved, `name` what people call it; both may be empty.
    """

    id: str
    kind: PieceKind
    certificates: tuple[Certificate, ...]
    serial: str = ""
    name: str = ""
    nominal: Nominal = field(default_factory=Nominal)

    def certificate(self, quantity: Quantity, channel: str) -> Certificate | None:
        """The certificate for this quantity and channel; of several the latest issued.

        One that was withdrawn is none; `on` leaves out those that are not issued yet.
        """
        fitting = [
            c
            for c in self.certificates
            if c.quantity is quantity and c.channel == channel and not c.withdrawn
        ]
        return max(fitting, key=lambda c: c.issued, default=None)

    def on(self, day: date) -> Piece:
        """The piece with the certificates issued by this day (UTC).

        Those of a later day stay where a quantity and channel has no other, so that it is told.
        """
        issued = [c for c in self.certificates if c.issued <= day]
        having = {(c.quantity, c.channel) for c in issued if not c.withdrawn}
        waiting = [
            c for c in self.certificates
            if c.issued > day and (c.quantity, c.channel) not in having
        ]  # fmt: skip
        return replace(self, certificates=(*issued, *waiting))

    @property
    def current(self) -> tuple[Certificate, ...]:
        """The certificate in use for each quantity and channel, in the order of the bench file."""
        keys = dict.fromkeys((c.quantity, c.channel) for c in self.certificates)
        found = (self.certificate(*key) for key in keys)
        return tuple(c for c in found if c is not None)
