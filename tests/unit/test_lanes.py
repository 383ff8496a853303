"""What waits for the recorder: in order, bounded, and nobody behind somebody else's flood."""

from __future__ import annotations

import threading

from acquire.model import Batch, Chunk, Instant, Noise
from acquire.pipeline.lanes import GROUP_LIMIT, LANE_LIMIT, SHARE, Lanes, cost
from acquire.supervise import Scope
from tests.patience import PATIENCE_S

AT = Instant(10**18, 10**12)


def batch(instrument: str, number: int = 1, facts: int = 0) -> Batch:
    noise = Noise(AT, b"", 0, 0, "nothing")
    return Batch(instrument, number, facts=(noise,) * facts)


def taken(lanes: Lanes[str]) -> list[str]:
    return [
        item if isinstance(item, str) else f"{item.instrument}{item.connection}"
        for item in lanes.take(0)
    ]


def test_everything_is_taken_in_the_order_in_which_it_came() -> None:
    lanes: Lanes[str] = Lanes()
    for item in ("a1", "b1", "call", "a2", "b2"):
        if item == "call":
            assert lanes.call(item, 0)
        else:
            assert lanes.put(batch(item[0], int(item[1])), 0)
    assert taken(lanes) == ["a1", "b1", "call", "a2", "b2"]
    assert taken(lanes) == []


def test_an_instrument_that_floods_lets_the_others_go_first_after_its_share() -> None:
    lanes: Lanes[str] = Lanes()
    for number in range(1, 6):
        assert lanes.put(batch("f", number, SHARE // 2), 0)
    assert lanes.put(batch("q", 1), 0)
    assert taken(lanes) == ["f1", "f2", "q1", "f3", "f4", "f5"]


def test_a_call_is_taken_after_everything_before_it_and_before_everything_after() -> None:
    lanes: Lanes[str] = Lanes()
    for number in range(1, 4):
        lanes.put(batch("f", number, SHARE), 0)
    lanes.call("void the last", 0)
    lanes.put(batch("q", 1), 0)
    assert taken(lanes) == ["f1", "f2", "f3", "void the last", "q1"]


def test_one_group_has_a_limit_that_a_single_batch_may_exceed() -> None:
    lanes: Lanes[str] = Lanes()
    lanes.put(batch("f", 1, 2 * GROUP_LIMIT), 0)
    lanes.put(batch("f", 2), 0)
    assert taken(lanes) == ["f1"]
    assert taken(lanes) == ["f2"]


def test_a_full_lane_refuses_and_the_others_do_not() -> None:
    lanes: Lanes[str] = Lanes()
    assert lanes.put(batch("f", 1, LANE_LIMIT), 0)
    assert not lanes.put(batch("f", 2), 0)
    assert lanes.put(batch("q", 1), 0)
    assert lanes.call("status", 0)
    assert taken(lanes) == ["f1"]
    assert lanes.put(batch("f", 2), 0)


def test_bytes_weigh_too_so_that_a_lane_is_bounded_in_memory() -> None:
    assert cost(Batch("f", 1, received=Chunk(0, bytes(65536), AT))) == 257


def test_who_waits_for_room_gets_it_when_something_is_taken() -> None:
    lanes: Lanes[str] = Lanes(lane_limit=2)
    lanes.put(batch("f", 1, 1), 0)
    got: list[bool] = []
    with Scope(lambda name, error: None) as scope:
        scope.start("f", lambda: got.append(lanes.put(batch("f", 2, 1), 10)))
        while not got:
            lanes.take(0.01)
    assert got == [True]


def test_after_closing_nothing_comes_in_and_what_waits_is_still_taken() -> None:
    lanes: Lanes[str] = Lanes(lane_limit=2)
    lanes.put(batch("f", 1, 1), 0)
    refused: list[bool] = []
    waiting = threading.Event()
    with Scope(lambda name, error: None) as scope:
        scope.start("f", lambda: (waiting.set(), refused.append(lanes.put(batch("f", 2, 1), 10))))
        waiting.wait(PATIENCE_S)
        lanes.close()
    assert refused == [False]
    assert not lanes.is_done
    assert not lanes.call("late", 0)
    assert taken(lanes) == ["f1"]
    assert lanes.is_done
