"""Rows of the register as facts: nominal figures, certificates, pieces. Pure; any thread."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from pathlib import Path

from acquire.model import (
    Certificate,
    CertificateFile,
    Nominal,
    Piece,
    PieceKind,
    Quantity,
    WeightClass,
)
from acquire.store.register_rows import CertificateRow, PieceRow

_FIGURES = ("refractive_index", "index_wavelength_nm", "mass_g", "gravity_m_s2")


def nominal_text(nominal: Nominal) -> str:
    """Nominal figures as the store has them: JSON with what is known, decimals as text."""
    told: dict[str, object] = {
        name: str(value) for name in _FIGURES if (value := getattr(nominal, name)) is not None
    }
    if nominal.weight_class is not None:
        told["weight_class"] = nominal.weight_class.value
    if nominal.values:
        told["values"] = {channel: str(value) for channel, value in nominal.values.items()}
    return json.dumps(told, sort_keys=True)


def read_nominal(text: str) -> Nominal:
    """The nominal figures of a row."""
    told = json.loads(text)
    figures = {name: Decimal(told[name]) for name in _FIGURES if name in told}
    weight_class = WeightClass(told["weight_class"]) if "weight_class" in told else None
    values = {channel: Decimal(value) for channel, value in told.get("values", {}).items()}
    return Nominal(**figures, weight_class=weight_class, values=values)


def certificate_of(row: CertificateRow, file: CertificateFile | None = None) -> Certificate:
    """The certificate of a row."""
    return Certificate(
        row.piece,
        Quantity(row.quantity),
        row.channel,
        Decimal(row.value),
        row.unit,
        Decimal(row.expanded_uncertainty),
        Decimal(row.coverage_factor),
        date.fromisoformat(row.issued),
        date.fromisoformat(row.due),
        row.issuer,
        row.number or "",
        file,
        row.withdrawn or "",
    )


def figures_of(row: CertificateRow) -> tuple[object, ...]:
    """What makes rows rows of one certificate: others of its day have other figures."""
    return (
        row.piece, row.quantity, row.channel, row.issued, row.due, row.issuer, row.unit,
        Decimal(row.value), Decimal(row.expanded_uncertainty), Decimal(row.coverage_factor),
    )  # fmt: skip


def kept_file(name: str, sha256: str, size_bytes: int) -> CertificateFile:
    """A file as the store keeps it, which has no place outside."""
    return CertificateFile(name, Path(name), size_bytes, sha256)


def piece_of(
    row: PieceRow | None, piece: str, kind: str, certificates: Iterable[Certificate]
) -> Piece:
    """A piece with these certificates; `row` is None where the store has no register of it."""
    if row is None:
        return Piece(piece, PieceKind(kind), tuple(certificates))
    return Piece(
        piece,
        PieceKind(row.kind),
        tuple(certificates),
        row.serial,
        row.name,
        read_nominal(row.nominal),
    )
