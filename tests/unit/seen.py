"""Boards beside a yard: what the yard stores and how it stands is what the boards hear."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import UTC
from pathlib import Path
from typing import Any

from rich.console import Console

from acquire.control.shapes import row_item
from acquire.errors import Misuse
from acquire.live.board import Board
from acquire.live.feed import Denied, Done, Heard, Stood, Told
from acquire.live.past import check_board, places_of, story_of
from acquire.live.runboard import RunBoard
from acquire.live.screen import Screen
from acquire.live.story import Happening
from acquire.live.watchscreen import WatchBoard
from acquire.store import StoreReader
from acquire.store.rows import Row
from tests.yard import Yard


class Seen:
    """A yard whose rows and status reach the boards at once; hours are in UTC."""

    def __init__(self, folder: Path, **options: object) -> None:
        self.yard = Yard(folder, **options)  # type: ignore[arg-type]
        self.boards: list[Board] = []
        self.takers: set[str] = set()
        """Meters that can be asked for a reading, which the daemon knows from their sessions."""

    def close(self) -> None:
        self.yard.close()

    def hear(self, rows: Sequence[Row]) -> list[Happening]:
        """Rows were stored: every board hears of them; gives the happenings of the last board."""
        told: list[Happening] = []
        for board in self.boards:
            heard: list[Heard] = [Told(row_item(row)) for row in rows]
            heard.append(Stood(self.status()))
            told = [h for h in map(board.fold, heard) if h is not None]
        return told

    def press(self, *values: str) -> None:
        """The meter of the yard is pressed, a second after the last time."""
        for value in values:
            self.yard.clock.advance(1)
            self.hear(self.yard.press("shore", value))

    def status(self) -> dict[str, Any]:
        found: dict[str, Any] = self.yard.acts.status(self.yard.clock.now()).reply
        for own in found["instruments"]:
            own["can_take"] = own["id"] in self.takers and own["connected"]
        return found

    def grant(self, board: Board, key_asks: Sequence[Any]) -> None:
        """Do at the desk what a board asked for, and let all boards hear of it."""
        from acquire.control.calls import act_of

        for ask in key_asks:
            now = self.yard.clock.now()
            try:
                reply, rows = act_of(self.yard.acts, ask.call, ask.arguments)(now)
            except Misuse as error:
                board.fold(Denied(ask.call, error))
                continue
            self.hear(self.yard.store(rows))
            board.fold(Done(ask.call, reply))

    def press_keys(self, board: Board, *keys: str) -> None:
        """Keys are pressed; a longer string is typed letter by letter."""
        for key in keys:
            named = key in ("enter", "escape", "backspace")
            for one in [key] if named else list(key):
                self.grant(board, board.press(one))

    def run_board(self) -> RunBoard:
        assert self.yard.desk.run is not None
        run = self.yard.desk.run
        with StoreReader(self.yard.bench.store) as store:
            board = RunBoard(
                story_of(store, UTC),
                run_id=run.id,
                meter=run.instrument,
                places=places_of(store, run.id),
            )
        self.boards.append(board)
        self.hear([])
        return board

    def check_board(self, check_id: int = 1) -> Any:
        with StoreReader(self.yard.bench.store) as store:
            board = check_board(store, check_id, UTC)
        self.boards.append(board)
        self.hear([])
        return board

    def watch_board(self) -> WatchBoard:
        with StoreReader(self.yard.bench.store) as store:
            board = WatchBoard(story_of(store, UTC))
        self.boards.append(board)
        self.hear([])
        return board


def drawn(screen: Screen, width: int = 80, height: int = 24) -> list[str]:
    """The lines of a screen as a console without colour prints them."""
    console = Console(
        width=width, height=height, color_system=None, record=True, file=io.StringIO()
    )
    console.print(screen)
    return console.export_text().split("\n")
