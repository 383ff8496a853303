"""How a hand moves among the places of a run is kept: a restart goes on where it stood."""

from __future__ import annotations

import random
from contextlib import suppress
from pathlib import Path
from typing import cast

import pytest

from acquire.errors import Refused
from acquire.model import Target
from acquire.pipeline.course import Course, Filling
from tests.two_angles import TWO_ANGLES, TwoAngleYard
from tests.yard import Yard


@pytest.fixture
def yard(yard: Yard) -> Yard:
    yard.check("shore")
    yard.begin()
    return yard


def go_on(yard: Yard) -> None:
    """The daemon ends as it stands, and starts; the run goes on under a fresh check."""
    yard.restart()
    yard.plug("shore")
    yard.check("shore")
    yard.act(yard.acts.runs.resume)


def places(yard: Yard) -> dict[str, str]:
    reply = yard.act(lambda _: yard.acts.runs.targets(None, None, None))
    told = cast(list[dict[str, object]], reply["targets"])
    return {f"{place['zone']} {place['replicate']}": str(place["state"]) for place in told}


def test_a_place_that_was_skipped_is_still_skipped_after_a_restart(yard: Yard) -> None:
    yard.act(yard.acts.runs.skip)
    yard.press("shore", "81.2")
    before = places(yard)
    assert before == {"A1 1": "skipped", "A2 1": "filled", "A1 2": "next", "A2 2": "open"}
    yard.restart()
    yard.plug("shore")
    assert places(yard) == before | {"A1 2": "open"}
    yard.check("shore")
    yard.act(yard.acts.runs.resume)
    assert places(yard) == before
    yard.press("shore", "80.3")
    assert (yard.readings()[-1]["zone"], yard.readings()[-1]["replicate"]) == ("A1", 2)


def test_a_place_that_was_gone_to_is_the_next_after_a_restart(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.runs.go_to("A2", 2, at))
    go_on(yard)
    assert places(yard)["A2 2"] == "next"


def test_a_voided_place_comes_before_the_others_after_a_restart_as_it_did_before(
    yard: Yard,
) -> None:
    yard.press("shore", "80.1")
    yard.press("shore", "81.2")
    first = cast(int, yard.readings("role = 'run'")[0]["reading_id"])
    yard.act(lambda at: yard.acts.readings.void(first, "slipped", at))
    before = places(yard)
    assert before["A1 1"] == "next"
    go_on(yard)
    assert places(yard) == before
    yard.press("shore", "80.1")
    assert places(yard)["A1 2"] == "next"


def test_a_failed_check_opens_its_suspects_and_leaves_skipped_what_was_skipped(yard: Yard) -> None:
    yard.act(yard.acts.runs.skip)
    yard.press("shore", "81.2")
    yard.check("shore", tile="99.0")
    assert places(yard) == {"A1 1": "skipped", "A2 1": "next", "A1 2": "open", "A2 2": "open"}


def test_a_move_that_leads_nowhere_is_no_move(yard: Yard) -> None:
    yard.act(yard.acts.runs.back)
    yard.act(lambda at: yard.acts.runs.go_to("A1", 1, at))
    assert yard.writer.query("SELECT * FROM move") == []
    yard.act(yard.acts.runs.skip)
    (row,) = yard.writer.query("SELECT * FROM move")
    assert tuple(row)[3:9] == ("skip", "A1", 1, "A2", 1, 4)


def test_a_hand_that_goes_elsewhere_leaves_what_was_voided_before_for_later(yard: Yard) -> None:
    yard.press("shore", "80.1")
    void(yard, last_id(yard))
    yard.act(lambda at: yard.acts.runs.go_to("A2", 2, at))
    yard.press("shore", "81.2")
    void(yard, last_id(yard))
    assert places(yard)["A2 2"] == "next"
    yard.press("shore", "81.3")
    assert places(yard) == {"A1 1": "next", "A2 1": "open", "A1 2": "open", "A2 2": "filled"}


def test_the_reading_taken_last_is_taken_again_before_others_that_are_void(yard: Yard) -> None:
    yard.press("shore", "80.1")
    first = last_id(yard)
    yard.press("shore", "81.2")
    yard.press("shore", "80.3")
    third = last_id(yard)
    void(yard, first)
    void(yard, third)
    assert places(yard)["A1 2"] == "next"
    go_on(yard)
    assert places(yard)["A1 2"] == "next"
    yard.press("shore", "80.2")
    assert places(yard)["A1 1"] == "next"
    yard.press("shore", "80.1")
    assert places(yard)["A2 2"] == "next"


def test_a_whole_stretch_that_is_void_is_read_anew_in_the_order_of_the_plan(yard: Yard) -> None:
    for value in ("80.1", "81.2", "80.3"):
        yard.press("shore", value)
    numbers = [cast(int, row["reading_id"]) for row in yard.readings("role = 'run'")]
    for number in numbers:
        void(yard, number)
    assert places(yard)["A1 1"] == "next"
    go_on(yard)
    assert places(yard)["A1 1"] == "next"


def test_a_skipped_place_stays_skipped_over_a_void_its_retake_and_a_restart(yard: Yard) -> None:
    yard.press("shore", "80.1")
    first = last_id(yard)
    yard.press("shore", "81.2")
    yard.act(yard.acts.runs.skip)
    void(yard, first)
    yard.press("shore", "80.2")
    before = places(yard)
    assert before == {"A1 1": "filled", "A2 1": "filled", "A1 2": "skipped", "A2 2": "next"}
    go_on(yard)
    assert places(yard) == before


