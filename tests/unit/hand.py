"""A yard whose first meter has no port, and boards beside it: what is typed goes the whole way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from acquire.control.shapes import row_item
from acquire.driverapi import Driver
from acquire.errors import Refused
from acquire.link.typed import line_of
from acquire.live.board import Board
from acquire.live.feed import Denied, Done
from acquire.model import TYPED_BY_HAND, Batch, Chunk, Connected, LinkAddress
from acquire.schema import load_text
from acquire.settings import config_dir
from acquire.store.rows import NoiseRow, NoticeRow, ReadingRow, Row
from drivers.keyed import FAMILY
from tests.captures import profile
from tests.unit.seen import Seen
from tests.yard import Yard

PROFILE = "keyed-gloss-20"
METER = "shore"


class HandYard(Yard):
    """The meter shore is typed, twice an entry."""

    driver: Driver

    def open(self) -> None:
        first, *rest = self.bench.instruments
        typed = replace(
            first,
            driver="keyed",
            profile_name=PROFILE,
            profile=profile(PROFILE),
            profile_text=load_text(config_dir() / "profiles" / f"{PROFILE}.toml"),
            address=LinkAddress(typed=True),
        )
        self.bench = replace(self.bench, instruments=(typed, *rest))
        super().open()

    def plug(self, instrument: str = METER) -> list[Row]:
        """The daemon begins to take entries."""
        assert instrument == METER
        self.driver = FAMILY.driver(profile(PROFILE), PROFILE)
        self._connections[instrument] = self._connections.get(instrument, 0) + 1
        self._offsets[instrument] = 0
        connected = Connected(self.clock.now(), TYPED_BY_HAND, "")
        batch = Batch(instrument, self._connections[instrument], connected=connected)
        return self.store(self.desk.take_in(batch))

    def type(self, text: str) -> list[Row]:
        """One entry, once."""
        now, data = self.clock.now(), line_of(text)
        offset = self._offsets[METER]
        self._offsets[METER] = offset + len(data)
        facts = tuple(self.driver.feed(data, now))
        chunk = Chunk(offset, data, now)
        batch = Batch(METER, self._connections[METER], received=chunk, facts=facts)
        return self.store(self.desk.take_in(batch))

    def wait(self, seconds: float) -> list[Row]:
        """Time goes by, and the driver is asked, as a session does it."""
        self.clock.advance(seconds)
        now = self.clock.now()
        self.driver.due(now)
        facts = tuple(self.driver.feed(b"", now))
        return self.store(self.desk.take_in(Batch(METER, self._connections[METER], facts=facts)))

    def twice(self, *values: str) -> None:
        """Whole entries, each typed twice."""
        for value in values:
            for _ in range(2):
                self.clock.advance(1)
                self.type(value)

    def check(self, instrument: str = METER, tile: str = "93.2", trap: str = "0.0") -> None:
        self.act(lambda at: self.acts.checks.begin(instrument, at))
        self.twice(tile, tile, trap, trap)
        self.clock.advance(1)


class HandSeen(Seen):
    """Boards beside such a yard."""

    yard: HandYard

    def __init__(self, folder: Path) -> None:
        self.yard = HandYard(folder)
        self.boards: list[Board] = []
        self.takers: set[str] = set()

    def grant(self, board: Board, key_asks: Sequence[Any]) -> None:
        for ask in key_asks:
            if ask.call != "type":
                super().grant(board, [ask])
                continue
            assert ask.arguments["instrument"] == METER
            self.yard.clock.advance(1)
            try:
                rows = self.yard.type(ask.arguments["text"])
            except Refused as error:
                board.fold(Denied("type", error))
                continue
            self.hear(rows)
            fates = [row for row in rows if isinstance(row, ReadingRow | NoticeRow | NoiseRow)]
            board.fold(Done("type", {"rows": [row_item(row) for row in fates]}))
