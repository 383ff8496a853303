"""Checks as they are kept and judged, with their pieces and certificates, frozen. Any thread."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from acquire.model import PieceKind
from acquire.model.elsewhere import is_elsewhere
from acquire.model.verdict import ABANDONED

if TYPE_CHECKING:
    from acquire.report.record.adjusted import Adjustment


@dataclass(frozen=True, slots=True)
class PieceRecord:
    """One reference piece within a check. `limit` and all figures are in `unit`.

    `certificate` says what the piece was held against; None where it had no certificate.
    """

    piece: str
    channel: str
    outcome: str
    count: int
    mean: Decimal
    spread: Decimal
    certified: Decimal
    deviation: Decimal
    expanded_uncertainty: Decimal
    limit: Decimal
    spread_limit: Decimal
    unit: str
    message: str
    certificate: CertificateRecord | None

    @property
    def is_judged(self) -> bool:
        """Whether the figures mean anything: too few readings or no certificate give none."""
        return self.expanded_uncertainty > 0


@dataclass(frozen=True, slots=True)
class CertificateRecord:
    """What is certified of a piece; `expanded_uncertainty` is U = k u in the unit of the value."""

    kind: str
    expanded_uncertainty: Decimal
    coverage_factor: Decimal
    issued: str
    due: str
    issuer: str
    number: str = ""
    file_name: str = ""
    file_sha256: str = ""
    withdrawn: str = ""
    """Why it was withdrawn as wrong since; empty where it was not."""

    @property
    def standard_uncertainty(self) -> Decimal:
        return self.expanded_uncertainty / self.coverage_factor


@dataclass(frozen=True, slots=True)
class CheckReading:
    """One reading of a reference piece; `value` is None where the device sent none."""

    id: int
    at_utc_ns: int
    piece: str
    channel: str
    value: Decimal | None
    unit: str
    flags: str
    void_reason: str = ""

    @property
    def is_taken_out(self) -> bool:
        """Whether a person voided it. Else a void says that its press stood on another piece."""
        return bool(self.void_reason) and not is_elsewhere(self.void_reason)


@dataclass(frozen=True, slots=True)
class Anew:
    """A check judged again by the certificates in the place of withdrawn ones."""

    at_utc_ns: int
    outcome: str
    message: str
    pieces: tuple[PieceRecord, ...]


@dataclass(frozen=True, slots=True)
class CheckRecord:
    """One check of an instrument: what was found, what it covered, and what ended it.

    `readings` are all that were taken in it, also where no piece came to be judged; `is_typed` is
    whether they were typed by hand. `lines` says how straight the meter read; a pass lasted so many
    `presses` and covered values of `span`, all where they are None. `climate` is how the room was,
    as entered last before it, and `adjustment` what lies between it and the check before.
    """

    id: int
    instrument: str
    serial: str
    policy: str
    resolution: Decimal
    unit: str
    outcome: str
    message: str
    begun_utc_ns: int
    judged_utc_ns: int | None
    expires_utc_ns: int | None
    ended_utc_ns: int | None
    end_reason: str
    end_message: str
    pieces: tuple[PieceRecord, ...]
    readings: tuple[CheckReading, ...]
    is_typed: bool = False
    lines: tuple[str, ...] = ()
    presses: int | None = None
    span: tuple[float, float] | None = None
    climate: str = ""
    adjustment: Adjustment | None = None
    doubts: tuple[str, ...] = ()
    """What cannot well be true of its certificates, and which of its limits hold nothing."""
    withdrawn: tuple[str, ...] = ()
    """What was withdrawn since of its certificates, and what it comes to without them."""
    anew: Anew | None = None
    """How it was judged since without a certificate that was withdrawn; None for most checks."""

    @property
    def is_abandoned(self) -> bool:
        """Whether it was broken off; the store says so in the words of the judgement."""
        return self.outcome != "pass" and self.message.startswith(ABANDONED)

    @property
    def held(self) -> tuple[PieceRecord, ...]:
        """Its pieces by the certificates that stand: what figures are reckoned by.

        `pieces` are as the check was judged then.
        """
        return self.pieces if self.anew is None else self.anew.pieces

    @property
    def no_load(self) -> PieceRecord | None:
        """The judgement of a force gauge with nothing on it; None where the check has none."""
        kind = PieceKind.NO_LOAD.value
        return next(
            (p for p in self.held
             if p.is_judged and p.certificate is not None and p.certificate.kind == kind),
            None,
        )  # fmt: skip

    def piece(self, piece: str, channel: str) -> PieceRecord | None:
        """The judgement of a piece that has figures; None where it has none."""
        return next(
            (p for p in self.held if (p.piece, p.channel) == (piece, channel) and p.is_judged),
            None,
        )