def test_what_is_lost_while_a_run_is_interrupted_comes_first_when_it_goes_on(yard: Yard) -> None:
    yard.press("shore", "80.1")
    first = last_id(yard)
    yard.press("shore", "81.2")
    yard.restart()
    yard.plug("shore")
    void(yard, first)
    yard.check("shore")
    yard.act(yard.acts.runs.resume)
    assert places(yard)["A1 1"] == "next"
    yard.press("shore", "80.2")
    before = places(yard)
    assert before["A1 2"] == "next"
    go_on(yard)
    assert places(yard) == before


def test_a_voided_place_that_is_assigned_while_a_run_waits_is_left_as_it_is_live(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.press("shore", "80.0")
    loose = yard.readings("role = 'loose'")[-1]["reading_id"]
    yard.clock.advance(1)
    yard.begin()
    yard.press("shore", "80.1")
    first = last_id(yard)
    yard.act(yard.acts.runs.skip)
    yard.press("shore", "80.3")
    void(yard, first)
    yard.restart()
    yard.plug("shore")
    yard.act(
        lambda at: yard.acts.readings.assign(
            cast(int, loose), "gelcoat", None, "A1", "bare", 1, "same spot", at
        )
    )
    yard.check("shore")
    yard.act(yard.acts.runs.resume)
    after = places(yard)
    yard.close()
    assert after == {"A1 1": "filled", "A2 1": "skipped", "A1 2": "filled", "A2 2": "next"}


@pytest.mark.parametrize("is_restarted", [False, True], ids=["live", "restarted"])
@pytest.mark.parametrize(
    ("lost", "then"),
    [
        ("check", "A1 1"),
        ("last", "A1 2"),
        ("first, last", "A1 2"),
        ("last, first", "A1 1"),
        ("check, last", "A1 1"),
    ],
)
def test_what_is_lost_comes_back_while_a_run_waits_in_the_order_of_a_run_under_way(
    yard: Yard, lost: str, then: str, is_restarted: bool
) -> None:
    for value in ("80.1", "80.2", "80.3"):
        yard.clock.advance(1)
        yard.press("shore", value)
    taken = {
        "first": cast(int, yard.readings("role = 'run'")[0]["reading_id"]),
        "last": last_id(yard),
    }
    if is_restarted:
        yard.restart()
        yard.plug("shore")
    for how in lost.split(", "):
        yard.clock.advance(1)
        if how == "check":
            yard.check("shore", tile="99.0")
        else:
            void(yard, taken[how])
    yard.check("shore")
    if is_restarted:
        yard.act(yard.acts.runs.resume)
    assert places(yard)[then] == "next"


def void(yard: Yard, reading_id: int) -> None:
    yard.act(lambda at: yard.acts.readings.void(reading_id, "slipped", at))


def last_id(yard: Yard) -> int:
    return cast(int, yard.readings("role = 'run'")[-1]["reading_id"])


class Hand:
    """Draws what a person at the bench does in a run of two angles, and does it."""

    def __init__(self, yard: TwoAngleYard, seed: int) -> None:
        self._yard = yard
        self._draw = random.Random(seed)

    def act(self) -> None:
        yard, draw = self._yard, self._draw
        kinds = ["press", "press", "press", "half", "skip", "back", "go to", "void", "last", "late"]
        kind = draw.choice([*kinds, "check"] if draw.random() < 0.3 else kinds)
        open_now = [name for name, state in places(yard).items() if state != "filled"]
        if kind == "press":
            yard.press_both("20.5", "60.5")
        elif kind == "half":
            yard.press_both(*draw.choice([("20.5", None), ("----", "60.5"), (None, "60.5")]))
        elif kind == "check":
            yard.check("shore", tile="99.0")
            yard.check("shore")
        elif kind in ("void", "last"):
            held = [cast(int, q["reading_id"]) for q in yard.readings("counts = 1")]
            if held:
                void(yard, held[-1] if kind == "last" else draw.choice(held))
        elif kind == "skip":
            yard.act(yard.acts.runs.skip)
        elif kind == "back":
            yard.act(yard.acts.runs.back)
        elif open_now:
            zone, replicate = draw.choice(open_now).split()
            if kind == "go to":
                yard.act(lambda at: yard.acts.runs.go_to(zone, int(replicate), at))
            else:
                self._assign(zone, int(replicate))

    def _assign(self, zone: str, replicate: int) -> None:
        loose = self._yard.readings("role = 'loose' AND value IS NOT NULL")
        if loose:
            reading_id = cast(int, self._draw.choice(loose)["reading_id"])
            with suppress(Refused):
                self._yard.act(
                    lambda at: self._yard.acts.readings.assign(
                        reading_id, "gelcoat", None, zone, "bare", replicate, "its place", at
                    )
                )


def order_of(course: Course) -> list[tuple[Target, str]]:
    """The order in which a course fills what is open of it."""
    order: list[tuple[Target, str]] = []
    while (target := course.next) is not None:
        for channel in course.wanted(target):
            course.fill(channel, Filling(1_000_000 + len(order), 1.0))
            order.append((target, channel))
    return order


@pytest.mark.parametrize("seed", range(40))
def test_whatever_was_done_a_run_goes_on_after_a_restart_as_it_would_have(
    tmp_path: Path, seed: int
) -> None:
    yard = TwoAngleYard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin(text=TWO_ANGLES.replace("replicates = 2", "replicates = 3"))
    hand = Hand(yard, seed)
    for _ in range(2 + seed % 12):
        hand.act()
    if seed % 4 == 0:
        go_on(yard)
        for _ in range(3):
            hand.act()
    before, run = places(yard), yard.desk.run
    go_on(yard)
    assert places(yard) == before
    assert run is not None
    assert yard.desk.run is not None
    assert yard.desk.run.last_filled == run.last_filled
    assert order_of(yard.desk.run.course) == order_of(run.course)
    yard.close()
