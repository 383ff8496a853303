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


class CertificateFileRow(NamedTuple):
    """The bytes of a certificate as it came, once a SHA-256; `name` is the first it came under."""

    id: int
    at_utc_ns: int
    name: str
    sha256: str
    bytes: bytes
