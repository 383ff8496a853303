"""A press belongs where it was made, though its reading comes later and a person went on meanwhile.

A meter that tells its name late, or whose press is known at a silence, hands its reading over some
time after it.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from acquire.clock import ManualClock
from acquire.model import Batch, Chunk, Connected, Instant, Notice, NoticeKind, Quantity, Reading
from acquire.pipeline.acts import Acts
from acquire.pipeline.asking import Answer
from acquire.pipeline.desk import Desk
from acquire.pipeline.ids import Ids
from acquire.pipeline.recorder import Recorder
from acquire.settings import parse_plan
from acquire.store import StoreWriter
from acquire.store.shelf import Shelf
from tests.yard import TRIAL, bench


class Sitting:
    """A recorder on a real store with one meter: act, press, hand readings over."""

    def __init__(self, folder: Path) -> None:
        self.clock = ManualClock()
        self.writer = StoreWriter(folder / "s.sqlite")
        desk = Desk(bench(folder / "s.sqlite"), Shelf(self.writer), Ids(self.writer.next_ids()))
        self.acts = Acts(desk)
        self.recorder = Recorder(desk, self.writer, self.clock, lambda _: None, lambda _: None)
        self.recorder.open()
        self._place = 0
        self._hand_over(connected=Connected(self.clock.now(), "/dev/shore", ""))

    def act(self, act: Callable[[Instant], Answer]) -> dict[str, object]:
        self.clock.advance(1)
        with ThreadPoolExecutor(1) as pool:
            asked = pool.submit(self.recorder.ask, act)
            while not asked.done():
                self.recorder.step(0.05)
            return asked.result()

    def read(self, value: str, pressed: Instant | None = None) -> dict[str, Any]:
        """A reading comes now; of a press of now, or of an earlier one."""
        if pressed is None:
            pressed = self.clock.advance(1)
        raw = f"{value}\r\n".encode()
        start, self._place = self._place, self._place + len(raw)
        reading = Reading(
            Quantity.GLOSS, "20", Decimal(value), "gloss_unit", value, pressed, raw, start,
            self._place,
        )  # fmt: skip
        self._hand_over(received=Chunk(start, raw, pressed), facts=(reading,))
        rows = self.writer.query(
            "SELECT role, zone, piece, loose_reason AS why, text FROM reading"
            " ORDER BY id DESC LIMIT 1"
        )
        return dict(rows[0])

    def type_first(self, value: str) -> None:
        """The first of two entries; `read` is what its second makes."""
        at, raw = self.clock.advance(1), f"{value}\n".encode()
        start, self._place = self._place, self._place + len(raw)
        told = Notice(NoticeKind.TYPED_ONCE, at, raw, start, self._place, value)
        self._hand_over(received=Chunk(start, raw, at), facts=(told,))

    def check(self) -> None:
        self.act(lambda at: self.acts.checks.begin("shore", at))
        for value in ("93.2", "93.2", "0.0", "0.0"):
            assert self.read(value)["role"] == "check"

    def begin_run(self) -> None:
        plan = parse_plan(TRIAL, "trial.toml")
        self.act(lambda at: self.acts.runs.begin(plan, None, "bare", "shore", at))

    def _hand_over(self, **what: Any) -> None:
        assert self.recorder.put(Batch("shore", 1, **what), 0)
        self.recorder.step(0)


@pytest.fixture
def sitting(tmp_path: Path) -> Any:
    sitting = Sitting(tmp_path)
    sitting.check()
    yield sitting
    sitting.writer.close()


def test_a_press_of_before_the_hand_went_on_fills_no_other_zone(sitting: Sitting) -> None:
    sitting.begin_run()
    pressed = sitting.clock.advance(1)
    sitting.act(sitting.acts.runs.skip)
    late = sitting.read("80.1", pressed)
    assert (late["role"], late["text"]) == ("loose", "80.1")
    assert "pressed before" in late["why"]
    assert sitting.read("80.2")["zone"] == "A2"


def test_a_press_of_before_a_check_is_none_of_its_piece(sitting: Sitting) -> None:
    sitting.begin_run()
    pressed = sitting.clock.advance(1)
    sitting.act(lambda at: sitting.acts.checks.begin("shore", at))
    assert sitting.read("80.1", pressed)["role"] == "loose"
    assert sitting.read("93.2")["piece"] == "T1"


def test_an_entry_that_was_typed_first_before_a_check_fills_no_place_of_it(
    sitting: Sitting,
) -> None:
    sitting.type_first("93.2")
    sitting.act(lambda at: sitting.acts.checks.begin("shore", at))
    late = sitting.read("93.2")
    assert late["role"] == "loose"
    assert late["why"] == (
        "it was typed for the first time before a check or a run was begun, ended or moved on by "
        "hand; look at the display and type it twice"
    )
    sitting.type_first("93.2")
    assert sitting.read("93.2")["piece"] == "T1"


def test_an_entry_that_was_typed_first_before_the_hand_went_on_fills_no_other_zone(
    sitting: Sitting,
) -> None:
    sitting.begin_run()
    sitting.type_first("80.1")
    sitting.act(sitting.acts.runs.skip)
    assert sitting.read("80.1")["role"] == "loose"
    sitting.type_first("80.2")
    assert sitting.read("80.2")["zone"] == "A2"


def test_a_press_of_before_a_run_is_none_of_it(sitting: Sitting) -> None:
    pressed = sitting.clock.advance(1)
    sitting.begin_run()
    assert sitting.read("80.1", pressed)["role"] == "loose"
    assert (sitting.read("80.2")["role"], sitting.read("80.3")["zone"]) == ("run", "A2")


def test_a_late_reading_fills_its_place_where_nobody_went_on(sitting: Sitting) -> None:
    sitting.begin_run()
    pressed = sitting.clock.advance(1)
    # Whatever else is asked meanwhile moves nothing.
    sitting.act(sitting.acts.status)
    assert sitting.read("80.1", pressed)["zone"] == "A1"
