"""The recorder: commit, then show; stop when nothing can be written."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.clock import ManualClock
from acquire.errors import CoatbenchError, Refused, StoreUnwritable
from acquire.model import Batch, Chunk, Connected, Instant, Quantity, Reading
from acquire.pipeline.acts import Acts
from acquire.pipeline.asking import Answer, sit_down
from acquire.pipeline.desk import Desk
from acquire.pipeline.ids import Ids
from acquire.pipeline.recorder import Recorder
from acquire.settings import parse_plan
from acquire.store import StoreWriter
from acquire.store import rows as r
from acquire.store.rows import Row
from acquire.store.shelf import Shelf
from acquire.supervise import Scope
from tests.patience import PATIENCE_S
from tests.yard import TRIAL, bench


class Bureau:
    """A recorder on a real store, with what it published and why it stopped."""

    def __init__(self, folder: Path, lane_limit: int = 16_384) -> None:
        self.clock = ManualClock()
        self.writer = StoreWriter(folder / "s.sqlite")
        desk = Desk(bench(folder / "s.sqlite"), Shelf(self.writer), Ids(self.writer.next_ids()))
        self.desk = desk
        self.acts = Acts(desk)
        self.published: list[Row] = []
        self.on_disk_when_published: list[int] = []
        self.stopped: list[CoatbenchError] = []
        self.recorder = Recorder(
            desk, self.writer, self.clock, self._publish, self.stopped.append, lane_limit
        )
        self.recorder.open()

    def _publish(self, rows: Sequence[Row]) -> None:
        self.published += rows
        self.on_disk_when_published.append(self.writer.query("SELECT count(*) FROM reading")[0][0])

    def batch(self, *values: str, connected: bool = False) -> Batch:
        now = self.clock.now()
        raw = [f"{value}\r\n".encode() for value in values]
        facts, start = [], 0
        for value, data in zip(values, raw, strict=True):
            facts.append(
                Reading(
                    Quantity.GLOSS, "20", Decimal(value), "gloss_unit", value, now, data,
                    start, start + len(data),
                )
            )  # fmt: skip
            start += len(data)
        return Batch(
            "shore",
            1,
            connected=Connected(now, "/dev/shore", "") if connected else None,
            received=Chunk(0, b"".join(raw), now),
            facts=tuple(facts),
        )

    def close(self) -> None:
        self.writer.close()


@pytest.fixture
def bureau(tmp_path: Path) -> Bureau:
    return Bureau(tmp_path)


def test_rows_are_on_disk_before_they_are_published(bureau: Bureau) -> None:
    bureau.recorder.put(bureau.batch("80.1", connected=True), 0)
    bureau.recorder.step(0)
    assert bureau.on_disk_when_published[-1] == 1
    bureau.close()


def test_what_is_waiting_goes_in_together_and_a_lone_reading_at_once(bureau: Bureau) -> None:
    bureau.recorder.put(bureau.batch("80.0", connected=True), 0)
    bureau.recorder.step(0)
    groups = len(bureau.on_disk_when_published)
    for value in ("80.1", "80.2", "80.3"):
        bureau.recorder.put(bureau.batch(value), 0)
    bureau.recorder.step(0)
    assert bureau.on_disk_when_published[groups:] == [4]
    bureau.recorder.put(bureau.batch("80.4"), 0)
    bureau.recorder.step(0)
    assert bureau.on_disk_when_published[groups:] == [4, 5]
    bureau.close()


def test_a_full_lane_refuses_after_its_deadline(tmp_path: Path) -> None:
    bureau = Bureau(tmp_path, lane_limit=4)
    assert bureau.recorder.put(bureau.batch("80.1"), 0.01)
    assert bureau.recorder.put(bureau.batch("80.2"), 0.01)
    assert not bureau.recorder.put(bureau.batch("80.3"), 0.01)
    bureau.close()


def test_a_call_sees_everything_before_it_and_is_answered_when_its_rows_are_on_disk(
    bureau: Bureau,
) -> None:
    with ThreadPoolExecutor(1) as pool:
        bureau.recorder.put(bureau.batch("80.1", connected=True), 0)
        answer = pool.submit(
            bureau.recorder.ask, lambda at: bureau.acts.note("sun on the bench", "", "", at)
        )
        while not answer.done():
            bureau.recorder.step(0.05)
        assert answer.result() == {"note_id": 1}
    assert isinstance(bureau.published[-1], r.NoteRow)
    assert bureau.writer.query("SELECT text FROM note")[0][0] == "sun on the bench"
    bureau.close()


def test_a_refused_call_stores_nothing_and_the_recorder_goes_on(bureau: Bureau) -> None:
    with ThreadPoolExecutor(1) as pool:
        answer = pool.submit(bureau.recorder.ask, lambda at: bureau.acts.checks.begin("shore", at))
        while not answer.done():
            bureau.recorder.step(0.05)
        with pytest.raises(Refused, match="not connected"):
            answer.result()
    assert bureau.recorder.step(0)
    assert not bureau.stopped
    bureau.close()


def test_a_call_that_was_given_up_is_not_carried_out_later(bureau: Bureau) -> None:
    with pytest.raises(TimeoutError):
        bureau.recorder.ask(lambda at: bureau.acts.note("too late", "", "", at), 0.01)
    bureau.recorder.step(0)
    assert bureau.writer.query("SELECT count(*) FROM note")[0][0] == 0
    bureau.close()


def test_when_nothing_can_be_written_nothing_is_published_and_everything_stops(
    bureau: Bureau,
) -> None:
    with Scope(lambda name, error: None) as scope:
        scope.start("recorder", bureau.recorder.run)
        bureau.recorder.put(bureau.batch("80.1", connected=True), 1)
        bureau.recorder.ask(lambda at: bureau.acts.note("before", "", "", at))
        published = len(bureau.published)
        pages = bureau.writer.query("PRAGMA page_count")[0][0]
        bureau.writer.db.conn.execute(f"PRAGMA max_page_count = {pages}")
        bureau.recorder.put(bureau.batch(*["80.2"] * 5000), 1)
        with pytest.raises(StoreUnwritable, match="full"):
            bureau.recorder.ask(lambda at: bureau.acts.note("after", "", "", at))
    assert len(bureau.published) == published
    assert len(bureau.stopped) == 1
    assert not bureau.recorder.put(bureau.batch("80.3"), 0)
    with pytest.raises(StoreUnwritable):
        bureau.recorder.ask(bureau.acts.status)
    bureau.close()


def test_it_ends_after_what_is_waiting_has_been_recorded(bureau: Bureau) -> None:
    bureau.recorder.put(bureau.batch("80.1", "80.2", connected=True), 0)
    bureau.recorder.stop()
    ended = threading.Event()
    with Scope(lambda name, error: None) as scope:
        scope.start("recorder", lambda: (bureau.recorder.run(), ended.set()))
    assert ended.is_set()
    assert bureau.writer.query("SELECT count(*) FROM reading")[0][0] == 2
    bureau.close()


@pytest.mark.parametrize("error", [Refused("no", reason="r"), ZeroDivisionError()])
def test_a_sitting_that_a_failed_call_had_opened_is_none(tmp_path: Path, error: Exception) -> None:
    bureau = Bureau(tmp_path)
    bureau.recorder.put(bureau.batch(connected=True), 0)
    bureau.recorder.step(0)

    def fails(at: Instant) -> Answer:
        sit_down(bureau.desk, at)
        raise error

    with ThreadPoolExecutor(1) as pool:
        asked = pool.submit(bureau.recorder.ask, fails)
        bureau.recorder.step(PATIENCE_S)
        with pytest.raises(Refused):
            asked.result()
        # Another one opens it, and is stored with it.
        asked = pool.submit(bureau.recorder.ask, lambda at: bureau.acts.checks.begin("shore", at))
        bureau.recorder.step(PATIENCE_S)
        assert asked.result()["sitting_id"] is not None
    bureau.close()


def test_a_run_that_the_gate_refuses_is_on_disk_before_the_caller_hears_of_it(
    bureau: Bureau,
) -> None:
    plan = parse_plan(TRIAL, "trial.toml")
    with ThreadPoolExecutor(1) as pool:
        call = pool.submit(
            bureau.recorder.ask,
            lambda at: bureau.acts.runs.begin(plan, None, "bare", "shore", at),
        )
        while not call.done():
            bureau.recorder.step(0.01)
        with pytest.raises(Refused):
            call.result()
    (row,) = bureau.writer.query("SELECT * FROM incident")
    assert (row["kind"], row["instrument"]) == ("run refused", "shore")
    assert [one.kind for one in bureau.published if isinstance(one, r.IncidentRow)] == [
        "run refused"
    ]
    bureau.close()
