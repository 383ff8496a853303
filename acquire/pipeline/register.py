"""The register of reference pieces at the daemon's start: what is new goes in, nothing is changed.

Certificates are added, never edited: earlier checks were judged by what stands there. One that has
other figures than the one recorded of the same day, or another file, is a fault, and nothing is
recorded then. So a reading leads by its check to a certificate that stands as it was issued
(ISO/IEC 17025:2017, 6.4.13 and 6.5.1, from memory). Runs on the desk's thread.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal

from acquire.calibration.due import to_renew
from acquire.calibration.plausibility import findings
from acquire.calibration.width import wide_limits
from acquire.errors import Fault, SettingsError
from acquire.model import (
    Bench,
    Certificate,
    IncidentKind,
    Instant,
    Piece,
    Quantity,
    at_channel,
    iso_utc,
)
from acquire.pipeline.desk import Desk
from acquire.settings.certificate_file import bytes_of
from acquire.store.register_rows import CertificateFileRow, CertificateRow, PieceRow
from acquire.store.registered import nominal_text
from acquire.store.rows import Row
from acquire.units import as_entered, symbol

_Key = tuple[str, str, str, str]
"""Piece, quantity, channel and day of issue: there is one certificate for each at a time."""

_FIGURES = slice(2, CertificateRow._fields.index("number"))
"""The columns of a row that say what is certified."""

NEXT_STEP = (
    "put it back as it was recorded and add the new certificate as a [[piece.certificate]] of its "
    'own; one that was entered wrongly gets withdrawn = "WHY" and stays, with the right one below'
)


class Register:
    """What the store holds of pieces and certificates, held against the bench file."""

    def __init__(self, certificates: Sequence[CertificateRow], files: dict[int, str]) -> None:
        self._rows: dict[_Key, list[CertificateRow]] = {}
        self._kinds: dict[str, CertificateRow] = {}
        self._files = files
        for row in certificates:
            self._rows.setdefault(_key_of(row), []).append(row)
            self._kinds[row.piece] = row

    def known(self, certificate: Certificate) -> CertificateRow | None:
        """The latest row of this certificate, figures and all; None where there is none."""
        for row in _speaking(self._rows.get(_key(certificate), ())):
            if not list(self._unlike(row, certificate)):
                return row
        return None

    def add(self, row: CertificateRow) -> None:
        """Take a row that goes in."""
        self._rows.setdefault(_key_of(row), []).append(row)

    def untold(self, pieces: Sequence[Piece]) -> Iterator[str]:
        """What a daemon that was started before knows nothing of, a line a certificate."""
        for c in (c for piece in pieces for c in piece.certificates):
            row = self.known(c)
            if row is not None and (row.withdrawn is None) == (not c.withdrawn):
                continue
            what = "new" if row is None else "withdrawn" if c.withdrawn else "withdrawn no more"
            yield (
                f"the certificate of {c.piece}{at_channel(c.channel)} issued {c.issued} "
                f"({as_entered(c.value)} {symbol(c.unit)}) is {what}"
            )

    def faults(self, pieces: Sequence[Piece], today: date) -> Iterator[Fault]:
        """Where the bench file says other than was recorded, by its places."""
        for index, piece in enumerate(pieces):
            at = f"piece[{index}]"
            row = self._kinds.get(piece.id)
            if row is not None and row.piece_kind != piece.kind.value:
                wanted = f"{row.piece_kind!r}, as it was recorded; another piece has another id"
                yield Fault(f"{at}.kind", repr(piece.kind.value), wanted)
                continue
            for number, certificate in enumerate(piece.certificates):
                yield from self._edited(f"{at}.certificate[{number}]", piece, certificate)
            yield from self._removed(f"{at}.certificate", piece, today)

    def _edited(self, at: str, piece: Piece, certificate: Certificate) -> Iterator[Fault]:
        own = self._rows.get(_key(certificate))
        if not own or self.known(certificate) is not None:
            return
        # Of several of one day it is held against one with its value, if there is one.
        latest = next(
            (row for row in _speaking(own) if Decimal(row.value) == certificate.value), own[-1]
        )
        # Beside the one that was recorded and is still there, withdrawn, this is the right one.
        same_day = (c for c in piece.certificates if _key(c) == _key(certificate))
        if any(not list(self._unlike(latest, c)) for c in same_day):
            return
        when = f"as recorded on {iso_utc(latest.at_utc_ns)[:10]}"
        for key, got, wanted in self._unlike(latest, certificate):
            yield Fault(f"{at}.{key}", got, f"{wanted}, {when}")

    def _removed(self, at: str, piece: Piece, today: date) -> Iterator[Fault]:
        """A recorded certificate that would be in use, or will be, were it not left out."""
        there = {_key(c) for c in piece.certificates}
        latest: dict[tuple[str, str], CertificateRow] = {}
        for key, rows in self._rows.items():
            row = rows[-1]
            if row.piece == piece.id and row.withdrawn is None and key not in there:
                other = latest.setdefault((row.quantity, row.channel), row)
                if row.issued > other.issued:
                    latest[row.quantity, row.channel] = row
        for (quantity, channel), row in latest.items():
            on = max(today, date.fromisoformat(row.issued))
            used = piece.on(on).certificate(Quantity(quantity), channel)
            if used is not None and used.issued.isoformat() < row.issued:
                wanted = (
                    f"the one of {row.issued} too: {row.value} {row.unit} ± "
                    f"{row.expanded_uncertainty} with k = {row.coverage_factor}, due {row.due}, "
                    f"by {row.issuer}"
                )
                got = f"none of {row.issued} for {quantity}{at_channel(channel)}"
                yield Fault(at, got, wanted)

    def _unlike(self, row: CertificateRow, c: Certificate) -> Iterator[tuple[str, str, str]]:
        """Key, got and wanted for every figure in which they differ.

        Number and file may come later: what was never said is no other.
        """
        for key, recorded, told in (
            ("value", row.value, c.value),
            ("expanded_uncertainty", row.expanded_uncertainty, c.expanded_uncertainty),
            ("coverage_factor", row.coverage_factor, c.coverage_factor),
        ):
            if Decimal(recorded) != told:
                unit = f" {row.unit}" if key != "coverage_factor" else ""
                yield key, f"{told:f}{unit}", f"{Decimal(recorded):f}{unit}"
        if row.due != c.due.isoformat():
            yield "due", c.due.isoformat(), row.due
        if row.issuer != c.issuer:
            yield "issuer", repr(c.issuer), repr(row.issuer)
        if row.number is not None and c.number and row.number != c.number:
            yield "number", repr(c.number), repr(row.number)
        if row.file_id is not None and c.file is not None:
            kept = self._files[row.file_id]
            if kept != c.file.sha256:
                got = f"{c.file.name!r} with the SHA-256 {c.file.sha256[:16]}..."
                yield "file", got, f"the file with the SHA-256 {kept[:16]}..., as it is kept"


def register_lines(bench: Bench, today: date) -> list[str]:
    """What is to be told at the start: not plausible, limits that are too wide, due, overdue."""
    used = [c for piece in bench.pieces for c in piece.on(today).current]
    wide = [t for spec in bench.instruments for t in wide_limits(spec.policy, bench.pieces)]
    return [
        *(f"not plausible: {text}" for piece in bench.pieces for text in findings(piece)),
        *(f"too wide: {text}" for text in dict.fromkeys(wide)),
        *(due.words for due in to_renew(used, today, bench.due_soon_days)),
    ]


def register_rows(desk: Desk, at: Instant) -> list[Row]:
    """Rows for what the bench file has new. Raises `SettingsError` with all that was edited."""
    files = desk.shelf.certificate_files()
    register = Register(desk.shelf.certificates(), files)
    pieces = desk.bench.pieces
    today = desk.keeper.judging.certain(at).utc().date()
    if faults := list(register.faults(pieces, today)):
        raise SettingsError("the bench file", faults, next_step=NEXT_STEP)
    rows = _pieces(desk, at)
    ids = {sha256: number for number, sha256 in files.items()}
    for piece in pieces:
        # The withdrawn first, so that the last of a day is the one in use.
        for c in sorted(piece.certificates, key=lambda c: (c.issued, not c.withdrawn)):
            if c.file is not None and c.file.sha256 not in ids:
                file = CertificateFileRow(
                    desk.ids.take(CertificateFileRow),
                    at.utc_ns,
                    c.file.name,
                    c.file.sha256,
                    bytes_of(c.file),
                )
                ids[file.sha256] = file.id
                files[file.id] = file.sha256
                rows.append(file)
            known = register.known(c)
            row = _row(piece, c, at, None if c.file is None else ids[c.file.sha256], known)
            if known is None or known[2:] != row[2:]:
                row = row._replace(id=desk.ids.take(CertificateRow))
                register.add(row)
                rows.append(row)
            else:
                row = known
            if not c.withdrawn:
                desk.keeper.judging.registered[_key(c)] = row.id
    return rows


def _row(
    piece: Piece, c: Certificate, at: Instant, file_id: int | None, known: CertificateRow | None
) -> CertificateRow:
    # Figures stay as they were first written down: 91.4 and 91.40 are one value.
    figures = (
        (str(c.value), str(c.expanded_uncertainty), str(c.coverage_factor))
        if known is None
        else (known.value, known.expanded_uncertainty, known.coverage_factor)
    )
    return CertificateRow(
        0,
        at.utc_ns,
        c.piece,
        piece.kind.value,
        c.quantity.value,
        c.channel,
        figures[0],
        c.unit,
        figures[1],
        figures[2],
        c.issued.isoformat(),
        c.due.isoformat(),
        c.issuer,
        c.number or (known.number if known is not None else None),
        file_id if file_id is not None or known is None else known.file_id,
        c.withdrawn or None,
    )


def _pieces(desk: Desk, at: Instant) -> list[Row]:
    known = {row.piece: row for row in desk.shelf.pieces()}
    rows: list[Row] = []
    for piece in desk.bench.pieces:
        row = PieceRow(
            0,
            at.utc_ns,
            piece.id,
            piece.kind.value,
            piece.serial,
            piece.name,
            nominal_text(piece.nominal),
        )
        last = known.get(piece.id)
        if last is None or last[2:] != row[2:]:
            rows.append(row._replace(id=desk.ids.take(PieceRow)))
        if last is not None and last.serial and last.serial != piece.serial:
            message = (
                f"reference piece {piece.id} bears {piece.serial or 'no identity'} now, and bore "
                f"{last.serial} before. Next: if it is another piece, give it an id of its own"
            )
            rows.append(desk.keeper.incident("", IncidentKind.OTHER_PIECE, at, message))
    return rows


def _speaking(own: Sequence[CertificateRow]) -> Iterator[CertificateRow]:
    """The rows of one day that speak for themselves, the latest first.

    One to which number or file were added later does so no more.
    """
    for place in reversed(range(len(own))):
        if not any(_has_grown(own[place], later) for later in own[place + 1 :]):
            yield own[place]


def _has_grown(row: CertificateRow, later: CertificateRow) -> bool:
    """Whether a later row is the same certificate, with all that was known of it and maybe more."""
    return (
        row[_FIGURES] == later[_FIGURES]
        and row.number in (None, later.number)
        and row.file_id in (None, later.file_id)
    )


def _key(c: Certificate) -> _Key:
    return c.piece, c.quantity.value, c.channel, c.issued.isoformat()


def _key_of(row: CertificateRow) -> _Key:
    return row.piece, row.quantity, row.channel, row.issued
