"""Reference pieces and their certificates as objects for programs and words for people. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from acquire.calibration.due import days, days_words, due_of
from acquire.calibration.plausibility import findings, fresnel_gloss
from acquire.cli.listing import Cells
from acquire.live.words import clean
from acquire.model import Certificate, Nominal, Piece, channel_label, iso_utc
from acquire.store.kept import KeptCertificate
from acquire.units import as_entered, symbol

HEAD = ("piece", "kind", "identity", "nominal", "at", "certified", "issued", "due", "how it stands")
HISTORY_HEAD = ("number", "at", "certified", "issued", "due", "certificate", "file", "what of it")
NONE = "-"


def piece_item(piece: Piece, today: date, soon_days: int) -> dict[str, Any]:
    """A piece with the certificates in use and what is not plausible of them."""
    nominal = piece.nominal
    return {
        "piece": piece.id,
        "kind": piece.kind.value,
        "name": piece.name,
        "serial": piece.serial,
        "nominal": {
            "refractive_index": _text(nominal.refractive_index),
            "index_wavelength_nm": _text(nominal.index_wavelength_nm),
            "mass_g": _text(nominal.mass_g),
            "weight_class": nominal.weight_class,
            "values": {channel: str(value) for channel, value in nominal.values.items()},
        },
        "certificates": [_in_use(piece, c, today, soon_days) for c in piece.on(today).current],
        "findings": findings(piece),
    }


def _in_use(piece: Piece, c: Certificate, today: date, soon_days: int) -> dict[str, Any]:
    due = due_of(c, today, soon_days)
    fresnel = fresnel_gloss(piece, c.channel) if piece.nominal.refractive_index else None
    return {
        **certificate_item(c),
        "days_left": due.days_left,
        "state": due.state.value,
        "fresnel": None if fresnel is None else str(fresnel[0]),
    }


def certificate_item(c: Certificate) -> dict[str, Any]:
    """A certificate by itself."""
    return {
        "quantity": c.quantity.value,
        "channel": c.channel,
        "value": str(c.value),
        "unit": c.unit,
        "expanded_uncertainty": str(c.expanded_uncertainty),
        "coverage_factor": str(c.coverage_factor),
        "issued": c.issued.isoformat(),
        "due": c.due.isoformat(),
        "issuer": c.issuer,
        "certificate": c.number,
        "file": None
        if c.file is None
        else {"name": c.file.name, "sha256": c.file.sha256, "bytes": c.file.size_bytes},
        "withdrawn": c.withdrawn,
    }


def kept_item(kept: KeptCertificate) -> dict[str, Any]:
    """A certificate as the store has it, with the number by which it is asked for."""
    recorded = {"number": kept.id, "recorded": iso_utc(kept.at_utc_ns)}
    return {**recorded, **certificate_item(kept.certificate)}


def piece_rows(items: Iterable[Mapping[str, Any]], pieces: Iterable[Piece]) -> list[Cells]:
    """Headings and a row a certificate in use."""
    rows: list[Cells] = [HEAD]
    for item, piece in zip(items, pieces, strict=True):
        for certificate in item["certificates"]:
            rows.append(
                (
                    clean(piece.id),
                    piece.kind.value,
                    clean(piece.serial) or NONE,
                    nominal_words(piece.nominal, certificate["channel"], certificate["unit"])
                    or NONE,
                    channel_label(certificate["channel"]) or NONE,
                    certified_words(certificate),
                    certificate["issued"],
                    certificate["due"],
                    stands_words(certificate),
                )
            )
        if not item["certificates"]:
            none = "no certificate in use"
            rows.append((clean(piece.id), piece.kind.value, clean(piece.serial) or NONE,
                         NONE, NONE, NONE, NONE, NONE, none))  # fmt: skip
    return rows


def history_rows(items: Sequence[Mapping[str, Any]], piece: Piece, today: date) -> list[Cells]:
    """Headings and a row for every certificate that was ever recorded."""
    current = {_key(certificate_item(c)) for c in piece.on(today).current}
    last = {_key(item): item["number"] for item in items}
    rows: list[Cells] = [HISTORY_HEAD]
    for item in items:
        again = last[_key(item)]
        why = f"withdrawn: {clean(item['withdrawn'])}" if item["withdrawn"] else ""
        if again != item["number"]:
            since = f"since {item['recorded'][:10]}"
            fate = f"{f'{why}, {since}' if why else since}; recorded again as {again}"
        elif why:
            fate = why
        else:
            later = item["issued"] > today.isoformat()
            fate = "in use" if _key(item) in current else "later" if later else "earlier"
        file = item["file"]
        rows.append(
            (
                str(item["number"]),
                channel_label(item["channel"]) or NONE,
                f"{certified_words(item)}, k = {item['coverage_factor']}",
                item["issued"],
                item["due"],
                ", ".join(clean(part) for part in (item["issuer"], item["certificate"]) if part),
                NONE if file is None else f"{clean(file['name'])} ({file['sha256'][:12]}...)",
                fate,
            )
        )
    return rows


def _key(item: Mapping[str, Any]) -> tuple[object, ...]:
    """What makes a certificate that one: of a day there may be several, of which one stands."""
    figures = (item[key] for key in ("value", "expanded_uncertainty", "coverage_factor"))
    named = (item[key] for key in ("quantity", "channel", "issued", "due", "issuer", "unit"))
    return (*named, *map(Decimal, figures))


def certified_words(item: Mapping[str, Any]) -> str:
    """``91.4 ± 0.4 GU``."""
    value, u = (as_entered(Decimal(item[key])) for key in ("value", "expanded_uncertainty"))
    return f"{value} ± {u} {symbol(item['unit'])}".rstrip()


def stands_words(item: Mapping[str, Any]) -> str:
    """``12 days left, DUE SOON``; ``OVERDUE by 3 days``."""
    left = item["days_left"]
    return {
        "overdue": f"OVERDUE by {days(left)}",
        "due soon": f"DUE SOON, {days_words(left)}",
        "not valid yet": "NOT VALID YET",
        "valid": days_words(left),
    }[str(item["state"])]


def nominal_words(nominal: Nominal, channel: str, unit: str) -> str:
    """What the piece is meant to be, in short."""
    parts = []
    if nominal.refractive_index is not None:
        at = nominal.index_wavelength_nm
        parts.append(f"n = {nominal.refractive_index}" + (f" ({at} nm)" if at is not None else ""))
    if nominal.mass_g is not None:
        weight = f"{nominal.mass_g.normalize():f} g"
        parts.append(f"{weight} {nominal.weight_class}" if nominal.weight_class else weight)
    if channel in nominal.values:
        parts.append(f"{nominal.values[channel]} {symbol(unit)}")
    return ", ".join(parts)


def _text(value: Decimal | None) -> str | None:
    return None if value is None else str(value)
