"""What the store keeps of reference pieces: every row of the register, and the files. Read-only.

One thread at a time, as the reader it is given.
"""

from __future__ import annotations

from hashlib import sha256
from typing import NamedTuple

from acquire.errors import StoreError
from acquire.model import Certificate, CertificateFile, Piece
from acquire.store.reader import StoreReader
from acquire.store.register_rows import CertificateRow, PieceRow
from acquire.store.registered import certificate_of, kept_file, piece_of


class KeptCertificate(NamedTuple):
    """A certificate as recorded: the number of its row, since when, its file if there is one."""

    id: int
    at_utc_ns: int
    certificate: Certificate
    file_id: int | None


class Kept:
    """The register of one store."""

    def __init__(self, reader: StoreReader) -> None:
        self._reader = reader
        self.files = {
            row["id"]: kept_file(row["name"], row["sha256"], row["size"])
            for row in reader.rows(
                "SELECT id, name, sha256, length(bytes) AS size FROM certificate_file ORDER BY id"
            )
        }
        self.rows = [
            CertificateRow(*row)
            for row in reader.rows(
                f"SELECT {', '.join(CertificateRow._fields)} FROM certificate ORDER BY id"  # noqa: S608
            )
        ]
        self.hashes = {number: file.sha256 for number, file in self.files.items()}

    def certificates(self, piece: str) -> list[KeptCertificate]:
        """All that were ever recorded of a piece, in the order in which they were."""
        return [
            KeptCertificate(
                row.id, row.at_utc_ns, certificate_of(row, self._file(row)), row.file_id
            )
            for row in self.rows
            if row.piece == piece
        ]

    def everything(self) -> list[KeptCertificate]:
        """All that were ever recorded, in the order in which they were."""
        return [
            KeptCertificate(row.id, row.at_utc_ns, certificate_of(row), row.file_id)
            for row in self.rows
        ]

    def piece(self, piece: str) -> Piece | None:
        """A piece as it was recorded last; None where the store has never heard of it."""
        own = self.certificates(piece)
        kinds = [row.piece_kind for row in self.rows if row.piece == piece]
        if not own:
            return None
        latest = {
            (kept.certificate.channel, kept.certificate.issued): kept.certificate for kept in own
        }
        return piece_of(self._row(piece), piece, kinds[-1], latest.values())

    def of_check(self, check_id: int) -> list[Piece]:
        """The pieces of a judged check, each with the certificates that it was held against."""
        found: dict[str, list[CertificateRow]] = {}
        used = self._reader.rows(
            "SELECT certificate_id FROM piece_judgement "
            "WHERE check_id = ? AND certificate_id IS NOT NULL ORDER BY id",
            (check_id,),
        )
        numbers = {row["certificate_id"] for row in used}
        for row in self.rows:
            if row.id in numbers:
                found.setdefault(row.piece, []).append(row)
        return [
            piece_of(self._row(piece), piece, rows[-1].piece_kind, map(certificate_of, rows))
            for piece, rows in found.items()
        ]

    def bytes_of(self, file_id: int) -> bytes:
        """A kept file. Raises `StoreError` where the bytes are not those of its hash."""
        (row,) = self._reader.rows("SELECT * FROM certificate_file WHERE id = ?", (file_id,))
        data = bytes(row["bytes"])
        if sha256(data).hexdigest() != row["sha256"]:
            raise StoreError(
                f"the kept file {row['name']} is not what was recorded",
                got=f"bytes with the SHA-256 {sha256(data).hexdigest()[:16]}...",
                wanted=f"{row['sha256'][:16]}...",
                next_step="coatbench store verify names what does not fit",
            )
        return data

    def _file(self, row: CertificateRow) -> CertificateFile | None:
        return None if row.file_id is None else self.files[row.file_id]

    def _row(self, piece: str) -> PieceRow | None:
        rows = self._reader.rows(
            f"SELECT {', '.join(PieceRow._fields)} FROM piece "  # noqa: S608 - our own names
            "WHERE piece = ? ORDER BY id DESC LIMIT 1",
            (piece,),
        )
        return PieceRow(*rows[0]) if rows else None
