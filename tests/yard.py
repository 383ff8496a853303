"""A small bench and trial for tests, with the desk on a real store, driven without threads."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path

from acquire.clock import ManualClock
from acquire.driverapi.stretches import raw_of
from acquire.errors import CoatbenchError
from acquire.model import (
    Batch,
    Bench,
    Certificate,
    CheckPolicy,
    Chunk,
    Connected,
    Disconnected,
    Fact,
    Flag,
    Gap,
    InstrumentSpec,
    LinkAddress,
    Notice,
    NoticeKind,
    Piece,
    PieceKind,
    PieceRule,
    Quantity,
    Reading,
)
from acquire.pipeline.acts import Acts
from acquire.pipeline.desk import Desk
from acquire.pipeline.ids import Ids
from acquire.pipeline.opening import open_desk
from acquire.pipeline.recorder import Act
from acquire.pipeline.told_time import ToldTime
from acquire.settings import parse_plan
from acquire.store import StoreWriter
from acquire.store.rows import Row
from acquire.store.shelf import Shelf

TRIAL = """
[trial]
id = "gelcoat"
title = "Protectants on dark gelcoat"
stages = ["bare", "cured"]

[panel]
name = "Panel 1"
material = "dark gelcoat"

[[treatment]]
id = "none"
name = "untreated"
control = true

[[treatment]]
id = "brine"
name = "Brine Shield"

[[zone]]
id = "A1"
treatment = "none"

[[zone]]
id = "A2"
treatment = "brine"

