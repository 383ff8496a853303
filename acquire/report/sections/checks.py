"""The checks around the readings, piece by piece, and their certificates. Pure; any thread."""

from __future__ import annotations

import re
from collections.abc import Set
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from acquire.analysis.figures import rounded, signed
from acquire.calibration.due import days, days_words
from acquire.model import Quantity, at_channel, channel_label, from_utc_ns
from acquire.report.record.checkrecord import CheckReading, CheckRecord, PieceRecord
from acquire.report.record.record import TrialRecord
from acquire.report.sections.checklife import first_checks, life
from acquire.report.words.sentvalue import plain, printed
from acquire.report.words.wording import (
    counted,
    moment,
    numbered,
)
from acquire.units import as_entered, convert, symbol

WORDS = {"pass": "passed", "fail": "failed", "undecided": "undecided", "not judged": "not finished"}
MEANINGS = {
    "fail": "The meter read a piece farther from its certified value than the limit allows, and "
    "the doubt of the check itself cannot explain it. Until a later check passes no reading "
    "counts, and those since the last check that passed are suspect.",
    "undecided": "The check cannot say on which side of its limit the meter lies: its own doubt "
    "reaches over the limit, or a piece scattered too much or was not read in full, as said here. "
    "That is no pass: until a later check passes no reading counts.",
}
SIGNS = {"pass": "●", "fail": "✕", "undecided": "△", "not judged": "–"}
NONE = "–"
SOON_DAYS = 30
"""A certificate is told to be due soon from so many days before its end."""

_FOLLOWS = re.compile(r" is read anew, since reading \d+ is void: ")
"""The reason of a void that came with another one (`acquire.pipeline.check_void`)."""
_LONG_FIGURE = re.compile(r"(?<![\d.])\d+\.\d{7,}(?!\d)")


class PieceRow(NamedTuple):
    """One reference piece within a check."""

    piece: str
    certificate: str
    channel: str
    read: str
    certified: str
    deviation: str
    u: str
    limit: str
    spread: str
    sign: str
    outcome: str
    remark: str


class CertificateRow(NamedTuple):
    """What is certified of a piece; checks name it by its piece, channel and day of issue."""

    piece: str
    channel: str
    value: str
    factor: str
    issuer: str
    number: str
    issued: str
    due: str
    file: str


class CheckBlock(NamedTuple):
    """One check with its pieces. `life` says what it covered and what ended that.

    `meaning` says what an outcome other than a pass means, `beside` how straight the meter read,
    how the room was, and how the meter was found and left around a re-adjustment.

    `taken` lists every reading of it, piece by piece, judged or not.
    """

    id: int
    instrument: str
    when: str
    sign: str
    outcome: str
    message: str
    meaning: str
    life: str
    beside: str
    taken: str
    pieces: tuple[PieceRow, ...]


def check_blocks(record: TrialRecord) -> tuple[CheckBlock, ...]:
    """Every check of the record, in its order."""
    begun = first_checks(record)
    return tuple(_check(c, begun.get((c.instrument, c.serial), 0)) for c in record.checks)


def certificate_rows(record: TrialRecord) -> tuple[CertificateRow, ...]:
    """Every certificate that a check of the record was held against, once."""
    last: dict[CertificateRow, int] = {}
    for check in record.checks:
        for piece in check.pieces:
            held = piece.certificate
            if held is not None:
                row = CertificateRow(
                    _name(piece),
                    _channel(piece),
                    _certified(piece),
                    f"{held.coverage_factor}",
                    held.issuer,
                    held.number or NONE,
                    held.issued + (f", withdrawn: {held.withdrawn}" if held.withdrawn else ""),
                    held.due,
                    f"{held.file_name} ({held.file_sha256[:16]}…)" if held.file_name else NONE,
                )
                at_ns = check.judged_utc_ns or check.begun_utc_ns
                last[row] = max(at_ns, last.get(row, at_ns))
    return tuple(sorted(row._replace(due=_due(row.due, at)) for row, at in last.items()))


def _due(due: str, last_used_utc_ns: int) -> str:
    """The due date, and that it was near when the certificate was last relied on."""
    left = (date.fromisoformat(due) - from_utc_ns(last_used_utc_ns).date()).days
    if left < 0:
        return f"{due}, overdue by {days(left)} at its last check"
    return f"{due}, due soon: {days_words(left)} at its last check" if left <= SOON_DAYS else due


def channel_word(quantities: Set[Quantity]) -> str:
    """What the column of channels is called: what a press of these quantities has several of."""
    words = {Quantity.GLOSS: "Angle", Quantity.TRANSMITTANCE: "Band"}
    return " or ".join(w for q, w in words.items() if q in quantities).capitalize() or "Channel"


def _check(check: CheckRecord, first: int) -> CheckBlock:
    """`first` is the check that covers the meter's first reading in the trial."""
    is_before = check.id < first
    is_told = check.is_abandoned or (check.outcome != "pass" and not check.pieces)
    outcome = WORDS[check.outcome]
    return CheckBlock(
        check.id,
        f"{check.instrument}, serial {check.serial or 'unknown'}"
        + (" (declared, not read), typed by hand" if check.is_typed else ""),
        moment(check.judged_utc_ns or check.begun_utc_ns),
        SIGNS[check.outcome],
        f"abandoned, {outcome}" if check.is_abandoned else outcome,
        _sentence(_shortened(check.message)) if is_told else "",
        "" if check.is_abandoned or is_before else MEANINGS.get(check.outcome, ""),
        life(check, is_before=is_before),
        _beside(check),
        _taken(check),
        tuple(_piece(p, check) for p in check.pieces),
    )


