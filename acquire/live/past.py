"""What a screen must know of the time before it was opened.

Reads the store; never writes. Any thread, with a reader of its own.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import tzinfo
from typing import Any

from acquire.control.shapes import stored_item
from acquire.live.board import Board
from acquire.live.checkboard import CheckBoard, Step
from acquire.live.feed import Told
from acquire.live.made_suspect import by_adjusting, by_check
from acquire.live.places import Places
from acquire.live.runboard import RunBoard
from acquire.live.story import Story
from acquire.live.telling import TOLD_TABLES
from acquire.live.tone import Tone
from acquire.model import TYPED_BY_HAND, NoticeKind, arrange, iso_utc
from acquire.settings import parse_plan
from acquire.store.reader import StoreReader

_MAKERS = (("check_judgement", "check_id"), ("notice", "id"))
"""What makes readings suspect, and the column of its number."""
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
        for told in _suspects_by(store, item):
            board.story.add(iso_utc(item["at_utc_ns"]), _meter(store, item), told, Tone.TROUBLE)
    board.know_suspects(
        *(store.one(f"SELECT max({number}) FROM {table}") or 0 for table, number in _MAKERS)  # noqa: S608
    )


def _moment(item: dict[str, Any]) -> int:
    return int(item["until_utc_ns"] if item["table"] == "gap" else item["at_utc_ns"])


def _suspects_by(store: StoreReader, item: dict[str, Any]) -> list[str]:
    """What this made suspect at its moment."""
    if item["table"] == "check_judgement":
        return by_check(store, item["check_id"])
    if item["table"] == "notice" and item["kind"] == NoticeKind.ADJUSTED:
        return by_adjusting(store, item["id"])
    return []


def _meter(store: StoreReader, item: dict[str, Any]) -> str:
    if item["table"] == "notice":
        return str(item["instrument"])
    return str(store.one("SELECT instrument FROM check_begin WHERE id = ?", (item["check_id"],)))


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