[[measure]]
id = "gloss20"
quantity = "gloss"
geometry = 20
replicates = 2
order = "interleaved"
"""


def pieces(
    due: date = date(2030, 1, 31), tile: str = "93.2", issued: date = date(2026, 1, 31)
) -> tuple[Piece, ...]:
    """A high tile of 93.2 GU and a trap of 0.0 GU, both at 20 degrees."""

    def one(name: str, kind: PieceKind, value: str, expanded: str) -> Piece:
        certificate = Certificate(
            name,
            Quantity.GLOSS,
            "20",
            Decimal(value),
            "gloss_unit",
            Decimal(expanded),
            Decimal(2),
            issued,
            due,
            "Harbour Metrology",
        )
        return Piece(name, kind, (certificate,))

    return (
        one("T1", PieceKind.GLOSS_TILE, tile, "0.3"),
        one("Z0", PieceKind.BLACK_TRAP, "0.0", "0.05"),
    )


def policy(valid_for_s: float = 3600.0) -> CheckPolicy:
    return CheckPolicy(
        "gloss-20",
        Quantity.GLOSS,
        ("20",),
        "gloss_unit",
        Decimal("0.1"),
        (
            PieceRule("T1", 2, Decimal("1.0"), Decimal("0.4")),
            PieceRule("Z0", 2, Decimal("0.3"), Decimal("0.2")),
        ),
        valid_for_s,
    )


def spec(name: str, serial: str, valid_for_s: float = 3600.0) -> InstrumentSpec:
    return InstrumentSpec(
        name,
        Quantity.GLOSS,
        serial,
        "line",
        "gloss-press",
        {},
        "",
        LinkAddress(port=f"/dev/{name}"),
        policy(valid_for_s),
    )


def bench(
    store: Path,
    due: date = date(2030, 1, 31),
    valid_for_s: float = 3600.0,
    issued: date = date(2026, 1, 31),
) -> Bench:
    """Two gloss meters, shore and deck."""
    return Bench(
        "boatyard",
        store,
        "127.0.0.1",
        0,
        (spec("shore", "SH-0417", valid_for_s), spec("deck", "DK-2205", valid_for_s)),
        pieces(due, issued=issued),
    )


class Yard:
    """The desk of a bench over a real store: give it facts and acts, look at what is stored."""

    def __init__(self, folder: Path, clock: ManualClock | None = None, **options: object) -> None:
        self.clock = clock or ManualClock()
        self.bench = bench(folder / "bench.sqlite", **options)  # type: ignore[arg-type]
        self._offsets: dict[str, int] = {}
        self._connections: dict[str, int] = {}
        self.refused_last: list[Row] = []
        self.open()

    def open(self) -> None:
        """Start as a daemon does."""
        self.writer = StoreWriter(self.bench.store)
        self.shelf = Shelf(self.writer)
        self.desk = self.make_desk()
        self.acts = Acts(self.desk)
        self.store(open_desk(self.desk, self.clock.now()))

    def make_desk(self) -> Desk:
        return Desk(self.bench, self.shelf, Ids(self.writer.next_ids()))

    def close(self) -> None:
        self.writer.close()

    def restart(self) -> None:
        """As after SIGKILL: what is not in the file is gone."""
        self.close()
        self.open()

    def store(self, rows: Sequence[Row]) -> list[Row]:
        self.writer.append(rows)
        self.writer.append(self.desk.settle(self.clock.now()))
        return list(rows)

    def take_in(self, instrument: str, *facts: Fact, gap: Gap | None = None) -> list[Row]:
        """Facts of an instrument, as one batch with its bytes."""
        raw = b"".join(map(raw_of, facts))
        offset = self._offsets.get(instrument, 0)
        self._offsets[instrument] = offset + len(raw)
        return self.store(
            self.desk.take_in(
                Batch(
                    instrument,
                    self._connections.get(instrument, 0),
                    received=Chunk(offset, raw, self.clock.now()),
                    facts=facts,
                    gap=gap,
                )
            )
        )

    def plug(self, instrument: str) -> list[Row]:
        self._connections[instrument] = self._connections.get(instrument, 0) + 1
        self._offsets[instrument] = 0
        return self.store(
            self.desk.take_in(
                Batch(
                    instrument,
                    self._connections[instrument],
                    connected=Connected(self.clock.now(), f"/dev/{instrument}", ""),
                )
            )
        )

    def unplug(self, instrument: str, message: str = "") -> list[Row]:
        return self.store(
            self.desk.take_in(
                Batch(
                    instrument,
                    self._connections.get(instrument, 0),
                    disconnected=Disconnected(self.clock.now(), message or f"{instrument} is gone"),
                )
            )
        )

    def press(
        self,
        instrument: str,
        value: str | None,
        *,
        count: int | None = None,
        channel: str = "20",
        flags: frozenset[Flag] = frozenset(),
        gap: Gap | None = None,
    ) -> list[Row]:
        """A reading arrives."""
        raw = f"{channel} {value}\r\n".encode()
        offset = self._offsets.get(instrument, 0)
        return self.take_in(
            instrument,
            Reading(
                Quantity.GLOSS,
                channel,
                None if value is None else Decimal(value),
                "gloss_unit",
                value or "----",
                self.clock.now(),
                raw,
                offset,
                offset + len(raw),
                count,
                flags,
            ),
            gap=gap,
        )

    def tell(self, instrument: str, kind: NoticeKind, text: str = "") -> list[Row]:
        """The device tells of itself."""
        raw = f"{kind} {text}\r\n".encode()
        offset = self._offsets.get(instrument, 0)
        return self.take_in(
            instrument, Notice(kind, self.clock.now(), raw, offset, offset + len(raw), text)
        )

    def set_back(self, seconds: float) -> None:
        """The clock is set back, and a check begins all the same: as an earlier daemon let it."""
        self.clock.jump(-seconds)
        self.tick()
        self.trust_clock()

    def trust_clock(self) -> None:
        """Forget the latest time that a clock told, which holds a check off."""
        self.desk.keeper.told = ToldTime()

    def tick(self) -> list[Row]:
        return self.store(self.desk.keeper.tick(self.clock.now()))

    def act(self, act: Act) -> dict[str, object]:
        """What a person asks for; raises what the act raises."""
        now = self.clock.now()
        self.store(self.desk.keeper.tick(now))
        try:
            reply, rows = act(now)
        except CoatbenchError:
            self.refused_last = self.store(self.desk.refusals.take())
            raise
        self.store(rows)
        return reply

    def check(self, instrument: str, tile: str = "93.2", trap: str = "0.0") -> None:
        """A whole check, with these readings on the two pieces."""
        self.act(lambda at: self.acts.checks.begin(instrument, at))
        for value in (tile, tile, trap, trap):
            self.clock.advance(1)
            self.press(instrument, value)
        self.clock.advance(1)

    def begin(self, stage: str = "bare", instrument: str = "shore", text: str = TRIAL) -> None:
        plan = parse_plan(text, "trial.toml")
        self.act(lambda at: self.acts.runs.begin(plan, None, stage, instrument, at))

    def readings(self, where: str = "1 = 1") -> list[dict[str, object]]:
        """Rows of the readings view."""
        return [
            dict(row)
            for row in self.writer.query(
                f"SELECT * FROM readings WHERE {where} ORDER BY reading_id"
            )
        ]
