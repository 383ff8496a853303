"""Rows of the register of reference pieces."""

from __future__ import annotations

from typing import NamedTuple


class PieceRow(NamedTuple):
    """A reference piece as configured; a new row whenever that changed. `nominal` is JSON."""

    id: int
    at_utc_ns: int
    piece: str
    kind: str
    serial: str
    name: str
    nominal: str


class CertificateRow(NamedTuple):
    """A certificate as configured; a new row when number, file or withdrawal was added to it.

    Its figures never change (`acquire.pipeline.register`). None for what the bench file left out.
    """

    id: int
    at_utc_ns: int
    piece: str
    piece_kind: str
    quantity: str
    channel: str
    value: str
    unit: str
    expanded_uncertainty: str
    coverage_factor: str
    issued: str
    due: str
    issuer: str
    number: str | None = None
    file_id: int | None = None
    withdrawn: str | None = None


class CertificateFileRow(NamedTuple):
    """The bytes of a certificate as it came, once a SHA-256; `name` is the first it came under."""

    id: int
    at_utc_ns: int
    name: str
    sha256: str
    bytes: bytes
