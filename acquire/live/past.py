"""What a screen must know of the time before it was opened, and how a check came out.

Reads the store; never writes. Any thread, with a reader of its own.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from datetime import tzinfo
from typing import Any

from acquire.calibration.plausibility import findings
from acquire.control.shapes import stored_item
from acquire.live.board import Board
from acquire.live.checkboard import CheckBoard, Step
from acquire.live.feed import Told
from acquire.live.places import Places
from acquire.live.runboard import RunBoard
from acquire.live.story import TOLD_TABLES, Story, Tone
from acquire.live.suspects import suspect_words
from acquire.live.words import clean, duration, figure, hour, reopened_words
from acquire.model import TYPED_BY_HAND, arrange, channel_label, iso_utc
from acquire.model.verdict import ABANDONED
from acquire.settings import parse_plan
from acquire.store.kept import Kept
from acquire.store.placed import SUSPECT_RUNS
from acquire.store.reader import StoreReader
from acquire.units import symbol

TYPED_WORDS = "all values typed by hand; the serial number is declared in bench.toml, not read"

RECENT = 100
RECALLED_S = 3600


def story_of(store: StoreReader, zone: tzinfo | None = None) -> Story:
    """An empty story that knows the connections and checks of late by their instruments."""

    def instruments(table: str) -> dict[int, str]:
        query = f"SELECT id, instrument FROM {table} ORDER BY id DESC LIMIT {RECENT}"  # noqa: S608
        return {row["id"]: row["instrument"] for row in store.rows(query)}

    typed = store.rows(
        f"SELECT id FROM connection WHERE opened_as = ? ORDER BY id DESC LIMIT {RECENT}",  # noqa: S608
        (TYPED_BY_HAND,),
    )
    return Story(
        instruments("connection"), instruments("check_begin"), zone, [row["id"] for row in typed]
    )


def recall(board: Board, store: StoreReader, now_utc_ns: int, since_utc_ns: int = 0) -> None:
    """Let a board know what happened of late, as if it had heard it come.

    That is the last hour, or all since `since_utc_ns` if that is longer ago; of each kind of event
    at most the last hundred.
    """
    since_ns = min(now_utc_ns - RECALLED_S * 1_000_000_000, since_utc_ns or now_utc_ns)
    items: list[dict[str, Any]] = []
    for table in TOLD_TABLES:
        at = "until_utc_ns" if table == "gap" else "at_utc_ns"
        query = f"SELECT * FROM {table} WHERE {at} >= ? ORDER BY id DESC LIMIT {RECENT}"  # noqa: S608
        for row in store.rows(query, (since_ns,)):
            items.append({"table": table, **stored_item(row)})
    # Of one moment, in the order in which one thing leads to the other.
    items.sort(key=lambda i: (_moment(i), TOLD_TABLES.index(i["table"]), i["id"]))
    for item in items:
        board.fold(Told(item))
        if item["table"] == "check_judgement":
            _recall_suspects(board, store, item)
    board.know_suspects(store.one("SELECT max(check_id) FROM check_judgement") or 0)


def _moment(item: dict[str, Any]) -> int:
    return int(item["until_utc_ns"] if item["table"] == "gap" else item["at_utc_ns"])


def _recall_suspects(board: Board, store: StoreReader, judgement: dict[str, Any]) -> None:
    runs = [dict(run) for run in store.rows(SUSPECT_RUNS, (judgement["check_id"],))]
    if runs:
        words = suspect_words(judgement["check_id"], runs)
        at_iso = iso_utc(judgement["at_utc_ns"])
        board.story.add(at_iso, runs[0]["instrument"], words, Tone.TROUBLE)


def places_of(store: StoreReader, run_id: int) -> Places:
    """The places of a run, from the plan it was begun with."""
    (begun,) = store.rows(
        "SELECT run.measure, run.stage, trial.trial, trial.text FROM run "
        "JOIN trial ON trial.id = run.trial_id WHERE run.id = ?",
        (run_id,),
    )
    plan = parse_plan(begun["text"], f"trial {begun['trial']} as stored")
    measure = next(m for m in plan.measures if m.id == begun["measure"])
    return Places(arrange(plan, measure, begun["stage"]))


def run_board(
    store: StoreReader,
    run_id: int,
    meter: str,
    now_utc_ns: int,
    page: Sequence[str] = (),
    zone: tzinfo | None = None,
) -> RunBoard:
    """The board of a run, with what happened since it was begun."""
    board = RunBoard(
        story_of(store, zone), run_id=run_id, meter=meter, places=places_of(store, run_id)
    )
    begun_utc_ns = store.one("SELECT at_utc_ns FROM run WHERE id = ?", (run_id,))
    recall(board, store, now_utc_ns, int(begun_utc_ns))
    board.page = page
    return board


def check_board(store: StoreReader, check_id: int, zone: tzinfo | None = None) -> CheckBoard:
    """The board of a check under way, with what was read so far."""
    (begun,) = store.rows(
        "SELECT instrument, channels, policy_json FROM check_begin WHERE id = ?", (check_id,)
    )
    board = CheckBoard(
        story_of(store, zone),
        check_id=check_id,
        meter=begun["instrument"],
        steps=tuple(
            Step(rule["piece"], rule["readings"])
            for rule in json.loads(begun["policy_json"])["rules"]
        ),
        channels=tuple(begun["channels"].split(",")),
    )
    for row in store.rows(
        "SELECT q.id, q.piece, q.channel, q.value, v.id AS void_id FROM reading AS q "
        "LEFT JOIN void AS v ON v.reading_id = q.id WHERE q.role = 'check' AND q.check_id = ? "
        "ORDER BY q.id",
        (check_id,),
    ):
        board.count(row["id"], row["piece"], row["channel"], row["value"])
        if row["void_id"] is not None:
            board.uncount(row["id"])
    return board


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
        "SELECT instrument, outcome, message, next_step, expires_utc_ns FROM checks "
        "WHERE check_id = ?",
        (check_id,),
    )
    name = clean(check["instrument"])
    passed = check["outcome"] == "pass"
    message = str(check["message"] or "")
    is_broken_off = check["outcome"] == "undecided" and message.startswith(ABANDONED)
    outcome = "BROKEN OFF" if is_broken_off else check["outcome"].upper()
    lines = [f"check {check_id} of {name}: {outcome}"]
    pieces = store.rows("SELECT * FROM piece_judgement WHERE check_id = ? ORDER BY id", (check_id,))
    if pieces:
        unit = symbol(pieces[0]["unit"])
        head = ("piece", "at", "read", "certified", "deviation", "uncertainty", "limit", "outcome")
        lines += ["", *_table([head, *(_piece(p) for p in pieces)])]
        lines.append(f"read is the mean{f', all in {unit}' if unit else ''}; uncertainty at 95 %")
        lines += [""]
        lines += [clean(p["message"]) for p in pieces if p["outcome"] != "pass"]
    if not pieces or passed:
        lines.append(clean(message.removeprefix(ABANDONED) if is_broken_off else message))
    if passed:
        left_s = (check["expires_utc_ns"] - now_utc_ns) / 1e9
        until = hour(check["expires_utc_ns"], zone)
        lines.append(f"valid for {duration(left_s)}, until {until}")
    lines += _typed(store, check_id) + _voids(store, check_id)
    lines += [*_implausible(store, check_id), *renewals]
    suspects = [dict(run) for run in store.rows(SUSPECT_RUNS, (check_id,))]
    lines += [suspect_words(check_id, suspects)] if suspects else []
    own = [places for places in reopened if places["instrument"] == check["instrument"]]
    if passed and not has_run and own:
        first, _, ahead = reopened_words(own[0]).partition(". Next: ")
        return passed, [*lines, *map(reopened_words, own[1:]), first, f"next: {ahead}"]
    ahead = "coatbench run --resume" if passed and has_run else clean(check["next_step"])
    lines.append(f"next: {ahead or f'coatbench check {name}'}")
    return passed, lines


def _typed(store: StoreReader, check_id: int) -> list[str]:
    """That nothing of a check came down a cable, where that is so."""
    found = store.one(
        "SELECT max(typed) FROM readings WHERE check_id = ? AND role = 'check'", (check_id,)
    )
    return [TYPED_WORDS] if found else []


def _implausible(store: StoreReader, check_id: int) -> list[str]:
    """What cannot well be true of the certificates that a check was held against."""
    found = [text for piece in Kept(store).of_check(check_id) for text in findings(piece)]
    return [f"NOT PLAUSIBLE: {clean(text)}" for text in found]


def _voids(store: StoreReader, check_id: int) -> list[str]:
    """The readings that a person took out of a check, which the report lists with it."""
    found = store.rows(
        "SELECT v.reading_id, v.reason FROM void AS v JOIN reading AS q ON q.id = v.reading_id "
        "WHERE q.check_id = ? AND q.role = 'check' ORDER BY q.id",
        (check_id,),
    )
    return [f"taken out by a person: reading {v[0]} ({clean(v[1])})" for v in found]


def _piece(p: sqlite3.Row) -> tuple[str, ...]:
    at = clean(channel_label(p["channel"]))
    outcome = _OUTCOMES[p["outcome"]]
    # A piece that could not be judged has no figures, and zeros would look like some.
    judged = float(p["expanded_uncertainty"]) > 0
    if not judged:
        return (clean(p["piece"]), at, "-", "-", "-", "-", figure(p["limit_"]), outcome)
    return (
        clean(p["piece"]),
        at,
        f"{float(p['mean']):.2f}",
        figure(p["certified"]),
        f"{float(p['deviation']):+.2f}",
        f"{float(p['expanded_uncertainty']):.2f}",
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
