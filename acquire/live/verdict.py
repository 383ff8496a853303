"""How a check came out, for a person: piece by piece, and what is next.

Reads the store; never writes. Any thread, with a reader of its own.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from datetime import tzinfo
from decimal import Decimal
from typing import Any

from acquire.calibration.edition import EDITION
from acquire.calibration.plausibility import findings
from acquire.calibration.width import wide_limits
from acquire.calibration.written import written_by
from acquire.live.adjusted import as_found_as_left
from acquire.live.counted import TEACH, count_lines
from acquire.live.made_suspect import by_adjusting_before, by_check
from acquire.live.words import clean, duration, figure, hour, reopened_words
from acquire.model import channel_label, read_policy_text
from acquire.model.verdict import ABANDONED
from acquire.store.kept import Kept
from acquire.store.limits import changed_limits, changed_values
from acquire.store.reader import StoreReader
from acquire.units import symbol

TYPED_WORDS = "all values typed by hand; the serial number is declared in bench.toml, not read"


_OUTCOMES = {"pass": "inside", "fail": "OUTSIDE", "undecided": "NOT DECIDED"}


def verdict(
    store: StoreReader,
    check_id: int,
    now_utc_ns: int,
    zone: tzinfo | None = None,
    *,
    has_run: bool = False,
    reopened: Sequence[Mapping[str, Any]] = (),
    renewals: Sequence[str] = (),
) -> tuple[bool, list[str]]:
    """Whether a check passed, and its verdict for a person: piece by piece, and what is next.

    `has_run` says that a run is open or interrupted: after a pass that is what is gone on with.
    `reopened` are places of finished runs that are open again, as the status has them, `renewals`
    words on certificates that are due.
    """
    (check,) = store.rows(
        "SELECT c.instrument, c.outcome, c.message, c.next_step, c.expires_utc_ns, j.presses, "
        "j.least_real, j.most_real, b.policy_json FROM checks AS c "
        "JOIN check_begin AS b ON b.id = c.check_id "
        "LEFT JOIN check_judgement AS j ON j.check_id = c.check_id WHERE c.check_id = ?",
        (check_id,),
    )
    name = clean(check["instrument"])
    passed = check["outcome"] == "pass"
    message = str(check["message"] or "")
    is_broken_off = message.startswith(ABANDONED)
    outcome = (
        "BROKEN OFF"
        if is_broken_off and check["outcome"] == "undecided"
        else check["outcome"].upper()
    )
    lines = [f"check {check_id} of {name}: {outcome}"]
    pieces = store.rows("SELECT * FROM piece_judgement WHERE check_id = ? ORDER BY id", (check_id,))
    if pieces:
        unit = symbol(pieces[0]["unit"])
        head = ("piece", "at", "read", "certified", "deviation", "uncertainty", "limit", "outcome")
        step = read_policy_text(check["policy_json"]).resolution
        lines += ["", *_table([head, *(_piece(p, step) for p in pieces)])]
        lines.append(f"read is the mean{f', all in {unit}' if unit else ''}; uncertainty at 95 %")
        lines += [""]
        lines += [clean(p["message"]) for p in pieces if p["outcome"] != "pass"]
        lines += _straight(store, check_id)
    if not pieces or passed or is_broken_off:
        lines.append(clean(message.removeprefix(ABANDONED)))
    counted = count_lines(store, check_id) if is_broken_off else []
    lines += counted
    if passed:
        left_s = (check["expires_utc_ns"] - now_utc_ns) / 1e9
        until = hour(check["expires_utc_ns"], zone)
        lines.append(f"valid for {duration(left_s)}, until {until}{_covers(check, pieces)}")
    lines += as_found_as_left(store, check_id)
    lines += _typed(store, check_id) + _voids(store, check_id)
    lines += [f"LIMIT CHANGED: {clean(text)}" for text in changed_limits(store, check_id)]
    lines += [f"CERTIFICATE CHANGED: {clean(text)}" for text in changed_values(store, check_id)]
    lines += [*_implausible(store, check_id), *renewals]
    lines += [*by_adjusting_before(store, check_id), *by_check(store, check_id)]
    own = [places for places in reopened if places["instrument"] == check["instrument"]]
    if passed and not has_run and own:
        first, _, ahead = reopened_words(own[0]).partition(". Next: ")
        return passed, [*lines, *map(reopened_words, own[1:]), first, f"next: {ahead}"]
    ahead = "coatbench run --resume" if passed and has_run else clean(check["next_step"])
    unless = " once it is in your hand; " + TEACH if counted else ""
    lines.append(f"next: {ahead or f'coatbench check {name}'}{unless}")
    return passed, lines


def _straight(store: StoreReader, check_id: int) -> list[str]:
    """How straight the meter reads, where its policy asks for it."""
    rows = store.rows(
        "SELECT message FROM linearity_judgement WHERE check_id = ? ORDER BY id", (check_id,)
    )
    return [f"linearity: {clean(row['message'])}" for row in rows]


def _covers(check: sqlite3.Row, pieces: Sequence[sqlite3.Row]) -> str:
    """What a pass covers beyond its time, where its policy says so."""
    told = ""
    if check["presses"] is not None:
        told += f", for {check['presses']} press{'' if check['presses'] == 1 else 'es'} at most"
    if check["least_real"] is not None:
        unit = symbol(pieces[0]["unit"]) if pieces else ""
        told += f", from {check['least_real']:g} to {check['most_real']:g} {unit}".rstrip()
    return told


def _typed(store: StoreReader, check_id: int) -> list[str]:
    """That nothing of a check came down a cable, where that is so."""
    found = store.one(
        "SELECT max(typed) FROM readings WHERE check_id = ? AND role = 'check'", (check_id,)
    )
    return [TYPED_WORDS] if found else []


def _implausible(store: StoreReader, check_id: int) -> list[str]:
    """What cannot well be true of the certificates that a check was held against, and which of its
    limits held nothing.
    """
    pieces = Kept(store).of_check(check_id)
    found = [f"NOT PLAUSIBLE: {clean(text)}" for piece in pieces for text in findings(piece)]
    text = store.one("SELECT policy_json FROM check_begin WHERE id = ?", (check_id,))
    wide = wide_limits(read_policy_text(text), pieces)
    return [*found, *(f"TOO WIDE: {clean(told)}" for told in wide)]


def _voids(store: StoreReader, check_id: int) -> list[str]:
    """The readings that a person took out of a check, which the report lists with it."""
    found = store.rows(
        "SELECT v.reading_id, v.reason FROM void AS v JOIN reading AS q ON q.id = v.reading_id "
        "WHERE q.check_id = ? AND q.role = 'check' ORDER BY q.id",
        (check_id,),
    )
    return [f"taken out by a person: reading {v[0]} ({clean(v[1])})" for v in found]


def _piece(p: sqlite3.Row, resolution: Decimal) -> tuple[str, ...]:
    at = clean(channel_label(p["channel"]))
    outcome = _OUTCOMES[p["outcome"]]
    # A piece that could not be judged has no figures, and zeros would look like some.
    judged = float(p["expanded_uncertainty"]) > 0
    if not judged:
        return (clean(p["piece"]), at, "-", "-", "-", "-", figure(p["limit_"]), outcome)
    doubt = Decimal(p["expanded_uncertainty"])
    write = written_by(EDITION, doubt, resolution)
    return (
        clean(p["piece"]),
        at,
        write.value(Decimal(p["mean"])),
        figure(p["certified"]),
        write.signed(Decimal(p["deviation"])),
        write.value(doubt),
        figure(p["limit_"]),
        outcome,
    )


def _table(rows: list[tuple[str, ...]]) -> list[str]:
    """Columns as wide as they must be: the first and the last to the left, figures to the right."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    last = len(widths) - 1
    return [
        "  ".join(
            f"{cell:<{w}}" if i in (0, last) else f"{cell:>{w}}"
            for i, (cell, w) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
