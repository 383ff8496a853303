"""Instruments that measure no surface: wash counters and climate probes.

Their readings are kept with their bytes as loose ones, so that what is made of them goes back to
the cable; none ever comes before the gate, and none can get a place in a run. Runs on the desk's
thread.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal

from acquire.errors import CoatbenchError
from acquire.model import (
    STROKE,
    TOTAL,
    Batch,
    Chunk,
    Incident,
    IncidentKind,
    Instant,
    Noise,
    Notice,
    NoticeKind,
    ProbeSpec,
    Quantity,
    Reading,
    opened_words,
)
from acquire.pipeline.ids import Ids
from acquire.store import rows as r
from acquire.store.rows import Row
from acquire.store.worked import Worked
from acquire.trial.strokes import StrokeCount, Stroked
from acquire.units import normalise

WHY_LOOSE = {
    Quantity.STROKES: "a counter's word, which measures no surface",
    Quantity.CLIMATE: "of the room, which is no surface",
}


@dataclass(slots=True)
class Counting:
    """Strokes of a counter count as washes of these zones. `over` are those of the next wash."""

    trial: str
    zones: tuple[str, ...]
    strokes_per_wash: int = 1
    over: int = 0


@dataclass(slots=True)
class ProbeStanding:
    """One probe as the desk knows it now."""

    spec: ProbeSpec
    serial: str
    connection_id: int | None = None
    since: Instant | None = None
    message: str = "not connected yet"
    last: r.ReadingRow | None = None
    beside: r.ReadingRow | None = None
    """What the last answer told besides: of a climate probe the other half of the room."""
    strokes: StrokeCount = field(default_factory=StrokeCount)
    counting: Counting | None = None
    untold: str = ""
    """What did not fit when it was first heard again and nobody counted; told when it counts."""

    @property
    def connected(self) -> bool:
        return self.connection_id is not None

    @property
    def is_expected_device(self) -> bool:
        return self.serial == self.spec.serial


OnStrokes = Callable[[ProbeStanding, Stroked, r.ReadingRow, Instant], list[Row]]
OnClimate = Callable[[ProbeStanding, list[r.ReadingRow], Instant], list[Row]]


class Probes:
    """All probes of a bench. `on_strokes` and `on_climate` say what a reading amounts to."""

    def __init__(self, specs: tuple[ProbeSpec, ...], ids: Ids, worked: Worked) -> None:
        self._ids = ids
        self._worked = worked
        self.standings = {spec.id: ProbeStanding(spec, spec.serial) for spec in specs}
        self.on_strokes: OnStrokes = lambda *_: []
        self.on_climate: OnClimate = lambda *_: []

    def take_in(self, batch: Batch, sitting_id: int | None) -> list[Row]:
        """The rows that a batch of a probe amounts to, in order."""
        standing, ids = self.standings[batch.instrument], self._ids
        rows: list[Row] = []
        if batch.connected is not None:
            rows.append(self._connected(standing, batch))
        if batch.gap is not None:
            gap = batch.gap
            rows.append(
                r.GapRow(
                    ids.take(r.GapRow), gap.instrument, gap.since.utc_ns, gap.until.utc_ns,
                    gap.lost_bytes,
                )
            )  # fmt: skip
            standing.strokes.left()
        connection_id = standing.connection_id
        if connection_id is not None:
            rows += tape_rows(ids, connection_id, batch)
            of_room: list[r.ReadingRow] = []
            for fact in batch.facts:
                if isinstance(fact, Reading):
                    row = self._reading(standing, connection_id, fact, sitting_id)
                    rows.append(row)
                    if isinstance(row, r.ReadingRow):
                        rows += self._meaning(standing, fact, row, of_room)
                elif isinstance(fact, Noise):
                    rows.append(noise_row(ids, connection_id, fact, fact.reason))
                elif isinstance(fact, Notice):
                    rows += self._notice(standing, connection_id, fact)
            if of_room:
                # Temperature and humidity come together; what a silence ended comes without bytes.
                last = Instant(of_room[-1].at_utc_ns, of_room[-1].at_mono_ns)
                at = last if batch.received is None else batch.received.at
                rows += self.on_climate(standing, of_room, at)
        for incident in batch.incidents:
            if incident.kind is not IncidentKind.LINK_SHARED:
                standing.message = incident.message
            rows.append(self.incident(incident))
        if batch.disconnected is not None and connection_id is not None:
            standing.connection_id = None
            standing.message = batch.disconnected.message
            standing.strokes.left()
            rows.append(
                r.DisconnectionRow(
                    ids.take(r.DisconnectionRow), batch.disconnected.at.utc_ns, connection_id,
                    batch.disconnected.message, ids.last(r.TapeRow),
                )
            )  # fmt: skip
        return rows

    def incident(self, incident: Incident) -> r.IncidentRow:
        """A trouble as a row."""
        return r.IncidentRow(
            self._ids.take(r.IncidentRow), incident.at.utc_ns, incident.instrument,
            incident.kind.value, incident.message,
        )  # fmt: skip

    def _connected(self, standing: ProbeStanding, batch: Batch) -> r.ConnectionRow:
        connected = batch.connected
        assert connected is not None
        standing.connection_id = self._ids.take(r.ConnectionRow)
        standing.since = connected.at
        standing.serial = standing.spec.serial
        standing.message = opened_words(connected.where)
        return r.ConnectionRow(
            standing.connection_id, connected.at.utc_ns, connected.at.mono_ns, standing.spec.id,
            connected.where, connected.adapter, self._ids.last(r.TapeRow),
        )  # fmt: skip

    def _notice(self, standing: ProbeStanding, connection_id: int, notice: Notice) -> list[Row]:
        name = standing.spec.id
        rows: list[Row] = [
            r.NoticeRow(
                self._ids.take(r.NoticeRow), connection_id, name, notice.at.utc_ns,
                notice.kind.value, notice.text, notice.raw, notice.start, notice.end,
                standing.serial, self._ids.last(r.ReadingRow),
            )
        ]  # fmt: skip
        if notice.kind is NoticeKind.POWER_UP:
            standing.strokes.left()
        named = notice.kind in (NoticeKind.POWER_UP, NoticeKind.IDENTITY) and notice.text
        if named and notice.text != standing.serial:
            standing.serial = notice.text
            standing.strokes = StrokeCount(was_away=True)
            if not standing.is_expected_device:
                message = (
                    f"{name}: serial {notice.text} answers, wanted {standing.spec.serial}; what "
                    f"it tells is not used. Next: plug in {standing.spec.serial}, or change the "
                    "serial in bench.toml"
                )
                standing.message = message
                told = Incident(name, IncidentKind.OTHER_SERIAL, notice.at, message)
                rows.append(self.incident(told))
        return rows

    def _reading(
        self, standing: ProbeStanding, connection_id: int, reading: Reading, sitting_id: int | None
    ) -> r.ReadingRow | r.NoiseRow:
        spec, flags = standing.spec, reading.flags
        try:
            value, unit = normalise(reading.value or Decimal(0), reading.unit, reading.quantity)
        except CoatbenchError as error:
            noise = Noise(reading.at, reading.raw, reading.start, reading.end, str(error))
            return noise_row(self._ids, connection_id, noise, noise.reason)
        digits = None if reading.value is None else str(value)
        why = ", ".join(sorted(flags)) or WHY_LOOSE[spec.kind]
        if not standing.is_expected_device:
            why = f"serial {standing.serial} answers where {spec.serial} is expected"
        row = r.ReadingRow(
            self._ids.take(r.ReadingRow), connection_id, spec.id, standing.serial,
            reading.at.utc_ns, reading.at.mono_ns, reading.quantity.value, reading.channel,
            reading.text, reading.unit, digits, None if digits is None else float(digits), unit,
            reading.press, ",".join(sorted(flags)), reading.raw, reading.start, reading.end,
            "loose", sitting_id, None, None, None, None, None, 0, None, why,
        )  # fmt: skip
        last = standing.last
        is_one = (
            last is not None
            and last.channel != row.channel
            and (last.connection_id, last.at_utc_ns) == (row.connection_id, row.at_utc_ns)
        )
        standing.beside, standing.last = last if is_one else None, row
        return row

    def _meaning(
        self,
        standing: ProbeStanding,
        reading: Reading,
        row: r.ReadingRow,
        of_room: list[r.ReadingRow],
    ) -> list[Row]:
        """What a reading comes to; those of the room are collected and come to it together."""
        if not standing.is_expected_device or row.value is None:
            return []
        if standing.spec.kind is Quantity.STROKES:
            is_first = not standing.strokes.is_recalled
            if is_first:
                self._recall(standing)
            told = _strokes(standing.strokes, reading, Decimal(row.value))
            if is_first and standing.counting is None:
                standing.untold = told.trouble
            return self.on_strokes(standing, told, row, reading.at)
        if not reading.flags:
            of_room.append(row)
        return []

    def _recall(self, standing: ProbeStanding) -> None:
        """Take up a counter where the store has it: it may have been stroked unheard since."""
        name, serial = standing.spec.id, standing.serial
        press, _ = self._worked.last_stroke(name, serial, STROKE)
        _, total = self._worked.last_stroke(name, serial, TOTAL)
        standing.strokes.recall(press, _whole(total))


def _whole(text: str | None) -> int | None:
    """A count as stored; None where it was told none, or what is no count."""
    value = Decimal(text or "-1")
    return int(value) if value >= 0 and value == value.to_integral_value() else None


def _strokes(counter: StrokeCount, reading: Reading, value: Decimal) -> Stroked:
    if reading.channel == STROKE:
        return counter.told_stroke(reading.press, reading.flags)
    if value != value.to_integral_value() or value < 0:
        return Stroked(0, f"it told {value} as its count, which is no count")
    return counter.told_total(int(value))


def tape_rows(ids: Ids, connection_id: int, batch: Batch) -> list[Row]:
    """The bytes of a batch, both directions."""
    rows: list[Row] = []
    if batch.sent is not None:
        rows.append(_tape_row(ids, connection_id, "sent", batch.sent))
    if batch.received is not None:
        rows.append(_tape_row(ids, connection_id, "received", batch.received))
    return rows


def _tape_row(ids: Ids, connection_id: int, direction: str, chunk: Chunk) -> r.TapeRow:
    offset, data, (utc_ns, mono_ns) = chunk
    return r.TapeRow(ids.take(r.TapeRow), connection_id, direction, offset, utc_ns, mono_ns, data)


def noise_row(ids: Ids, connection_id: int, noise: Noise, reason: str) -> r.NoiseRow:
    """Bytes that are no reading, as a row."""
    return r.NoiseRow(
        ids.take(r.NoiseRow), connection_id, noise.at.utc_ns, noise.raw, noise.start, noise.end,
        reason,
    )  # fmt: skip