def _beside(check: CheckRecord) -> str:
    told = [_sentence(_shortened(line)) for line in check.lines]
    if check.climate:
        told.append(f"The room had {check.climate}.")
    seen = check.adjustment
    if seen is not None:
        before = "Not read as found; before that, by" if seen.was_used else "As found, by"
        told.append(
            f"The meter was re-adjusted before it. {before} check {seen.found_by}: "
            f"{seen.as_found}; as left, by this one: {seen.as_left}."
        )
    if check.withdrawn:
        told.append("A certificate that it rests on was withdrawn since: see above.")
    return " ".join(told)


def _taken(check: CheckRecord) -> str:
    if not check.readings:
        return "No reading was taken in it."
    pieces: dict[tuple[str, str, str], list[CheckReading]] = {}
    for r in check.readings:
        pieces.setdefault((r.piece, r.channel, r.unit), []).append(r)
    said = [
        f"{piece}{at_channel(channel)}: "
        + ", ".join(_value(r, check) for r in found)
        + f" {symbol(unit)}".rstrip()
        for (piece, channel, unit), found in pieces.items()
    ]
    numbers = numbered([r.id for r in check.readings])
    return f"Taken in it (number {numbers}): {'; '.join(said)}.{_voids(check)}"


def _voids(check: CheckRecord) -> str:
    """What was taken back or out, and what of the same piece went with it and was read anew."""
    by_piece: dict[str, list[CheckReading]] = {}
    for r in check.readings:
        if r.is_taken_out:
            by_piece.setdefault(r.piece, []).append(r)
    said = [
        f" Void at once: reading {r.id} of {r.piece}, since {r.void_reason}."
        for r in check.readings
        if r.void_reason and not r.is_taken_out
    ]
    for piece, voids in by_piece.items():
        own = [r for r in voids if not _FOLLOWS.search(r.void_reason)]
        named = "; ".join(f"reading {r.id} ({r.void_reason})" for r in own)
        also = len(voids) - len(own)
        said.append(
            f" Void before the verdict: {counted(len(voids), 'reading')} of {piece} "
            f"(number {numbered([r.id for r in voids])}). A person took out {named}"
            + (f"; the {also} other of the piece went with it, and it was read anew in full."
               if also else "; the piece was read anew in full.")
        )  # fmt: skip
    return "".join(said)


def _value(reading: CheckReading, check: CheckRecord) -> str:
    if reading.value is None:
        return reading.flags or "no value"
    flags = f" ({reading.flags})" if reading.flags else ""
    flags += " (void)" if reading.void_reason else ""
    return f"{printed(reading.value, _step(check, reading.unit))}{flags}".replace("-", "−")


def _shortened(text: str) -> str:
    """A stored sentence without the digits that a conversion gave to its figures."""
    return _LONG_FIGURE.sub(lambda found: plain(Decimal(found[0])), text)


def _step(check: CheckRecord, unit: str) -> Decimal | None:
    """The step of the meter's display in a unit, as the policy of a check has it."""
    return convert(check.resolution, check.unit, unit) if check.resolution > 0 else None


def _sentence(text: str) -> str:
    return text and f"{text[0].upper()}{text[1:].removesuffix('.')}."


def _piece(piece: PieceRecord, check: CheckRecord) -> PieceRow:
    held, has = piece.certificate, piece.is_judged
    # Figures to the second digit of the display's step; of the limit where no step is known.
    place = float(_step(check, piece.unit) or piece.limit)
    return PieceRow(
        piece=_name(piece),
        certificate="none"
        if held is None
        else held.issued + (", withdrawn since" if held.withdrawn else ""),
        channel=_channel(piece),
        read=f"{rounded(float(piece.mean), place)} ({piece.count} ×)"
        if has
        else f"{piece.count} ×",
        certified=_certified(piece),
        deviation=signed(float(piece.deviation), place) if has else NONE,
        u=rounded(float(piece.expanded_uncertainty), place) if has else NONE,
        limit=f"{plain(piece.limit)} {symbol(piece.unit)}",
        spread=f"{rounded(float(piece.spread), place)} of {plain(piece.spread_limit)}"
        if has
        else NONE,
        sign=SIGNS[piece.outcome],
        outcome=WORDS[piece.outcome],
        remark="" if piece.outcome == "pass" else _shortened(piece.message),
    )


def _name(piece: PieceRecord) -> str:
    kind = piece.certificate.kind.replace("-", " ") if piece.certificate else "reference piece"
    return f"{piece.piece} ({kind})"


def _channel(piece: PieceRecord) -> str:
    return channel_label(piece.channel) or NONE


def _certified(piece: PieceRecord) -> str:
    """The certified value with its expanded uncertainty as on the certificate."""
    if piece.certificate is None:
        return NONE
    u = as_entered(piece.certificate.expanded_uncertainty)
    return f"{as_entered(piece.certified)} ± {u} {symbol(piece.unit)}"
